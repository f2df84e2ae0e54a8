"""Rows of the tables, every cell read and checked: pulls.csv to drafts of pulls, readings.csv to further numbers."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from doe.day.cell_units import unit_key
from doe.day.columns.day_times import day_times
from doe.day.columns.decimal_signs import NumberColumn, columns_beside, known_decimals, number_columns
from doe.day.configuration import find_factor, match_level
from doe.day.log.comparing import without_cut_off
from doe.day.names import name_key, taken_together
from doe.day.pull_columns import FRESH, KEPT, KEPT_BETWEEN, PullColumn, column_names, every_column
from doe.day.records import Draft, Run
from doe.day.schema import Configuration, DayFile
from doe.day.tables import CellReader, CsvTable, Row, converted, has_text, parse_count, read_table
from doe.errors import InputError

READINGS_CSV = "readings.csv"
# These can't be negative or 0; a column of the tester's own may be.
_ABOVE_ZERO = ("power", "torque")


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
        self._note_units()
        self.times = day_times(table.column("time"), day.day.date, day.turn)
        self._levels: dict[str, dict[str, str]] = {factor.name: {} for factor in day.factor}

    def drafts(self) -> list[Draft]:
        """Every row that is sound; what is wrong in the others is in `reader.faults`."""
        if self.reader.faults:
            return []
        plain = self._plain_drafts()
        if plain is not None:
            return plain
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

    def _plain_drafts(self) -> list[Draft] | None:
        """The rows, read column by column; None where a cell is faulty, or a number or level blank.

        Then they are read one by one, which is slower, and says what is wrong where, or fills in what the plan says.
        """
        try:
            numbers = converted(self.table.column("pull"), parse_count)
            cells = [self._column(column) for column in every_column() if column.name != "pull"]
            levels = [converted(self.table.column(name), partial(self._level, name)) for name in self._levels]
            values = [converted(self.table.column(name), partial(self._number, name)) for name in self.numeric]
        except (ValueError, InputError):
            return None
        if self.times.faults or len(set(numbers) - {None}) < len(numbers) or any(None in column for column in levels):
            return None
        names = [column.name for column in every_column() if column.name != "pull"]
        named = ((self._levels, levels), (self.numeric, values), (names, cells))
        rows = (_by_row(titles, columns, len(numbers)) for titles, columns in named)
        return [self._plain_draft(number, *row) for number, *row in zip(numbers, *rows, strict=True)]

    def _column(self, column: PullColumn) -> Sequence[Any]:
        """What the cells of a column say that every day has."""
        if column.name == "time":
            return self.times.moments
        found = converted(self.table.column(column.name), column.read)
        return [column.blank if one is None else one for one in found]

    def _plain_draft(self, number: Any, levels: dict[str, Any], values: dict[str, Any], cells: dict[str, Any]) -> Draft:
        """One row; a blank count is what the plan says, a blank number is left out."""
        planned = self.runs.get(cells["run"]) if cells["run"] else None
        cells["count"] = cells["count"] or (planned.count if planned else "yes")
        return Draft(number, levels, {name: value for name, value in values.items() if value is not None}, cells)

    def _header_faults(self) -> list[str]:
        """Columns that are missing or stand there twice."""
        came = self.day.came
        needed = [factor.name for factor in self.day.factor if factor.name not in came]
        known = [*came, *column_names(), *self.day.log.columns]
        return self.table.header_faults([*needed, self.day.metric.name], known)

    def _note_doubts(self) -> None:
        """Columns whose numbers could be two, once each."""
        for name, column in self.columns.items():
            rows = self.table.rows if column.doubt else ()
            doubtful = [row for row in rows if column.is_doubtful(self.table.cell(row, name))]
            if doubtful:
                self.reader.fault(doubtful[0], name, column.doubt)

    def _note_units(self) -> None:
        """The metric in another unit than the day's: a wrong number everywhere."""
        name, unit = self.day.metric.name, self.columns[self.day.metric.name].unit
        if unit and self.day.metric.unit and unit_key(unit) != unit_key(self.day.metric.unit):
            what = f"its cells are in {unit}, day.toml has the metric in {self.day.metric.unit}"
            self.reader.faults.append(f"{self.table.name}, column '{name}': {what}")

    def _draft(self, row: Row, number: int, at: int) -> Draft:
        """The row at this place."""
        cells = self._cells(row, at, first=True)
        planned = self.runs.get(cells["run"]) if cells["run"] else None
        configuration = self._configuration(row, number, planned)
        values = self._readable_values(row) if number in self.void else self._values(row)
        cells |= self._cells(row, at, first=False)
        cells["count"] = cells["count"] or (planned.count if planned else "yes")
        return Draft(number, configuration, values, cells)

    def _cells(self, row: Row, at: int, *, first: bool) -> dict[str, Any]:
        """The cells before the parts and the numbers, or after them: faults are told in the order of the columns."""
        columns = [column for column in every_column() if column.first == first and column.name != "pull"]
        return {
            column.name: self._moment(row, at) if column.name == "time" else self._cell(row, column)
            for column in columns
        }

    def _cell(self, row: Row, column: PullColumn) -> Any:
        """What a cell of a column says that every day has."""
        found = self.reader.read(row, column.name, column.read)
        return column.blank if found is None else found

    def _moment(self, row: Row, at: int) -> dt.datetime | None:
        """The time of the row at this place, as the whole column is read."""
        if at in self.times.faults:
            self.reader.fault(row, "time", self.times.faults[at])
        return self.times.moments[at]

    def _configuration(self, row: Row, number: int, planned: Run | None) -> Configuration:
        """What was fitted; a blank cell means the level of the planned run, before a part came its baseline."""
        found = {}
        for factor in self.day.factor:
            level = self.reader.read(row, factor.name, partial(self._level, factor.name))
            if level is None and not self.table.cell(row, factor.name):
                level = planned.configuration.get(factor.name) if planned else None
                if level is None and not number < (factor.from_pull or 0):
                    step = ", or its step in 'run'; add the column where there is none" if factor.from_pull else ""
                    expected = f"{' or '.join(factor.levels)}{step}"
                    self.reader.fault(row, factor.name, f"the cell is blank; expected {expected}")
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


