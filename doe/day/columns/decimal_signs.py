"""Numbers of a column: a point or a comma may part decimals or thousands, and the column as a whole says which."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

from doe.day.cell_units import split_unit, unit_key
from doe.day.tables import CsvTable, is_comma_number, is_point_number, parse_number, plain_number

_WHOLE = re.compile(r"[+-]?\d+")
_OPEN = re.compile(r"[+-]?[1-9]\d{0,2}([.,])\d{3}")  # 3.000: three, or three thousand
_GROUPED = {
    ".": re.compile(r"[+-]?[1-9]\d{0,2}(\.\d{3})+(,\d*)?"),
    ",": re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d*)?"),
}
_OTHER = {".": ",", ",": "."}
_PER_CENT = "%"
_A_SHARE = 10.0  # times smaller than every cell in per cent: nearer to their hundredth; engineering choice
_NAMES = {".": "point", ",": "comma"}
_UNGROUPED_DIGITS = 4  # a whole number of so many digits shows that thousands are not parted


class NumberColumn(NamedTuple):
    """How the numbers of one column are read."""

    thousands: str = ""  #: the sign that parts thousands: it is dropped
    doubt: str = ""  #: what allows two readings, in words; "" where nothing does
    doubtful: str = ""  #: the first cell that does
    unit: str = ""  #: beside the numbers in the cells: one for all; a cell without one is taken to be in it
    least: float = 0.0  #: of cells in per cent: a bare one far below may be their hundredth, 0.95 for 95 %

    @classmethod
    def of(cls, texts: Iterable[str], beside: Iterable[str] = (), known: str = "") -> NumberColumn:
        """Take a column's kind from all its cells.

        Parameters
        ----------
        texts : iterable of str
            The cells; what is no number says nothing.
        beside : iterable of str
            Cells of the other columns: asked where the column doesn't say by itself.
        known : str
            Decimal signs that the file is known to be written with, asked last: "," where semicolons part its
            columns.
        """
        texts = list(texts)
        if any(not text[-1:].isdigit() for text in texts if text):
            parts = [split_unit(text) for text in texts]
            unit = next((unit for _, unit in parts if unit), "")
            if unit:
                sizes = [_size(number) for number, own in parts if own == unit == _PER_CENT]
                least = min(filter(None, sizes), default=0.0)
                return cls.of([number for number, _ in parts], beside, known)._replace(unit=unit, least=least)
        if _plainly_points(texts):
            return cls()
        cells = [plain_number(text) for text in texts]
        first = {match[1]: cell for cell in reversed(cells) if (match := _OPEN.fullmatch(cell))}
        thousands = [sign for sign in _OTHER if any(_parts_thousands(cell, sign) for cell in cells)]
        decimals = _decimals(cells)
        around = _decimals(map(plain_number, beside)) if first else set()
        for sign, cell in first.items():
            if thousands == [sign] and sign not in decimals:
                continue
            if why := _doubt(sign, cells, thousands, decimals, around, known):
                return cls("", _two_readings(cell, sign, why), cell)
        return cls(thousands[0] if len(thousands) == 1 else "")

    def read(self, text: str) -> float:
        """A finite number.

        Raises
        ------
        ValueError
            What is expected instead.
        """
        if self.unit:
            text = self._without_unit(text)
        if not self.thousands and not self.doubt:
            return parse_number(text, "," if "," in text else ".")
        plain = plain_number(text)
        if self.thousands and _GROUPED[self.thousands].fullmatch(plain):
            return parse_number(plain.replace(self.thousands, ""), _OTHER[self.thousands])
        if self.is_doubtful(text):
            raise ValueError(self.doubt)
        return parse_number(text, "," if "," in plain else ".")

    def _without_unit(self, text: str) -> str:
        """The number of a cell.

        Raises
        ------
        ValueError
            It has another unit than the cells before, or none and may be a share where they are in per cent.
        """
        number, unit = split_unit(text)
        if not unit and 0 < _A_SHARE * _size(number) < self.least:
            raise ValueError(f"'{text}' beside cells in {_PER_CENT}: write the sign in all of the column, or in none")
        if unit and unit_key(unit) != unit_key(self.unit):
            raise ValueError(f"'{text}' beside cells in {self.unit}: expected one unit in the column")
        return number

    def is_doubtful(self, text: str) -> bool:
        """Whether this cell is one of those that allow two readings."""
        if self.unit:
            text = split_unit(text)[0]
        return bool(self.doubt) and _OPEN.fullmatch(plain_number(text)) is not None


def _size(number: str) -> float:
    """About how large a number is, 0 where it is none."""
    try:
        return abs(float(plain_number(number).replace(",", ".")))
    except ValueError:
        return 0.0


def number_columns(table: CsvTable, names: Sequence[str], decimal: str) -> dict[str, NumberColumn]:
    """How each of these columns of a day's table is read; `decimal` is the sign that its day.toml names."""
    cells = {name: [table.cell(row, name) for row in table.rows] for name in names}
    return columns_beside(cells, known_decimals(table, decimal))


