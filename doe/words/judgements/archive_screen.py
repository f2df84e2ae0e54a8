"""The verdicts of an archive on a terminal: what people read of each row."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import Literal, Protocol

from doe.words.judgements.judge_screen import TONES
from doe.words.numbers import digits_for, several, signed, span
from doe.words.phrases import listed
from doe.words.screen import Cell, Screen, grid
from doe.words.verdicts import Verdict

WHOLE = "All columns: --to FILE.csv, or pipe it; --json has them too."
_HEAD = ("day", "change", "gain", "between", "verdict")


class Row(Protocol):
    """One change of one day, or a day without verdicts."""

    @property
    def folder(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def gain(self) -> float | None: ...
    @property
    def family_low(self) -> float | None: ...
    @property
    def family_high(self) -> float | None: ...
    @property
    def verdict(self) -> Verdict | Literal[""]: ...
    @property
    def fault(self) -> str: ...


def archive_screen(rows: Sequence[Row]) -> Screen:
    """How many verdicts of each kind, and a row for each change.

    Parameters
    ----------
    rows : sequence of Row
        A day's rows follow each other.
    """
    days = len(dict.fromkeys(row.folder for row in rows))
    kinds = Counter(row.verdict or "without a verdict" for row in rows)
    counted = listed([f"{count} x {kind}" for kind, count in kinds.items()])
    named = [_row(row, before) for row, before in zip(rows, (None, *rows), strict=False)]
    table = grid(_HEAD, named, right=(2,), wraps=(0, 1, 4))
    return Screen(f"{several(days, 'day')}, each judged for itself: {counted}.", (table, WHOLE))


def _row(row: Row, before: Row | None) -> tuple[str | Cell, ...]:
    again = before is not None and before.folder == row.folder
    day = "" if again else _last_name(row.folder)
    change = f"{row.factor} {row.level}".strip()
    said = Cell(row.verdict, TONES[row.verdict]) if row.verdict else Cell(row.fault, "open")
    if row.gain is None or row.family_low is None or row.family_high is None:
        return day, change, "-", "-", said
    digits = digits_for((row.family_high - row.family_low) / 2)
    between = span(row.family_low, row.family_high, digits)
    return day, change, signed(row.gain, digits, row.unit), f"({between})", said


def _last_name(folder: str) -> str:
    """The name of a folder without the way to it."""
    return re.split(r"[\\/]", folder.rstrip("\\/"))[-1] or folder
