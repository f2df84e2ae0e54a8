"""Whether the engine still makes its number, in a line, with what to do about it."""

from __future__ import annotations

from typing import Literal, Protocol

from doe.words.numbers import with_unit

_TO_DO = {
    "steady": "",
    "drifting": "; a steady drift is allowed for, an uneven one is not: let the engine come to rest, and come back to"
    " the baseline more often",
    "off": "; find out why before the next part is fitted (temperatures, fuel, air, sensors, something loose), then"
    " pull the baseline again",
}


class Check(Protocol):
    """The last baseline set of a day."""

    @property
    def word(self) -> Literal["steady", "drifting", "off"] | None: ...
    @property
    def mean(self) -> float: ...
    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...
    @property
    def usual(self) -> tuple[float, float] | None: ...
    @property
    def is_usual(self) -> bool | None: ...
    @property
    def opens(self) -> bool: ...


def baseline_line(check: Check, unit: str) -> str:
    """What is said of it; "" where nothing is known."""
    made = with_unit(f"{check.mean:.4g}", unit)
    if check.usual is not None and check.opens:
        usual = f"{made}, usual {check.usual[0]:.4g} to {check.usual[1]:.4g}"
        if check.is_usual:
            return f"the engine makes its usual number: {usual}"
        return f"the engine does not make its usual number: {usual}{_TO_DO['off']}"
    if check.word is None or check.low is None or check.high is None:
        return ""
    band = f"the last baseline set made {made}, those before it say {check.low:.4g} to {check.high:.4g}"
    return f"{check.word}: {band}{_TO_DO[check.word]}"
