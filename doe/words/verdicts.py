"""The four verdicts, and what is said of the size of each. The words stand here and nowhere else in the code."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

Verdict = Literal["real gain", "real loss", "no difference that matters", "not settled"]
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


def size_words(verdict: Verdict, low: float, high: float, smallest: float, unit: str) -> str | None:
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
    """
    worth = f"{smallest:g} {unit}".rstrip()
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
