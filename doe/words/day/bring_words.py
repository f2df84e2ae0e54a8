"""What must lie ready for a day, and what it costs: the sentences of plan, run sheet and report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from doe.words.numbers import several, two_figures, with_unit
from doe.words.phrases import wrapped

_EACH = ", besides what is on when the engine arrives"


class Quantity(Protocol):
    """An amount of a material."""

    @property
    def amount(self) -> float: ...
    @property
    def unit(self) -> str: ...


class Fittings(Protocol):
    """How often a level is fitted, and what that takes."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def times(self) -> int: ...
    @property
    def material(self) -> Quantity | None: ...


class QuestionCost(Protocol):
    """What the answer to one question costs."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def cost(self) -> float: ...


class Cost(Protocol):
    """What some hours in the cell cost."""

    @property
    def currency(self) -> str: ...
    @property
    def cell(self) -> float: ...
    @property
    def material(self) -> float: ...
    @property
    def total(self) -> float: ...
    @property
    def questions(self) -> Sequence[QuestionCost]: ...


class Needs(Protocol):
    """What some steps of a plan take."""

    @property
    def fittings(self) -> Sequence[Fittings]: ...
    @property
    def material(self) -> Sequence[Quantity]: ...
    @property
    def pulls(self) -> int: ...
    @property
    def changeovers(self) -> int: ...
    @property
    def parts_moved(self) -> int: ...
    @property
    def hours(self) -> float: ...
    @property
    def cost(self) -> Cost | None: ...


def money(size: float, currency: str) -> str:
    """``1240 EUR``, ``3.50 EUR``: cents only where they count."""
    return with_unit(f"{size:.0f}" if abs(size) >= 10 else f"{size:.2f}", currency)


def fitting_lines(fittings: Sequence[Fittings], baseline: Mapping[str, str]) -> list[str]:
    """How often each level is fitted and what that takes.

    Parameters
    ----------
    fittings : sequence of Fittings
    baseline : mapping
        What is on when the engine arrives, by part; empty once the day has begun.
    """
    return [_fitting(one, baseline) for one in fittings]


def _fitting(one: Fittings, baseline: Mapping[str, str]) -> str:
    amount = f", {_amount(one.material)}" if one.material else ""
    arrives = _EACH if baseline.get(one.factor) == one.level else ""
    return f"{one.factor} {one.level}: for {several(one.times, 'fitting')}{amount}{arrives}"


def _amount(quantity: Quantity) -> str:
    return with_unit(f"{quantity.amount:.6g}", quantity.unit)


def work_line(needs: Needs) -> str:
    """Material in all, pulls, changeovers and hours."""
    parts = [f"{_amount(one)} in all" for one in needs.material] if len(needs.fittings) > 1 else []
    parts.append(f"{several(needs.pulls, 'pull')} at full load")
    if needs.changeovers:
        parts.append(f"{several(needs.changeovers, 'changeover')} with {several(needs.parts_moved, 'part')} moved")
    return "; ".join([*parts, f"{two_figures(needs.hours)} hours in the cell"])


def cost_line(cost: Cost) -> str:
    """What the hours cost, and each answer."""
    parts = [f"the cell {money(cost.cell, cost.currency)}"] if cost.cell else []
    parts += [f"material {money(cost.material, cost.currency)}"] if cost.material else []
    split = f" ({', '.join(parts)})" if len(parts) > 1 else ""
    each = ", ".join(f"{one.factor} {one.level} {money(one.cost, cost.currency)}" for one in cost.questions)
    answers = f". Of that each answer: {each}" if len(cost.questions) > 1 else ""
    return f"It costs {money(cost.total, cost.currency)}{split}{answers}"


def bring_block(needs: Needs, baseline: Mapping[str, str]) -> list[str]:
    """What to bring, as a block of the plan."""
    lines = [*fitting_lines(needs.fittings, baseline), work_line(needs)]
    lines += [cost_line(needs.cost)] if needs.cost else []
    return ["Bring", *(piece for line in lines for piece in wrapped(line, 2))]


def bring_line(needs: Needs, baseline: Mapping[str, str]) -> str:
    """The same in a line of its own, without pulls and hours; "" where nothing is fitted and nothing costs."""
    parts = [
        line.replace(_EACH, " besides what is on").replace(": for ", " for ")
        for line in fitting_lines(needs.fittings, baseline)
    ]
    cost = f"It costs {money(needs.cost.total, needs.cost.currency)}." if needs.cost else ""
    return " ".join(filter(None, (f"Bring {'; '.join(parts)}." if parts else "", cost)))


def asking_cost(
    cost: float, currency: str, price: float | None, per_unit: tuple[float, float, float] | None, unit: str
) -> str:
    """What an answer cost and, with the part's price, what the part costs for each unit of gain.

    Parameters
    ----------
    cost : float
    currency : str
    price : float, optional
        Of the part.
    per_unit : (float, float, float), optional
        Price for each unit of gain: at the gain found, and from the most to the least that its interval has; None where
        no gain was found.
    unit : str
        Of the gain.
    """
    text = f"Its answer cost {money(cost, currency)}"
    if price is None or per_unit is None:
        return f"{text}."
    best, low, high = (money(size, currency) for size in per_unit)
    return f"{text}; at {money(price, currency)} the part costs {best} for each {unit} ({low} to {high})."
