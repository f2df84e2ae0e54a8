"""What gain curves are: the gain of each change at each rpm, its band, and the pulls' own curves."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

from doe.analysis.judging.curves.zones import Zone
from doe.errors import InputError
from doe.words.judgements.curve_words import curve_parts
from doe.words.notes import Note, in_document
from doe.words.result import Result
from doe.words.screen import Screen
from doe.words.verdicts import HIGHER, Better

Numbers = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class GainCurve:
    """Gain of one change at each rpm, in the curves' `gain_unit`."""

    factor: str
    level: str
    route: str  #: as of the verdict
    gain: Numbers | None = None  #: None where the pulls don't determine it
    se: Numbers | None = None  #: None where there is no band, like everything below
    low: Numbers | None = None  #: band that holds at all rpm at once, at `confidence`; per change, not over the family
    high: Numbers | None = None
    single_low: Numbers | None = None  #: at one rpm alone: read as a curve it covers far too little
    single_high: Numbers | None = None
    confidence: float | None = None
    df: float | None = None  #: degrees of freedom of the band
    critical: float | None = None  #: what the standard errors are multiplied with in the band
    roughness: float | None = None  #: integral of sqrt(lambda) over the range
    effective_bins: float | None = None  #: bins' worth of independent scatter
    widened: float | None = None  #: the verdict's interval over the metric's plain Kenward-Roger one; at least 1
    smallest_gain: float | None = None  #: in the curves' unit; None where it was stated of something else
    zones: tuple[Zone, ...] = ()  #: what the band says where, from the lowest rpm up
    notes: tuple[Note, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """One entry of "changes"; its notes stand in the document's."""
        return {name: value for name, value in asdict(self).items() if name != "notes"}


@dataclass(frozen=True, slots=True)
class PullCurve:
    """One pull's own curve, corrected for the air where the day is."""

    pull: str  #: its number, with its day's name where there are several
    on: tuple[str, ...]  #: changes that were on; none: the baseline
    values: Numbers  #: in the curves' `unit`


@dataclass(frozen=True, slots=True, repr=False)
class Curves(Result):
    """The gain curves of a day or a campaign."""

    quantity: str  #: "power" or "torque"
    unit: str
    gain_unit: str  #: "%" where gains are a share of the baseline at that rpm
    step_rpm: float
    better: Better = HIGHER  #: "lower": the gains of the zones are decreases
    width_rpm: float | None = None  #: what the mean at each rpm is taken over; None where there are no curves
    rpm: Numbers = ()  #: middles of the bins
    changes: tuple[GainCurve, ...] = ()
    pulls: tuple[PullCurve, ...] = ()
    notes: tuple[Note, ...] = ()

    def only(self, factor: str, level: str | None = None) -> Curves:
        """The same with one change, or the changes of one factor.

        Raises
        ------
        InputError
            There is no such change.
        """
        kept = tuple(one for one in self.changes if one.factor == factor and level in (None, one.level))
        if not kept:
            names = ", ".join(f"{one.factor} {one.level}" for one in self.changes) or "none"
            raise InputError(f"curves: no change {' '.join(filter(None, (factor, level)))}; there are: {names}")
        return replace(self, changes=kept)

    @property
    def all_notes(self) -> tuple[Note, ...]:
        """The notes of the whole, then those of each change."""
        return (*self.notes, *(note for change in self.changes for note in change.notes))

    def to_dict(self) -> dict[str, Any]:
        """Full precision: "curves" of ``doe judge --curve --json``."""
        return {
            "quantity": self.quantity,
            "unit": self.unit,
            "gain_unit": self.gain_unit,
            "better": self.better,
            "step_rpm": self.step_rpm,
            "width_rpm": self.width_rpm,
            "rpm": self.rpm,
            "changes": [change.to_dict() for change in self.changes],
            "pulls": [asdict(pull) for pull in self.pulls],
            **in_document(self.all_notes),
        }

    def to_frame(self) -> Any:
        """One tidy row a change and rpm (a pandas DataFrame)."""
        import pandas as pd

        numbers = ("gain", "se", "low", "high", "single_low", "single_high")
        rows = [
            {"factor": change.factor, "level": change.level, "rpm": rpm}
            | {name: None if (of := getattr(change, name)) is None else of[place] for name in numbers}
            for change in self.changes
            for place, rpm in enumerate(self.rpm)
        ]
        frame = pd.DataFrame(rows, columns=["factor", "level", "rpm", *numbers])
        frame.attrs["units"] = dict.fromkeys(numbers, self.gain_unit) | {"rpm": "rpm"}
        return frame

    def to_text(self) -> str:
        """Where in the range each change gains, in words, and the band at some rpm."""
        first, *more = curve_parts(self)
        return Screen(str(first), tuple(more)).plain()
