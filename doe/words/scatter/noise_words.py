"""What is said of noise after one day or thousands: numbers as the pull SD bears them, and the shared sentences."""

from __future__ import annotations

import math
from dataclasses import dataclass

from doe.words.numbers import digits_for, signed, with_unit
from doe.words.significance import NOTABLE


@dataclass(frozen=True, slots=True)
class Figures:
    """Writes the numbers of one metric, with its unit."""

    pull_sd: float  #: two figures of it are shown
    unit: str

    def __call__(self, value: float, *, sign: bool = False, unit: bool = True) -> str:
        """``204.37 hp``, ``+0.12 hp``; "unknown" for NaN."""
        if math.isnan(value):
            return "unknown"
        word = self.unit if unit else ""
        return signed(value, self._digits, word) if sign else with_unit(f"{value:.{self._digits}f}", word)

    def found(self, value: float, *, sign: bool = True) -> str:
        """Something that was found: with two figures where those of the scatter would make it 0."""
        digits = self._digits if round(value, self._digits) else digits_for(abs(value))
        return signed(value, digits, self.unit) if sign else with_unit(f"{value:.{digits}f}", self.unit)

    @property
    def _digits(self) -> int:
        """After the point."""
        return 2 if self.pull_sd <= 0 else max(0, 1 - math.floor(math.log10(self.pull_sd)))


def drift_word(p: float) -> str:
    """Whether a drift is one."""
    return "a real drift" if p < NOTABLE else "not to be told from none"


def wander_bound_line(show: Figures, at_most: float | None, loudest: float, *, saved: bool) -> str:
    """The wander that is left possible; `loudest` where not even that can be excluded."""
    if at_most is None:
        return f"  Nothing can be excluded: not even {show(loudest)}. --save-to writes no wander."
    use = "--save-to writes that bound" if saved else "too much to be worth stating, so --save-to writes none"
    return f"  More than {show(at_most)} can be excluded (19 times in 20): {use}."


def wander_comment(*, looked_for: bool, seen: bool, at_most: float | None, stated: bool) -> str:
    """What stands beside [noise] of wander (in its unit): seen, bounded, or what could not be excluded."""
    if not looked_for:
        return "wander: not looked for"
    if seen:
        return "wander: seen"
    if at_most is None:
        return "wander: of any size could not be excluded"
    return f"wander: up to {at_most:.2g} could not be excluded{', stated as that bound' if stated else ', not stated'}"


def neighbours_line(lag1: float | None) -> list[str]:
    """How neighbouring pulls go together; nothing where that can't be told."""
    if lag1 is None:
        return []
    return [f"Neighbouring pulls of one fitting go together with a correlation of {lag1:+.2f}."]


def steps_alike(what: str) -> str:
    """Why no scatter is to be seen: drift, or a change, says all that differs inside the fittings; and what to do."""
    return (
        f"the readings step alike inside every fitting, so {what} can't be told from scatter; read one digit more, or"
        " make more pulls a fitting"
    )
