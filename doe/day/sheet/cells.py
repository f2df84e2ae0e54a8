"""One cell of a spreadsheet, and the number or the time that a person wrote into it."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any, Literal

from doe.day.columns.day_times import on_date, parse_moment
from doe.day.encoding import as_text
from doe.day.names import name_key, on_one_line
from doe.day.pilot.said import parse_value
from doe.day.tables import number_text
from doe.words.visible import visible

Kind = Literal["blank", "number", "text", "time", "formula", "error"]

_TWO_NUMBERS = re.compile(r"\d[\d.,]*\s*[/;&|+\s\N{EN DASH}-]+\s*\d")


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell."""

    kind: Kind = "blank"
    text: str = ""  #: as a person would type it
    value: Any = None  #: a float of a number, a time of day or a moment of a time

    @property
    def line(self) -> str:
        """The text on one line, with nothing in it that acts unseen."""
        return visible(" ".join(as_text(self.text).split()))

    @property
    def holds_two(self) -> bool:
        """Whether two numbers stand in it."""
        return self.kind == "text" and _TWO_NUMBERS.search(self.text) is not None


def cell_of(value: Any, data_type: str) -> Cell:
    """A cell from what openpyxl reads of it: the value and the letter of its type."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return Cell()
    if data_type == "f":
        return Cell("formula", on_one_line(str(value)).strip())
    if data_type == "e":
        return Cell("error", str(value))
    if isinstance(value, bool):
        return Cell("text", str(value).upper())
    if isinstance(value, int | float):
        return Cell("number", number_text(float(value)), float(value))
    if isinstance(value, dt.datetime | dt.time):
        return Cell("time", value.isoformat(timespec="minutes").replace("T", " "), value)
    return Cell("text", on_one_line(str(value)).strip())


def number_in(cell: Cell, unit: str = "") -> float | None:
    """The number of a cell, also as a text with a decimal comma or with its unit behind; None where it is none."""
    if cell.kind == "number":
        return float(cell.value)
    text = cell.line
    if unit and name_key(text).endswith(name_key(unit)) and text[: -len(unit)].strip():
        text = text[: -len(unit)].strip()
    try:
        return parse_value(text) if cell.kind == "text" else None
    except ValueError:
        return None


def moment_in(cell: Cell, date: dt.date, turn: float = 0.0) -> dt.datetime | None:
    """The time of a cell as a moment of the day, None where it is blank.

    Parameters
    ----------
    cell : Cell
    date : date
        Of the day.
    turn : float
        Times of day before it are of the date after [min since midnight].

    Raises
    ------
    ValueError
        It is no time.
    """
    if cell.kind == "blank":
        return None
    if isinstance(cell.value, dt.datetime):
        return cell.value
    if isinstance(cell.value, dt.time):
        return on_date(date, cell.value.hour * 60 + cell.value.minute + cell.value.second / 60, turn)
    if cell.kind == "number" and 0 < cell.value < 1:  # a spreadsheet's part of a day
        return on_date(date, round(cell.value * 1440), turn)
    if cell.kind != "text":
        raise ValueError(f"'{cell.line}': expected a time of day such as 10:42")
    return parse_moment(cell.text, date, turn).replace(tzinfo=None)
