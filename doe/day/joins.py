"""The small tables beside pulls.csv: readings.csv with further numbers, voids.csv with the pulls that don't count."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from doe.day.configuration import find_factor
from doe.day.names import name_key
from doe.day.pull_rows import check_sign
from doe.day.schema import DayFile
from doe.day.tables import CellReader, decimal_of, parse_count, parse_number, read_table
from doe.errors import InputError

READINGS_CSV, VOIDS_CSV = "readings.csv", "voids.csv"
FRESH = "fresh"


@dataclass
class Readings:
    """Further numbers of each pull, and the parts that were fitted afresh before one."""

    values: dict[int, dict[str, float]] = field(default_factory=lambda: defaultdict(dict))
    fresh: dict[int, str] = field(default_factory=dict)


def read_readings(folder: Path, day: DayFile, faults: list[str]) -> Readings:
    """Read readings.csv; a later row replaces an earlier one of the same pull and name."""
    readings = Readings()
    reader = _reader(folder / READINGS_CSV, ("pull", "name", "value"), faults)
    if reader is None:
        return readings
    own = {name_key(name): name for name in (day.metric.name, *day.log.columns)}
    table = reader.table
    decimal = decimal_of(table.cell(row, "value") for row in table.rows)
    for row in table.rows:
        number, name = reader.read(row, "pull", parse_count), table.cell(row, "name")
        if number is None:
            continue
        if name_key(name) == FRESH:
            factor = reader.read(row, "value", lambda text: find_factor(day, text).name)
            readings.fresh.update({number: factor} if factor else {})
        else:
            name = own.get(name_key(name), name)
            value = reader.read(row, "value", partial(_number, name, decimal))
            readings.values[number].update({} if value is None else {name: value})
    return readings


def _number(name: str, decimal: str, text: str) -> float:
    """A reading that its name allows."""
    return check_sign(name, parse_number(text, decimal))


def read_voids(folder: Path, faults: list[str]) -> dict[int, str | None]:
    """Read voids.csv: pull -> why it does not count, None where that was undone; the last row of a pull stands."""
    reader = _reader(folder / VOIDS_CSV, ("pull", "why"), faults)
    if reader is None:
        return {}
    table = reader.table
    voids: dict[int, str | None] = {}
    for row in table.rows:
        number = reader.read(row, "pull", parse_count)
        if number is not None:
            voids[number] = None if table.cell(row, "undone") else table.cell(row, "why") or "no reason given"
    return voids


def _reader(path: Path, columns: tuple[str, ...], faults: list[str]) -> CellReader | None:
    """A reader of a table with a sound header, None where there is none (what is wrong is noted)."""
    if not path.is_file():
        return None
    try:
        table = read_table(path)
    except InputError as error:
        faults.extend(error.faults)
        return None
    faults.extend(wrong := table.header_faults(columns, ()))
    return None if wrong else CellReader(table, faults)
