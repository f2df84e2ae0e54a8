"""What an honest test of a claim would take: one frozen object."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from doe.words.claims.protocol_words import protocol_screen
from doe.words.notes import Note, in_document
from doe.words.result import Result, Shown
from doe.words.screen import Screen

POWER = 0.8  #: chance of the right verdict that is asked for, for either answer

LONGEST_HOURS = 12  #: longer days are not looked at


@dataclass(frozen=True, slots=True)
class ShortestDay:
    """The shortest day that settles a claim, whether the part gives what is claimed or nothing."""

    minutes: float  #: warm-up included
    pulls: int  #: counted
    settling_pulls: int  #: made after a change and not counted
    fittings: int
    returns: int  #: from the part to the baseline
    order: tuple[tuple[str, int], ...]  #: "before" or "after", and counted pulls, set by set
    if_real: float  #: chance of the right verdict if the part gives that gain
    if_nothing: float  #: and if it gives nothing


@dataclass(frozen=True, slots=True)
class HonestTest:
    """One claim at one scatter, in the unit of the test."""

    claim: str
    gain: float  #: that is to be told from nothing
    meaning: str  #: of that gain: worth having, usual for such parts
    pull_sd: float
    install_sd: float
    clock: str  #: minutes of pull, warm-up and changeover that were planned with, in words
    day: ShortestDay | None  #: None where no day of `LONGEST_HOURS` is long enough


@dataclass(frozen=True, slots=True, repr=False)
class HonestTests(Shown, Result):
    """What each claim of a file would have taken."""

    title: str
    unit: str
    tests: tuple[HonestTest, ...]
    notes: tuple[Note, ...]

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {"unit": self.unit, "protocols": [asdict(test) for test in self.tests], **in_document(self.notes)}

    def to_frame(self) -> Any:
        """One tidy row per claim and scatter (a pandas DataFrame)."""
        import pandas as pd

        frame = pd.json_normalize([asdict(test) for test in self.tests])
        frame.attrs["units"] = dict.fromkeys(("gain", "pull_sd", "install_sd"), self.unit) | {"day.minutes": "min"}
        return frame

    def screen(self) -> Screen:
        """How long an honest test takes, and what it is made of."""
        return protocol_screen(self, POWER, LONGEST_HOURS)
