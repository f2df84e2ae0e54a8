"""What the noise of a day means, in sentences of the report."""

from __future__ import annotations

from doe.words.numbers import of_hundred, with_unit


def one_before_one_after(name: str, size: float, chance: float, unit: str) -> str:
    """How often the usual test shows a gain that is none.

    Parameters
    ----------
    name : str
        The change that it is about.
    size : float
        The gain that it shows, or more.
    chance : float
        0 to 1, of the gain; a loss as large comes as often.
    unit : str
    """
    shown = with_unit(f"{size:g}", unit)
    return (
        f"One pull before and one after {name}, on this engine, shows a gain of {shown} or more on {of_hundred(chance)}"
        f" days when the part does nothing, and a loss as large on as many."
    )


def could_show(names: str) -> str:
    """What the day was able to see."""
    return f"The smallest gain that this day could tell from nothing: {names}."


def interval(unit: str, low: float, high: float) -> str:
    """Where a standard deviation lies."""
    return f"between {low:.2g} and {with_unit(f'{high:.2g}', unit)}, 19 times in 20"


def own_scatter(unit: str, low: float, high: float, df: float) -> str:
    """The interval of the pull SD."""
    return f"{interval(unit, low, high)} ({df:g} degrees of freedom)"
