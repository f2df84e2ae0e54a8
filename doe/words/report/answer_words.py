"""The answer to each question in one plain sentence, for a reader who knows no statistics."""

from __future__ import annotations

from doe.words.judgements.judged import Gain
from doe.words.numbers import MINUS, signed_in_print, with_unit
from doe.words.verdicts import HIGHER, NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS, Better

_BEYOND = 1e6


def answer(gain: Gain, digits: int, unit: str, better: Better = HIGHER) -> str:
    """The answer, "" where there is no interval to speak of.

    Parameters
    ----------
    gain : Gain
    digits : int
        After the point, as many as the intervals bear.
    unit : str
        Of the gain.
    better : {"higher", "lower"}
        Of the metric.
    """
    low, high, smallest = gain.family_low, gain.family_high, gain.smallest_gain
    if low is None or high is None:
        return ""
    name = f"{gain.factor} {gain.level}"
    asked = with_unit(f"{smallest:g}", unit) if smallest else ""
    if gain.verdict in (REAL_GAIN, REAL_LOSS):
        least, most = (low, high) if low > 0 else (-high, -low)
        span = _between(least, most, digits, unit)
        if gain.verdict == REAL_LOSS:
            return (
                f"{name} {f'costs {span}' if better == HIGHER else f'adds {span}, and less is better'}: a {REAL_LOSS}."
            )
        what = f"is worth {span}" if better == HIGHER else f"takes off {span}, and less is better"
        return f"{name} {what}: real{_beside(least, most, smallest, asked)}."
    if gain.verdict == NO_DIFFERENCE and gain.inner_low is not None and gain.inner_high is not None:
        # This verdict stands on the inner interval, which alone must lie inside what would count.
        span = _signed(gain.inner_low, gain.inner_high, digits, unit)
        return f"{name} makes {NO_DIFFERENCE}: within {span}, and less than {asked} either way is too little."
    best, worst = (high, low) if better == HIGHER else (-low, -high)
    open_to = (
        f", so it may be the {asked} asked for, or nothing" if smallest and worst <= 0 and best >= smallest else ""
    )
    return f"Whether {name} helps is {NOT_SETTLED}: {_signed(low, high, digits, unit)}{open_to}."


def interval_text(gain: Gain, digits: int) -> str:
    """The simultaneous interval in brackets, "" where there is none."""
    low, high = gain.family_low, gain.family_high
    return "" if low is None or high is None else f"({_signed(low, high, digits)})"


def _beside(low: float, high: float, smallest: float | None, asked: str) -> str:
    """A gain beside the one that was asked for."""
    if not smallest:
        return ""
    if low >= smallest:
        return f", and at least the {asked} asked for"
    if high < smallest:
        return f", but less than the {asked} asked for"
    return f"; whether it is the {asked} asked for is open"


def _between(low: float, high: float, digits: int, unit: str) -> str:
    return f"{low:.{digits}f} to {with_unit(f'{high:.{digits}f}', unit)}"


def _signed(low: float, high: float, digits: int, unit: str = "") -> str:
    """Limits that lie very far out, where hardly anything is known, as powers of ten."""
    if max(-low, high) >= _BEYOND:
        return with_unit(f"{low:+.0e} to {high:+.0e}".replace("-", MINUS), unit)
    return f"{signed_in_print(low, digits)} to {signed_in_print(high, digits, unit)}"