def known_decimals(table: CsvTable, decimal: str = "") -> str:
    """The decimal signs that a table may be expected to have: who parts columns by semicolons, has decimal commas."""
    told = table.dialect.decimal or decimal
    return told + ("," if table.dialect.delimiter == ";" and "," not in told else "")


def columns_beside(cells: Mapping[str, Sequence[str]], known: str) -> dict[str, NumberColumn]:
    """How each column is read, with the others beside it."""
    return {
        name: NumberColumn.of(own, (text for other, texts in cells.items() if other != name for text in texts), known)
        for name, own in cells.items()
    }


def _plainly_points(texts: Sequence[str]) -> bool:
    """Whether decimal points stand there and no comma, as in most tables: known without a look at every cell."""
    if any("," in text or text.count(".") > 1 for text in texts):
        return False
    return any("." in text and is_point_number(text) and not _OPEN.fullmatch(text) for text in texts)


def _parts_thousands(cell: str, sign: str) -> bool:
    """Whether the sign can't be a decimal one here: 1.234,5 and 1.234.567."""
    return sign in cell and _GROUPED[sign].fullmatch(cell) is not None and _OPEN.fullmatch(cell) is None


def _decimals(cells: Iterable[str]) -> set[str]:
    """The signs that can't but be decimal in some cell."""
    found = set()
    for cell in cells:
        if _OPEN.fullmatch(cell):
            continue
        for sign, is_number in ((".", is_point_number), (",", is_comma_number)):
            if sign in cell and (is_number(cell) or _parts_thousands(cell, _OTHER[sign])):
                found.add(sign)
    return found


def _doubt(
    sign: str,
    cells: Sequence[str],
    thousands: Sequence[str],
    decimals: Collection[str],
    around: Collection[str],
    known: str,
) -> str:
    """Why a cell such as 3.000 can be two numbers; "" where the sign is a decimal one."""
    other = _OTHER[sign]
    if sign in thousands:
        return "the column has both kinds"
    if sign in decimals:
        return f"decimal {_NAMES[other]}s stand beside it" if other in decimals and sign not in known else ""
    if other in thousands:
        return ""
    if other in decimals:
        return f"decimal {_NAMES[other]}s stand beside it"
    if sign in around or (sign in known and other not in around):
        return ""
    if other in around:
        return f"decimal {_NAMES[other]}s stand in other columns"
    if sign == ",":
        return "no other number of the table has a decimal comma"
    if other in known and sign not in known:
        return "semicolons part the columns, as where decimals have commas"
    return "" if _as_decimals(cells) else "whole numbers stand beside it"


def _as_decimals(cells: Sequence[str]) -> bool:
    """Whether points are decimal where nothing but whole numbers stand beside: 431 and 431.125, not 950 and 1.020."""
    whole = [cell for cell in cells if _WHOLE.fullmatch(cell)]
    if not whole or any(len(cell.lstrip("+-")) >= _UNGROUPED_DIGITS for cell in whole):
        return True
    sizes = [abs(float(cell)) for cell in whole]
    parted = [abs(float(cell)) for cell in cells if _OPEN.fullmatch(cell) and "." in cell]
    return _spread([*sizes, *parted]) <= _spread([*sizes, *(1000 * size for size in parted)])


def _spread(sizes: Sequence[float]) -> float:
    """The largest over the smallest that is not 0."""
    seen = [size for size in sizes if size]
    return max(seen, default=1.0) / min(seen, default=1.0)


def _two_readings(cell: str, sign: str, why: str) -> str:
    """Words and a remedy."""
    decimal, thousand = float(cell.replace(",", ".")), cell.replace(sign, "")
    return (
        f"{cell} could be {decimal:g} or {thousand} ({why}); write thousands without the {_NAMES[sign]} ({thousand}),"
        f" decimals with one more digit ({cell}0)"
    )
