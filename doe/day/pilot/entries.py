"""What a tester says of one pull."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from doe.day.pull_columns import said_of
from doe.day.records import Count
from doe.words.notes import Note


@dataclass(frozen=True, slots=True)
class Entry:
    """What a tester says of one pull; what is left out comes from the plan and the clock."""

    value: float | None = None  #: the metric; None for a spoiled pull, and where --redo keeps the number
    settings: Mapping[str, str] = field(default_factory=dict)  #: factor -> level, as in day.toml
    time: dt.datetime | None = None  #: its end; None: now
    time_alone: bool = False  #: its time was said without a date, and without AM or PM
    trace: str = ""
    columns: Mapping[str, Any] = field(default_factory=dict)  #: further numbers, and what else is said, by name
    note: str = ""
    count: Count | None = None
    install: int | None = None
    run: int | None = None
    fresh: str | None = None  #: refit factor whose same part was fitted again before this pull
    kept: tuple[str, ...] | None = None  #: not refitted: as the plan orders, or since the day before; () unnamed
    together: bool = False  #: made right after the one before it, with the same parts
    redo: int | None = None  #: pull that this one replaces
    spoiled: str | None = None  #: why there is no number
    unheeded: tuple[str, ...] = ()  #: options that were typed and can't be: it doesn't count until somebody answers
    told: tuple[Note, ...] = ()  #: what the reading of its trace found odd

    @property
    def said(self) -> dict[str, Any]:
        """What goes as it is into the columns of pulls.csv, by column; what is left out is not there."""
        own = {"trace": self.trace, "note": self.note}
        return {**{name: text for name, text in own.items() if text}, **said_of(self.columns)}

    @property
    def numbers(self) -> dict[str, float]:
        """The further numbers, by name."""
        said = said_of(self.columns)
        return {name: value for name, value in self.columns.items() if name not in said}