def _by_row(names: Collection[str], columns: Sequence[Sequence[Any]], rows: int) -> Iterable[dict[str, Any]]:
    """Columns, row by row, each with the names of its cells."""
    return (dict(zip(names, row, strict=True)) for row in (zip(*columns, strict=True) if names else [()] * rows))


def numbered_rows(table: CsvTable) -> Iterator[tuple[Row, int]]:
    """Each row of pulls.csv with its pull number; a blank one counts on."""
    number = 0
    for row in table.rows:
        try:
            number = parse_count(table.cell(row, "pull"))
        except ValueError:
            number += 1
        yield row, number


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


@dataclass
class Readings:
    """Further numbers of each pull, and the parts that were fitted afresh before one, or stayed on over night."""

    values: dict[int, dict[str, float]] = field(default_factory=lambda: defaultdict(dict))
    fresh: dict[int, str] = field(default_factory=dict)
    kept: dict[int, tuple[str, ...]] = field(default_factory=dict)  #: parts that stayed on since the day before


def read_readings(folder: Path, day: DayFile, faults: list[str], logged: Sequence[Mapping[str, str]] = ()) -> Readings:
    """Read readings.csv; a later row replaces an earlier one of the same pull and name.

    `logged`: the rows that the journal has; a last row that was cut off in one of them is left to it.
    """
    readings = Readings()
    reader = table_reader(folder / READINGS_CSV, ("pull", "name", "value"), faults, logged)
    if reader is None:
        return readings
    own = {name_key(name): name for name in (day.metric.name, *day.log.columns)}
    table = reader.table
    cells: dict[str, list[str]] = defaultdict(list)
    for row in table.rows:
        cells[name_key(table.cell(row, "name"))].append(table.cell(row, "value"))
    columns = columns_beside(cells, known_decimals(table, day.files.decimal))
    for row in table.rows:
        number, name = reader.read(row, "pull", parse_count), table.cell(row, "name")
        if number is None:
            continue
        if name_key(name) == FRESH:
            factor = reader.read(row, "value", lambda text: find_factor(day, text).name)
            readings.fresh.update({number: factor} if factor else {})
        elif name_key(name) == KEPT:
            parts = reader.read(row, "value", partial(kept_parts, day)) or ()
            readings.kept[number] = tuple(dict.fromkeys((*readings.kept.get(number, ()), *parts)))
        else:
            column, name = columns[name_key(name)], own.get(name_key(name), name)
            value = reader.read(row, "value", partial(_reading, name, column))
            readings.values[number].update({} if value is None else {name: value})
    return readings


def kept_parts(day: DayFile, text: str) -> tuple[str, ...]:
    """The refit parts that a reading `kept` names: one, or several with semicolons between.

    Raises
    ------
    ValueError
        A part that is not refitted, so that there is nothing to keep.
    """
    names = {factor.name for factor in day.refit_factors}
    parts = [text] if text in names else [part for part in text.split(KEPT_BETWEEN.strip()) if part.strip()]
    found = tuple(find_factor(day, part.strip()).name for part in parts)
    for name in found:
        if name not in names:
            raise ValueError(f"'{name}' has no refit = true in day.toml: there is no fitting of it that stays on")
    return found


def _reading(name: str, column: NumberColumn, text: str) -> float:
    """A reading that its name allows."""
    return check_sign(name, column.read(text))


def table_reader(
    path: Path, columns: Sequence[str], faults: list[str], logged: Sequence[Mapping[str, str]]
) -> CellReader | None:
    """A reader of a small table, None where there is none, or its header is not sound (what is wrong is noted).

    Parameters
    ----------
    logged : sequence of mapping
        The rows that the journal has: a last row that was cut off in one of them is left out.
    """
    if not (has_text(path) if logged else path.is_file()):
        return None
    try:
        table = without_cut_off(read_table(path, cut_off=bool(logged)), logged)
    except InputError as error:
        faults.extend(error.faults)
        return None
    faults.extend(wrong := table.header_faults(columns, ()))
    return None if wrong else CellReader(table, faults)
