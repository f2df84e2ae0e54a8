"""The files of a plan: plan.csv for people, plan.json for seed, promise and seal, orders.txt for the redrawn orders."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from doe.day.columns.decimal_signs import NumberColumn, number_columns
from doe.day.configuration import match_level
from doe.day.encoding import decode
from doe.day.files.checks import PLAN_COLUMNS
from doe.day.names import name_key
from doe.day.records import Run
from doe.day.schema import DayFile, Files
from doe.day.storage import write_atomically
from doe.day.tables import (
    CellReader,
    CsvTable,
    Dialect,
    Row,
    converted,
    csv_text,
    number_text,
    parse_count,
    parse_count_word,
    read_table,
)
from doe.errors import InputError
from doe.words.notes import Note

FORMAT = 1
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::\d{2})?")
PLAN_CSV, PLAN_JSON, ORDERS = "plan.csv", "plan.json", "orders.txt"


REPLACED, FINISH_MINUTE = "replaced", "finish_minute"  # keys of plan.json, of a plan for the rest of a day
FINISH_THEN = "finish_in_day_toml"  # the same, under it: the finish that day.toml had when that plan was made
DROPPED = "drop"  # the same, under it: the changes that get no more pulls, as the tester said
ADDED = "added"  # the same: the questions that joined the day
STILL_ON, AFTER = "still_on", "after"  # the same: parts that the plan leaves on over night; the day before it
CAMPAIGN = "campaign"  # the same, of a day that was planned together with others


@dataclass(frozen=True, slots=True)
class PlanFile:
    """A plan as it stands in its folder."""

    runs: tuple[Run, ...]
    document: dict[str, Any] = field(default_factory=dict)  #: what plan.json holds
    orders: tuple[str, ...] = ()  #: the drawn order first, one letter a slot
    notes: tuple[Note, ...] = ()  #: where its files and the journal differ

    def finish_minute(self, day: DayFile) -> float:
        """When it has to be done [min]: by the finish that was said last, in day.toml or for the rest of the day.

        A plan without the finish that day.toml had then, as earlier versions wrote it, counts as the later one.
        """
        replaced = self.document.get(REPLACED) or {}
        told, then = replaced.get(FINISH_MINUTE), replaced.get(FINISH_THEN)
        edited = then is not None and then != finish_text(day)
        return float(told) if isinstance(told, int | float) and not edited else day.length_minutes


def finish_text(day: DayFile) -> str:
    """The finish of a day as plan.json keeps it."""
    return day.day.finish.isoformat()


def write_plan(
    folder: Path,
    runs: Sequence[Run],
    document: Mapping[str, Any],
    orders: Sequence[str] | None = None,
    *,
    files: Files | None = None,
) -> None:
    """Write a plan; plan.csv comes last, so that a plan that is there is there with all its files.

    Parameters
    ----------
    folder : Path
        The day folder.
    runs : sequence of Run
        At least one.
    document : mapping
        What plan.json holds: seed, promise, seal and so on; the format version is added.
    orders : sequence of str, optional
        The orders that the plan was drawn from, the drawn one first.
    files : Files, optional
        Delimiter and decimal sign of plan.csv, [files] of day.toml.
    """
    if orders:
        write_atomically(folder / ORDERS, "".join(f"{order}\n" for order in orders))
    else:
        (folder / ORDERS).unlink(missing_ok=True)
    text = json.dumps({"format": FORMAT, **document}, ensure_ascii=False, indent=1, allow_nan=False)
    write_atomically(folder / PLAN_JSON, text + "\n")
    write_atomically(folder / PLAN_CSV, plan_csv_text(runs, files or Files()))


def plan_csv_text(runs: Sequence[Run], files: Files) -> str:
    """The runs as a table."""
    rows = plan_rows(runs, files.decimal)
    return csv_text(list(rows[0]), [list(row.values()) for row in rows], files.delimiter)


def plan_rows(runs: Sequence[Run], decimal: str = ".") -> list[dict[str, str]]:
    """Each run as the cells of its row, by column."""
    factors = list(runs[0].configuration)
    rows = []
    for run in runs:
        first = (str(run.run), run.clock, number_text(run.minute, decimal), str(run.install), str(run.stint), run.do)
        fitted = {name: run.configuration[name] for name in factors}
        rows.append({**dict(zip(PLAN_COLUMNS[:-1], first, strict=True)), **fitted, PLAN_COLUMNS[-1]: run.count})
    return rows


def runs_of_rows(rows: Sequence[Mapping[str, str]], name: str, day: DayFile | None = None) -> tuple[Run, ...]:
    """The runs that rows say, as `plan_rows` gives them.

    Raises
    ------
    InputError
        A row can't be read; `name` is what they stand in.
    """
    header = tuple(dict.fromkeys(column for row in rows for column in row))
    cells = (tuple(str(row.get(column, "")).strip() for column in header) for row in rows)
    return _read_runs(
        CsvTable(name, header, tuple(map(Row, range(2, len(rows) + 2), cells)), Dialect(decimal=".")), day
    )


def read_plan(folder: Path, day: DayFile | None = None) -> PlanFile | None:
    """Read the plan of a folder, None when there is none.

    Parameters
    ----------
    folder : Path
        The day folder.
    day : DayFile, optional
        With it the plan's parts and levels are matched with those of day.toml, also where a spreadsheet rewrote them.

    Raises
    ------
    InputError
        Every fault of plan.csv with its row and column; plan.json that is no JSON or from a newer program.
    """
    path = folder / PLAN_CSV
    if not path.is_file():
        return None
    runs = _read_runs(read_table(path), day)
    orders = read_orders(folder / ORDERS)
    return PlanFile(runs, read_document(folder / PLAN_JSON), orders)


def read_orders(path: Path) -> tuple[str, ...]:
    """The lines of orders.txt, () without one.

    Raises
    ------
    InputError
        It is no text.
    """
    return tuple(decode(path.read_bytes(), path.name).split()) if path.is_file() else ()


def read_document(path: Path) -> dict[str, Any]:
    """What plan.json holds, {} without one.

    Raises
    ------
    InputError
        It is no JSON, or from a newer program.
    """
    if not path.is_file():
        return {}
    try:
        document = json.loads(decode(path.read_bytes(), path.name))
    except json.JSONDecodeError as error:
        raise InputError(
            f"{path.name}, line {error.lineno}, column {error.colno}: {error.msg}; the file is damaged, plan again"
        ) from None
    version = document.get("format") if isinstance(document, dict) else None
    if version != FORMAT:
        raise InputError(f"{path.name}: format {version}, expected {FORMAT}; a newer program may have written it")
    return dict(document)


def _read_runs(table: CsvTable, day: DayFile | None) -> tuple[Run, ...]:
    """Every row as a run."""
    factors = _factor_columns(table, day)
    minutes = number_columns(table, ["minute"], ".")["minute"]
    plain = _plain_runs(table, factors, minutes, day)
    if plain:
        return plain
    reader = CellReader(table)
    runs = [_read_run(reader, row, factors, minutes, day) for row in table.rows]
    if not table.rows:
        reader.faults.append(f"{table.name}: there is no run in it; plan again")
    if reader.faults:
        raise InputError(reader.faults)
    return tuple(run for run in runs if run is not None)


def _plain_runs(
    table: CsvTable, factors: list[str], minutes: NumberColumn, day: DayFile | None
) -> tuple[Run, ...] | None:
    """Every row as a run, read column by column; None where a cell is blank or faulty: row by row says which."""
    levels = _level_readers(factors, day)
    try:
        columns = [
            converted(table.column(column), convert)
            for column, convert in {**_PLAIN, "minute": minutes.read, **levels}.items()
        ]
    except (ValueError, InputError):
        return None
    if any(None in column for column in columns):
        return None
    return tuple(
        Run(
            run=run, clock=clock, minute=minute, install=install, stint=stint, do=do,
            configuration=dict(zip(levels, fitted, strict=True)), count=count,
        )
        for do, (run, clock, install, stint, count, minute, *fitted) in zip(
            table.column("do"), zip(*columns, strict=True), strict=True
        )
    )  # fmt: skip


def _level_readers(factors: list[str], day: DayFile | None) -> dict[str, Callable[[str], str]]:
    """What reads the levels of each part."""
    if day is None:
        return dict.fromkeys(factors, str)
    return {factor.name: partial(match_level, factor) for factor in day.factor}


def _factor_columns(table: CsvTable, day: DayFile | None) -> list[str]:
    """The columns that hold what is fitted: those of day.toml, else all that are not fixed.

    Raises
    ------
    InputError
        Missing or doubled columns, or parts that day.toml does not have.
    """
    own = [title for title in table.header if title and name_key(title) not in PLAN_COLUMNS]
    factors = [factor.name for factor in day.factor] if day else own
    came = day.came if day else {}
    faults = table.header_faults([*PLAN_COLUMNS, *(name for name in factors if name not in came)], came)
    known = {name_key(factor) for factor in factors}
    faults += [
        f"{table.name}, row 1: column '{title}' is no part in day.toml; plan again, or take the column out"
        for title in own
        if name_key(title) not in known
    ]
    if faults:
        raise InputError(faults)
    return factors


def _read_run(
    reader: CellReader, row: Row, factors: list[str], minutes: NumberColumn, day: DayFile | None
) -> Run | None:
    """One row, None where a cell is faulty or blank (both are noted)."""

    def needed(column: str, convert: Any) -> Any:
        if not reader.table.cell(row, column):
            reader.fault(row, column, "the cell is blank; expected a value, as the plan wrote it")
        return reader.read(row, column, convert)

    # A plan of before a part came has no column for it.
    came = day.came if day else {}
    before_it_came = {name: baseline for name, baseline in came.items() if not reader.table.has(name)}
    before = len(reader.faults)
    cells = {
        "run": needed("run", parse_count),
        "clock": needed("clock", _clock),
        "minute": needed("minute", minutes.read),
        "install": needed("install", parse_count),
        "stint": needed("stint", parse_count),
        "do": reader.table.cell(row, "do"),
        "configuration": {
            name: before_it_came[name] if name in before_it_came else needed(name, convert)
            for name, convert in _level_readers(factors, day).items()
        },
        "count": needed("count", parse_count_word),
    }
    return Run(**cells) if len(reader.faults) == before else None


def _clock(text: str) -> str:
    """A clock time as the plan writes it; a spreadsheet adds seconds or takes a leading 0."""
    match = _CLOCK.fullmatch(text)
    if not match or int(match[1]) > 23 or int(match[2]) > 59:
        raise ValueError(f"'{text}': expected a clock time such as 10:42")
    return f"{int(match[1]):02d}:{match[2]}"


#: column -> what reads its cells, which must not be blank
_PLAIN: Mapping[str, Callable[[str], Any]] = {
    "run": parse_count, "clock": _clock, "install": parse_count, "stint": parse_count, "count": parse_count_word
}  # fmt: skip


def dropped_in(replaced: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """The changes that get no more pulls, of what a plan for the rest of a day says of its making: factor, level."""
    return tuple((one["factor"], one["level"]) for one in replaced.get(DROPPED) or ())


def replaced_runs(folder: Path) -> dict[int, Run]:
    """The runs of the plans that were replaced during the day, plan.1.csv and so on, by their number."""
    tables = (read_table(path) for path in sorted(folder.glob("plan.*.csv")) if path.is_file())
    return {run.run: run for table in tables for run in _read_runs(table, None)}
