"""The rows that the day folder is made of: a planned run, a row of pulls.csv, a pull made, an event of the journal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from doe.day.clocks.stamp import Stamp
from doe.day.schema import Configuration

Count = Literal["yes", "settling", "warm-up"]
ROW_KINDS = ("pull", "void", "unvoid")
"""Events that change a table of pulls: they have a row. Those of other kinds have a payload."""


class Stint(NamedTuple):
    """A set of pulls in one configuration and one install, before it is put on the clock."""

    configuration: Configuration
    pulls: int  #: counted pulls; settling pulls follow from the changeover
    fresh: str | None = None  #: refit factor whose same part is fitted afresh before this stint


@dataclass(frozen=True, slots=True)
class Run:
    """One row of the plan."""

    run: int
    clock: str  #: "HH:MM", start of the pull
    minute: float  #: end of the pull, minutes from the day's start
    install: int  #: goes up when any refit part is changed or fitted afresh; starts at 1
    stint: int  #: goes up when configuration or install changes; starts at 1
    do: str  #: "fit oil 0W-20", "drain, refill the same 15W-50", or ""
    configuration: Configuration
    count: Count

    @property
    def counts(self) -> bool:
        """Whether its number counts."""
        return self.count == "yes"


@dataclass(frozen=True, slots=True)
class Draft:
    """A row of pulls.csv, read but not yet seen in its sequence."""

    number: int
    configuration: Configuration
    values: dict[str, float]
    cells: dict[str, Any]  #: every other column of `pull_columns` by its name

    @property
    def run(self) -> int | None:
        """The planned row that it says it fulfils."""
        return self.cells["run"]

    @property
    def moment(self) -> dt.datetime | None:
        """Its end, with an offset or without, as written."""
        return self.cells["time"]

    @property
    def install(self) -> int | None:
        """Its install, None where the cell is blank."""
        return self.cells["install"]

    @property
    def count(self) -> Count:
        """Whether it counts."""
        return self.cells["count"]


@dataclass(frozen=True, slots=True)
class Pull:
    """One pull made: a row of pulls.csv, with its readings and its void joined."""

    number: int
    run: int | None  #: the planned row that it fulfils
    time: dt.datetime | None  #: its end
    minute: float | None  #: its end, minutes from the day's start; None without a time
    install: int
    configuration: Configuration
    values: dict[str, float]  #: the metric, [log] columns and readings, by name; a missing one is absent
    count: Count
    void: str | None = None  #: why it does not count
    fresh: str | None = None  #: refit factor whose same part was fitted afresh before it
    further: Mapping[str, Any] = field(default_factory=dict)  #: columns that hold what a tester says, such as note
    redo: int | None = None  #: the earlier pull in whose place it was logged
    kept: tuple[str, ...] = ()  #: on the day's first pull: refit factors whose parts stayed on since the day before
    after: int | None = None  #: entered late: the pull that it was made after, 0 for none

    @property
    def counts(self) -> bool:
        """Whether its number counts: it was no throw-away pull, and nobody took it out."""
        return self.count == "yes" and self.void is None

    @property
    def note(self) -> str:
        """What the tester noted."""
        return str(self.further.get("note", ""))

    @property
    def trace(self) -> str:
        """The file of the trace."""
        return str(self.further.get("trace", ""))


@dataclass(frozen=True, slots=True)
class Event:
    """One change in pulls.journal: a row of a table, or something else that happened, with its payload."""

    n: int  #: of its line
    event: str  #: its kind; one that isn't known here comes from a later version, and is read past
    key: str  #: uuid
    at: str  #: ISO 8601 with offset
    row: dict[str, str] = field(default_factory=dict)
    redo: int | None = None  #: the pull in whose place this one was logged
    by_hand: bool = False  #: found in a table, and taken in
    witnessed: bool = True  #: its line is of the chain; those of version 1 are not
    payload: Mapping[str, Any] = field(default_factory=dict)  #: what happened, as JSON has it; of kinds without a row
    clock: Stamp | None = None  #: what the clocks said, where they were asked
    after: int | None = None  #: of a pull that was entered late: the pull that it was made after, 0 for none


class Changeover(NamedTuple):
    """What it takes to go from one configuration to another."""

    minutes: float
    settling_pulls: int
    refitted: tuple[str, ...]  #: refit factors that get a new fitting
