"""A day that stands as the program wrote it, read at once: most days of an archive are, and only pulls are asked for.

Everything that would make the general reader (`DayFolder.read`) look twice makes this one give up: a table that was
edited or saved by a spreadsheet, readings, a pull that was entered late or changed, a plan that the pulls' fittings
hang on. So a folder means one thing, and this is a short way to it: `tests/analysis/archive/test_plain_day.py` holds
that both give the same, whatever was done to the folder.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

from doe.day.files.checks import PLAN_COLUMNS
from doe.day.files.planfile import ORDERS, PLAN_CSV, PLAN_JSON, read_document, read_orders
from doe.day.log.lines import JOURNAL, VERSION, checked, content_of
from doe.day.log.looks import CLOSE, REOPEN
from doe.day.log.marks.asked import DOUBT, KEEP
from doe.day.log.marks.ledger_names import EARLY, FINAL
from doe.day.log.marks.without_place import PLACED, UNPLACED
from doe.day.log.mirror.mirroring import MIRROR
from doe.day.log.planned.day_text import JOINING
from doe.day.log.planned.followed import PLAN, REPLAN
from doe.day.log.planned.plan_writing import SEAL
from doe.day.log.reading import PULLS_CSV
from doe.day.log.rows import READINGS_CSV
from doe.day.log.voids import VOIDS_CSV
from doe.day.log.writing import VOID_COLUMNS
from doe.day.pull_columns import pulls_header
from doe.day.records import Event, Pull
from doe.day.schema import DayFile
from doe.day.sheet.sheet_record import SHEET
from doe.errors import InputError

_COUNT = r"[1-9]\d{0,5}"
_TIME = r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)([+-]\d\d:\d\d)"
# With three digits behind the point it could be a thousand: a whole column has to be asked what it is.
_NUMBER = r"\d{1,7}(?:\.(?:\d{1,2}|\d{4,17}))?"
_COUNTS = "yes|settling|warm-up"
_WORDS = r"[ !#-+\--:<-{}~]*"  # nothing that parts cells, and nothing that a table's dialect is told by
#: what stands before the row in a line of one pull, of the first version or, with a list of changes, of the second
_KEYS = r'"event":"pull","key":"[\w.:+-]*","at":"[\w.:+-]*",'
_ONE_PULL = re.compile(
    rf'[0-9a-f]{{8}}\t\{{(?:"v":1,"n":[1-9]\d{{0,8}},{_KEYS}"row":|"v":2,"n":[1-9]\d{{0,8}},"prev":"[0-9a-f]{{64}}",{_KEYS}'
    r'(?:"clock":\{[^{}]*\},)?("changes":\[)\{"event":"pull","row":)'.encode()
)
#: events that say nothing of a pull; any other makes the general reader look
_BESIDE_PULLS = {
    PLAN, REPLAN, JOINING, SEAL, SHEET, MIRROR, UNPLACED, PLACED, DOUBT, KEEP, CLOSE, REOPEN, EARLY, FINAL,
}  # fmt: skip
_VOID = re.compile(f"{_COUNT},{_TIME},{_WORDS},")
_CLOCK = r"(?:[01]\d|2[0-3]):[0-5]\d"


def plain_pulls(folder: Path, day: DayFile) -> tuple[Pull, ...] | None:
    """The pulls of a day, without what testers said of them; None where the general reader is needed.

    Raises
    ------
    OSError
        A file can't be read.
    """
    names = {path.name for path in folder.iterdir()}
    if READINGS_CSV in names or any(re.fullmatch(r"plan\..*\.csv", name) for name in names):
        return None
    # With one refit part each new fitting is one of it; of several the plan tells which was ordered afresh.
    if len(day.refit_factors) > 1 or (day.files.delimiter, day.files.decimal) != (",", "."):
        return None
    rows = _rows(folder / PULLS_CSV, day) if PULLS_CSV in names else None
    voids = _voids(folder / VOIDS_CSV) if VOIDS_CSV in names else []
    if rows is None or voids is None or not _is_plan_sound(folder, names, day):
        return None
    if voids and JOURNAL not in names:
        return None
    if JOURNAL in names and not _is_logged(folder / JOURNAL, pulls_header(day), rows, voids):
        return None
    return _pulls(day, rows, {int(row[0]): row[2] for row in voids})


def _rows(path: Path, day: DayFile) -> list[tuple[str, ...]] | None:
    """The cells of each row of a table as the program writes it, else None."""
    text = _plain_text(path)
    header, _, body = text.partition("\n")
    lines = body.split("\n")[:-1]
    if header != ",".join(pulls_header(day)) or not lines:
        return None
    levels = tuple(factor.levels for factor in day.factor)
    one = _row(levels, len(day.log.columns))
    if any(one.fullmatch(line) is None for line in lines):
        return None
    rows = [tuple(line.split(",")) for line in lines]
    numbers = [int(row[0]) for row in rows]
    offsets = {row[2][19:] for row in rows}
    rising = all(before < after for before, after in pairwise(numbers))
    return rows if rising and len(offsets) == 1 else None


def _voids(path: Path) -> list[tuple[str, ...]] | None:
    """The cells of each row of voids.csv where pulls were taken out and none was taken in again, else None."""
    header, _, body = _plain_text(path).partition("\n")
    lines = body.split("\n")[:-1]
    if header != ",".join(VOID_COLUMNS) or any(_VOID.fullmatch(line) is None for line in lines):
        return None
    return [tuple(line.split(",")[:-1]) for line in lines]


def _plain_text(path: Path) -> str:
    """A file that is all ASCII and ends with a line end, "" where it isn't."""
    data = path.read_bytes()
    return data.decode("ascii") if data.isascii() and data.endswith(b"\n") else ""


