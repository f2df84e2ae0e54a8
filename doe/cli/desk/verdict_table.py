"""The verdicts of an archive on their way out: a table to standard output or a file, or one JSON document."""

from __future__ import annotations

import csv
import json
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import typer

from doe.cli.options import emit_screen
from doe.cli.progress import counted_bar
from doe.cli.terminal import answer
from doe.words.judgements.archive_screen import archive_screen
from doe.words.numbers import finite, several

if TYPE_CHECKING:
    from doe.analysis.archive.verdicts_of_archive import JudgedDay, VerdictRow


def print_verdicts(
    where: list[Path],
    metric: str | None,
    method: str,
    better: str | None,
    to: Path | None,
    jobs: int,
    cluster: str | None,
    *,
    as_json: bool,
) -> None:
    """Judge each day below some folders, and write row by row; exit status 1 where a folder can't be read.

    On a terminal a table of what people read takes the place of the CSV, once all days are judged.
    """
    from doe.analysis.archive.verdicts_of_archive import counting, judge_archive

    days = counting(
        judge_archive(where, metric=metric, method=method, better=better, jobs=jobs, cluster=cluster),  # type: ignore[arg-type]
        counted_bar(where),
    )  # fmt: skip
    tally: Counter[str] = Counter()
    rows = _begun(_told(days, tally))
    read_here = to is None and not as_json and sys.stdout.isatty()
    if to is not None and to.suffix.lower() == ".xlsx":
        _write_workbook(to, rows)
    elif read_here:
        emit_screen(archive_screen(list(rows)))
    elif to is not None or not as_json:
        with _file(to) as file:
            _write_csv(file, rows)
    if as_json and to is None:
        _print_json(rows)
    elif as_json:
        answer(json.dumps({"format": 1, "counts": dict(tally), "file": str(to)}, ensure_ascii=False, indent=1))
    if not read_here:
        print(_summary(tally, to), file=sys.stderr)
    if tally["broken"]:
        raise typer.Exit(1)


def _told(days: Iterator[JudgedDay], tally: Counter[str]) -> Iterator[VerdictRow]:
    """The rows, counted on their way."""
    for day in days:
        tally["days"] += 1
        tally["broken"] += day.broken
        for row in day.rows:
            if row.verdict:
                tally[row.verdict] += 1
            elif not day.broken:
                tally["without a verdict"] += 1
            yield row


def _begun(rows: Iterator[VerdictRow]) -> Iterator[VerdictRow]:
    """The same rows, the first one made: what is wrong with the whole shows before anything is written."""
    return chain([next(rows)], rows)


@contextmanager
def _file(to: Path | None) -> Iterator[TextIO]:
    if to is None:
        yield sys.stdout
        return
    from doe.day.storage import written_atomically

    with written_atomically(to) as file:
        yield file


def _write_csv(file: TextIO, rows: Iterator[VerdictRow]) -> None:
    from doe.analysis.archive.verdicts_of_archive import COLUMNS

    table = csv.writer(file, lineterminator="\n")
    table.writerow(COLUMNS)
    table.writerows(row.to_dict().values() for row in rows)


def _write_workbook(to: Path, rows: Iterator[VerdictRow]) -> None:
    from doe.analysis.archive.verdicts_of_archive import COLUMNS
    from doe.report.xlsx_table import write_xlsx

    write_xlsx(to, COLUMNS, (list(row.to_dict().values()) for row in rows))


def _print_json(rows: Iterator[VerdictRow]) -> None:
    """One document, printed as the rows come."""
    print('{"format": 1, "rows": [', end="")
    for number, row in enumerate(rows):
        print(",\n" if number else "\n", json.dumps(finite(row.to_dict()), ensure_ascii=False), end="")
    print("\n]}")


def _summary(tally: Counter[str], to: Path | None) -> str:
    parts = [f"{n} {what}" for what, n in tally.items() if what not in ("days", "broken")]
    broken = f"; {several(tally['broken'], 'folder')} that can't be read (column 'fault')" if tally["broken"] else ""
    return f"{several(tally['days'], 'day')}: {', '.join(parts) or 'no verdict'}{broken}{f'; wrote {to}' if to else ''}"
