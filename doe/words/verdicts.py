"""The four verdicts, and what is said of the size of each. The words stand here and nowhere else in the code.

A gain is a change minus the baseline, whatever is better. Where less is better a real gain is a decrease.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

from doe.errors import InputError

Verdict = Literal["real gain", "real loss", "no difference that matters", "not settled"]
Better = Literal["higher", "lower"]
HIGHER, LOWER = get_args(Better)
SIGNS: Mapping[Better, int] = {HIGHER: 1, LOWER: -1}  #: of what is worth having
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)
REAL_GAIN, REAL_LOSS, NO_DIFFERENCE, NOT_SETTLED = VERDICTS

#: verdict -> its key in documents and frames, which a new word must not change
KEYS: Mapping[Verdict, str] = {
    REAL_GAIN: "real_gain",
    REAL_LOSS: "real_loss",
    NO_DIFFERENCE: "no_difference",
    NOT_SETTLED: "not_settled",
}
#: verdict -> one word for a small table
MARKS: Mapping[Verdict, str] = {REAL_GAIN: "gain", REAL_LOSS: "loss", NO_DIFFERENCE: "none", NOT_SETTLED: "."}


def heading(verdict: Verdict) -> str:
    """The verdict over a narrow column: without its "that matters"."""
    return verdict.removesuffix(" that matters")


def lower_is_better(metric: str, unit: str) -> str:
    """What a gain is where less is better, before the first number is read."""
    return f"Lower is better: a gain is a decrease of {metric}{f' [{unit}]' if unit else ''}, with a minus before it."


def worth_words(smallest: float | None, unit: str, better: Better) -> str:
    """What a change does that is worth having, after "if it"."""
    worth = f"{smallest:g} {unit}".rstrip()
    return f"gives {worth}" if better == HIGHER else f"takes off {worth}"


def check_better(better: object) -> None:
    """Refuse what is neither.

    Raises
    ------
    InputError
        It is another word.
    """
    if better not in (HIGHER, LOWER):
        raise InputError(f"better: '{better}' is not known; expected {HIGHER} or {LOWER}")


def size_words(
    verdict: Verdict, low: float, high: float, smallest: float, unit: str, better: Better = HIGHER
) -> str | None:
    """How large a settled gain is beside the smallest that is worth having; None where nothing is to be added.

    Parameters
    ----------
    verdict : Verdict
    low, high : float
        The simultaneous interval.
    smallest : float
        Gain worth having.
    unit : str
        Of all three; "" where there is none.
    better : {"higher", "lower"}
    """
    worth = f"{smallest:g} {unit}".rstrip()
    if better == LOWER:
        return _size_where_less_is_better(verdict, low, high, smallest, worth)
    if verdict == REAL_GAIN:
        return (
            f"surely {worth} or more"
            if low >= smallest
            else f"a gain, but it may be less than the {worth} worth having"
        )
    if verdict == REAL_LOSS:
        return (
            f"surely a loss of {worth} or more" if high <= -smallest else f"a loss, but it may be smaller than {worth}"
        )
    if verdict == NO_DIFFERENCE and (low > 0 or high < 0):
        return "a real difference, too small to matter"
    return None


def _size_where_less_is_better(verdict: Verdict, low: float, high: float, smallest: float, worth: str) -> str | None:
    if verdict == REAL_GAIN:
        return (
            f"surely {worth} less, or lower still"
            if high <= -smallest
            else f"a gain, but it may lower it by less than the {worth} worth having"
        )
    if verdict == REAL_LOSS:
        return (
            f"surely a rise of {worth} or more"
            if low >= smallest
            else f"a loss, but the rise may be smaller than {worth}"
        )
    return size_words(verdict, low, high, smallest, "")


def may_be_small(verdict: Verdict, low: float, high: float, smallest: float, better: Better = HIGHER) -> bool:
    """Whether a real gain or loss may be less than the smallest that matters; parameters as in `size_words`."""
    sign = SIGNS[better] * {REAL_GAIN: 1, REAL_LOSS: -1}.get(verdict, 0)
    return sign != 0 and min(sign * low, sign * high) < smallest


def size_beside(verdict: Verdict, low: float, high: float, smallest: float, unit: str, better: Better = HIGHER) -> str:
    """The verdict in a column, with what its size leaves in doubt; parameters as in `size_words`."""
    if may_be_small(verdict, low, high, smallest, better):
        return f"{verdict}, maybe less than {f'{smallest:g} {unit}'.rstrip()}"
    if verdict == NO_DIFFERENCE and (low > 0 or high < 0):
        return f"{verdict}, though a real one"
    return verdict
