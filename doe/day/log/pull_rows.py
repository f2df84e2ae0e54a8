"""Rows of pulls.csv to drafts of pulls: every cell read and checked, nothing yet derived from the rows around it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import partial

from doe.day.columns.day_times import day_times
from doe.day.columns.decimal_signs import number_columns
from doe.day.configuration import match_level
from doe.day.files.checks import PULL_COLUMNS
from doe.day.names import name_key, taken_together
from doe.day.records import Count, Run
from doe.day.schema import Configuration, DayFile
from doe.day.tables import (
    CellReader,
    CsvTable,
    Row,
    parse_count,
    parse_count_word,
)

# These can't be negative or 0; a column of the tester's own may be.
_ABOVE_ZERO = ("power", "torque")


@dataclass(frozen=True, slots=True)
class Draft:
    """A row of pulls.csv, read but not yet seen in its sequence."""

    number: int
    run: int | None
    moment: dt.datetime | None  #: with an offset or without, as written
    install: int | None  #: None where the cell is blank
    configuration: Configuration
    values: dict[str, float]
    count: Count
    trace: str
    note: str


class PullRows:
    """Reads the rows of one table.

    Parameters
    ----------
    day : DayFile
        For factors, metric and [log] columns.
    runs : mapping of int to Run
        Planned runs by number: what fills a blank level or count.
    void : collection of int
        Pulls that don't count: nothing is expected of their numbers.
    """

    def __init__(self, table: CsvTable, day: DayFile, runs: Mapping[int, Run], void: Collection[int]) -> None:
        self.table, self.day, self.runs, self.void = table, day, runs, void
        self.reader = CellReader(table, self._header_faults())
        self.numeric = list(dict.fromkeys([day.metric.name, *day.log.columns]))
        self.columns = number_columns(table, self.numeric, day.files.decimal)
        self._note_doubts()
        self.times = day_times([table.cell(row, "time") for row in table.rows], day.day.date)
        self._levels: dict[str, dict[str, str]] = {factor.name: {} for factor in day.factor}

    def drafts(self) -> list[Draft]:
        """Every row that is sound; what is wrong in the others is in `reader.faults`."""
        if self.reader.faults:
            return []
        drafts: list[Draft] = []
        seen: dict[int, int] = {}
        number = 0
        for at, row in enumerate(self.table.rows):
            number = self.reader.read(row, "pull", parse_count) or number + 1
            if number in seen:
                self.reader.fault(row, "pull", f"{number} stands in row {seen[number]} already; expected a number once")
            seen.setdefault(number, row.number)
            before = len(self.reader.faults)
            draft = self._draft(row, number, at)
            drafts += [draft] if len(self.reader.faults) == before else []
        return drafts

    def _header_faults(self) -> list[str]:
        """Columns that are missing or stand there twice."""
        factors = [factor.name for factor in self.day.factor]
        return self.table.header_faults([*factors, self.day.metric.name], [*PULL_COLUMNS, *self.day.log.columns])

    def _note_doubts(self) -> None:
        """Columns whose numbers could be two, once each."""
        for name, column in self.columns.items():
            doubtful = [row for row in self.table.rows if column.is_doubtful(self.table.cell(row, name))]
            if doubtful:
                self.reader.fault(doubtful[0], name, column.doubt)

    def _draft(self, row: Row, number: int, at: int) -> Draft:
        """The row at this place."""
        run = self.reader.read(row, "run", parse_count)
        planned = self.runs.get(run) if run else None
        return Draft(
            number=number,
            run=run,
            moment=self._moment(row, at),
            install=self.reader.read(row, "install", parse_count),
            configuration=self._configuration(row, planned),
            values=self._readable_values(row) if number in self.void else self._values(row),
            count=self.reader.read(row, "count", parse_count_word) or (planned.count if planned else "yes"),
            trace=self.table.cell(row, "trace"),
            note=self.table.cell(row, "note"),
        )

    def _moment(self, row: Row, at: int) -> dt.datetime | None:
        """The time of the row at this place, as the whole column is read."""
        if at in self.times.faults:
            self.reader.fault(row, "time", self.times.faults[at])
        return self.times.moments[at]

    def _configuration(self, row: Row, planned: Run | None) -> Configuration:
        """What was fitted; a blank cell means the level of the planned run."""
        found = {}
        for factor in self.day.factor:
            level = self.reader.read(row, factor.name, partial(self._level, factor.name))
            if level is None and not self.table.cell(row, factor.name):
                level = planned.configuration.get(factor.name) if planned else None
                if level is None:
                    self.reader.fault(row, factor.name, f"the cell is blank; expected {' or '.join(factor.levels)}")
            found[factor.name] = level or factor.baseline
        return found

    def _level(self, name: str, text: str) -> str:
        """The level that a cell means, each spelling looked up once."""
        levels = self._levels[name]
        if text not in levels:
            factor = next(factor for factor in self.day.factor if factor.name == name)
            levels[text] = match_level(factor, text)
        return levels[text]

    def read_as(self) -> list[str]:
        """What was taken together, in words: spellings of one level."""
        return [line for name, levels in self._levels.items() for line in taken_together(name, levels)]

    def _values(self, row: Row) -> dict[str, float]:
        """The metric and the [log] columns; blank cells are left out."""
        found = ((column, self.reader.read(row, column, partial(self._number, column))) for column in self.numeric)
        return {column: value for column, value in found if value is not None}

    def _readable_values(self, row: Row) -> dict[str, float]:
        """The numbers of a void pull, which may be nonsense: shown where they can be read, and no fault where not."""
        noted = len(self.reader.faults)
        found = self._values(row)
        del self.reader.faults[noted:]
        return found

    def _number(self, column: str, text: str) -> float:
        """A number that its column can hold."""
        return check_sign(column, self.columns[column].read(text))


def check_sign(column: str, value: float) -> float:
    """The value, unless it is a power or torque that is not above 0.

    Raises
    ------
    ValueError
        It is one.
    """
    if value <= 0 and any(word in name_key(column) for word in _ABOVE_ZERO):
        raise ValueError(f"{value:g}: expected a number above 0")
    return value
