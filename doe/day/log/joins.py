"""The small tables beside pulls.csv; here readings.csv with the further numbers of the pulls."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from doe.day.columns.decimal_signs import NumberColumn, columns_beside, known_decimals
from doe.day.configuration import find_factor
from doe.day.log.merge import FRESH, KEPT, KEPT_BETWEEN, without_cut_off
from doe.day.log.pull_rows import check_sign
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.day.tables import CellReader, has_text, parse_count, read_table
from doe.errors import InputError

READINGS_CSV = "readings.csv"


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
            value = reader.read(row, "value", partial(_number, name, column))
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


def _number(name: str, column: NumberColumn, text: str) -> float:
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
