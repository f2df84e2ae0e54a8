"""What was read of a table: rows, levels, fittings, times, unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from doe.words.judgements.table_words import reading_lines
from doe.words.result import Answer


@dataclass(frozen=True, slots=True)
class LevelRead:
    """The levels of one factor."""

    factor: str
    baseline: str
    pulls: Mapping[str, int]  #: of each level, the baseline first


@dataclass(frozen=True, slots=True, repr=False)
class TableReading(Answer):
    """What was read of a table, before anything is worked out from it."""

    source: str  #: the file and its sheet; "" for columns in memory
    rows: int  #: below the header
    pulls: int
    left_out: tuple[tuple[str, str], ...]  #: rows that are no pulls: their number, what they are
    lacking: tuple[str, ...]  #: rows that were skipped because they lack something, in words
    values: Mapping[str, tuple[float, float]]  #: the smallest and the largest reading of each column
    units: Mapping[str, str]  #: of each column of readings; "" where nobody says it
    levels: tuple[LevelRead, ...]
    fittings: int | None  #: None where nobody says
    fitted: str  #: how fittings were told, in words
    times: str  #: in words; "" without times
    days: int
    said: tuple[str, ...] = ()  #: what else a reader must know

    @property
    def unit(self) -> str:
        """Of the first readings."""
        return next(iter(self.units.values()), "")

    def lines(self) -> tuple[str, ...]:
        """What was read, in words."""
        return tuple(reading_lines(self))

    def to_text(self) -> str:
        """The lines."""
        return "\n".join(self.lines())

    def to_dict(self) -> dict[str, Any]:
        """The lines as "read", and what stands in them."""
        return {"read": list(self.lines()), **asdict(self)}
