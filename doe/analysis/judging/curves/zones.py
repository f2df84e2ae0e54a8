"""Where along the range a band says what: stretches of rpm, each with one answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from doe.words.judgements.curve_words import Said
from doe.words.verdicts import HIGHER, Better


@dataclass(frozen=True, slots=True)
class Zone:
    """A stretch of rpm where the band says one thing; both ends are bins of it."""

    from_rpm: float
    to_rpm: float
    says: Said
    follows: bool = False  #: whether it begins at the next bin after the zone before it: no gap between them


def said_at(low: float, high: float, smallest: float | None) -> Said:
    """What a band says at one rpm.

    Parameters
    ----------
    low, high : float
        The band there.
    smallest : float or None
        The gain worth having, in the same unit.
    """
    if low > 0:
        if smallest is None:
            return "gain"
        return "worth_having" if low >= smallest else "small_gain" if high < smallest else "gain"
    if high < 0:
        if smallest is None:
            return "loss"
        return "bad_loss" if high <= -smallest else "small_loss" if low > -smallest else "loss"
    return "no_difference" if smallest is not None and -smallest < low and high < smallest else "open"


def zones(
    rpm: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
    smallest: float | None,
    step: float,
    better: Better = HIGHER,
) -> tuple[Zone, ...]:
    """Stretches of neighbouring bins where the band says the same, from the lowest rpm up.

    Parameters
    ----------
    rpm, low, high : sequence of float, shape (bins,)
        Where no two bins stand further apart than `step` they are neighbours.
    smallest : float or None
    step : float
        From one bin to the next [rpm].
    better : {"higher", "lower"}
        Where less is better, a gain is a decrease.
    """
    found: list[Zone] = []
    for at, bottom, top in zip(rpm, low, high, strict=True):
        says = said_at(*((bottom, top) if better == HIGHER else (-top, -bottom)), smallest)
        beside = bool(found) and at - found[-1].to_rpm <= 1.5 * step
        if beside and found[-1].says == says:
            found[-1] = replace(found[-1], to_rpm=at)
        else:
            found.append(Zone(at, at, says, beside))
    return tuple(found)