@lru_cache(maxsize=64)
def _row(levels: tuple[tuple[str, ...], ...], columns: int) -> re.Pattern[str]:
    """A row of pulls.csv: number, run, time, install, parts, metric, columns, count, trace, note."""
    parts = [_one_of(names) for names in levels]
    cells = [_COUNT, f"(?:{_COUNT})?", _TIME, _COUNT, *parts, _NUMBER, *[f"(?:{_NUMBER})?"] * columns, f"(?:{_COUNTS})"]
    return re.compile(",".join([*cells, _WORDS, _WORDS]))


def _one_of(names: Sequence[str]) -> str:
    return f"(?:{'|'.join(map(re.escape, names))})"


def _is_plan_sound(folder: Path, names: set[str], day: DayFile) -> bool:
    """Whether no file of the plan would be refused, or followed otherwise than it was written."""
    if PLAN_CSV not in names:
        return True
    header, _, body = _plain_text(folder / PLAN_CSV).partition("\n")
    factors = tuple(factor.name for factor in day.factor)
    if header != ",".join([*PLAN_COLUMNS[:-1], *factors, PLAN_COLUMNS[-1]]):
        return False
    if _plan(tuple(factor.levels for factor in day.factor)).fullmatch(body) is None:
        return False
    try:
        if ORDERS in names:
            read_orders(folder / ORDERS)
        if PLAN_JSON in names:
            read_document(folder / PLAN_JSON)
    except InputError:
        return False
    return True


@lru_cache(maxsize=64)
def _plan(levels: tuple[tuple[str, ...], ...]) -> re.Pattern[str]:
    """All rows of plan.csv: run, clock, minute, install, stint, do, parts, count."""
    cells = [_COUNT, _CLOCK, _NUMBER, _COUNT, _COUNT, _WORDS, *map(_one_of, levels), f"(?:{_COUNTS})"]
    return re.compile(f"(?:{','.join(cells)}\n)+")


def _is_logged(path: Path, header: list[str], rows: list[tuple[str, ...]], voids: Sequence[tuple[str, ...]]) -> bool:
    """Whether a journal has these rows, cell by cell and in this order, or no pull; its other events are read past.

    Most lines hold one pull and are compared as they stand, by their checksum and their text.
    """
    data = path.read_bytes()
    as_json = ",".join('"{}":"%s"'.format(name.replace("%", "%%")) for name in header)
    told = [f"{{{as_json % row}}}".encode() for row in rows]
    at, taken_out = 0, []
    for line in data.split(b"\n")[:-1]:
        expected = told[at] if at < len(told) else b""
        begin = _ONE_PULL.match(line)
        ending = b"}]}" if begin and begin[1] else b"}"
        if begin and line[begin.end() :] == expected + ending and checked(line):
            at += 1
            continue
        content = content_of(line)
        if content is None or content["v"] > VERSION:
            return False
        for event in content["events"]:
            if event.event in _BESIDE_PULLS:
                continue
            if event.event == "void":
                taken_out.append(tuple(event.row.items()))
                continue
            if at == len(rows) or not _says(event, header, rows[at]):
                return False
            at += 1
    whole = (not data or data.endswith(b"\n")) and at in (0, len(rows))
    return whole and taken_out == [tuple(zip(VOID_COLUMNS, row, strict=False)) for row in voids]


def _says(event: Event, header: list[str], row: tuple[str, ...]) -> bool:
    """Whether an event logged a row as it stands; one in another's place stands where it says itself."""
    plain = event.event == "pull" and event.after is None
    return plain and list(event.row.items()) == list(zip(header, row, strict=True))


def _pulls(day: DayFile, rows: list[tuple[str, ...]], voids: dict[int, str]) -> tuple[Pull, ...] | None:
    """The pulls; None where a number or a time can't be one."""
    names, parts, begin = [day.metric.name, *day.log.columns], [factor.name for factor in day.factor], day.begin
    first, last = 4 + len(parts), 4 + len(parts) + len(names)
    fitted = {cells: dict(zip(parts, cells, strict=True)) for cells in {row[4:first] for row in rows}}
    pulls = []
    for row in rows:
        try:
            time = dt.datetime.fromisoformat(row[2][:19])
        except ValueError:
            return None
        values = {name: float(cell) for name, cell in zip(names, row[first:last], strict=True) if cell}
        if not all(values.values()):  # a power of 0 is refused
            return None
        pulls.append(
            Pull(
                number=int(row[0]),
                run=int(row[1]) if row[1] else None,
                time=time,
                minute=(time - begin).total_seconds() / 60,
                install=int(row[3]),
                configuration=fitted[row[4:first]],
                values=values,
                count=row[last],  # type: ignore[arg-type]
                void=voids.get(int(row[0])),
            )
        )
    return tuple(pulls)
