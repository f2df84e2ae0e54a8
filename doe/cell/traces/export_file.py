"""An export as columns of numbers: parsed as declared, each fault with its line, nothing guessed in silence."""

from __future__ import annotations

import codecs
import csv
import re
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from doe.cell.traces.export_numbers import Array, Form, all_at_once, body_of, lines_of, one_by_one, refuse_wide
from doe.cell.traces.layout import CORE, Layout, units_of
from doe.errors import InputError

#: A longer file is no pull: ten minutes of thirty channels at 1,000 Hz fit.
LARGEST_MB = 150
LARGEST = int(LARGEST_MB * 1e6)  #: bytes
DELIMITERS = (",", ";", "\t")
# A file that nobody has touched for so long is whole: the machine that writes it may have its clock a day off.
_AT_REST_S = 86_400.0
_LOOK_AGAIN_S = 0.3
_HEAD = 16_384  # bytes in which title lines, header, unit row and the first numbers stand
_MEASURABLE = 1e15  # more than the milliseconds since 1970, the largest number that loggers write
_COMMA = re.compile(r"[+-]?\d*,\d+")


@dataclass(frozen=True, slots=True)
class Columns:
    """What stands in the file, in its own units; empty cells are NaN."""

    file: str
    values: Mapping[str, Array]  #: our name -> shape (rows,)
    units: Mapping[str, str]

    @property
    def rows(self) -> int:
        """Rows of numbers."""
        return len(next(iter(self.values.values())))


def read_columns(path: Path, layout: Layout) -> Columns:
    """Read the mapped columns of one export.

    Parameters
    ----------
    path : Path
        The file.
    layout : Layout
        How it is written.

    Raises
    ------
    InputError
        No file, an empty one, one that is too large (its size is looked at first), a column that is missing, text in
        a number, or a last line that was cut off.
    """
    return parse_columns(read_bytes(path), layout, path.name)


def refuse_growing(path: Path) -> None:
    """Wait a moment for a file that was written just now, and refuse it where it goes on growing.

    Raises
    ------
    InputError
        It is still being written.
    """
    before = path.stat()
    if abs(time.time() - before.st_mtime) > _AT_REST_S:
        return
    time.sleep(_LOOK_AGAIN_S)
    after = path.stat()
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        raise InputError(f"{path.name}: the file is still being written; wait until the dyno has finished")


def read_bytes(path: Path) -> bytes:
    """The bytes of an export, its size looked at first.

    Raises
    ------
    InputError
        No such file, an empty one, or one that is too large.
    """
    if not path.is_file():
        raise InputError(f"{path}: there is no such file")
    size = path.stat().st_size
    if size > LARGEST:
        raise InputError(
            f"{path.name}: {size / 1e6:,.0f} MB; a pull's export has at most {LARGEST_MB}; export the one pull alone"
        )
    data = path.read_bytes()
    if not data.strip(b"\0 \t\r\n"):
        raise InputError(f"{path.name}: the file is empty; is it still being written?")
    return data


def parse_columns(data: bytes, layout: Layout, file: str) -> Columns:
    """The mapped columns of an export's bytes; raises as `read_columns`."""
    return _finished(opened(data, layout, file), data)


def parse_all(exports: Sequence[tuple[bytes, str]], layout: Layout) -> list[Columns]:
    """Several exports, each as bytes and name: as `parse_columns`, but those that are written alike in one go."""
    all_opened = [opened(data, layout, file) for data, file in exports]
    first = all_opened[0]
    bodies = [body_of(data, one.form.start) for one, (data, _) in zip(all_opened, exports, strict=True)]
    table = None
    if len(exports) > 1 and all(one.alike(first) for one in all_opened):
        table = all_at_once(b"".join(bodies), replace(first.form, start=0), list(first.places.values()))
    counts = [body.count(b"\n") for body in bodies]
    # Blank lines, or line ends within quotes, would shift the files against each other: then one by one.
    if table is None or sum(counts) != len(table[0]):
        return [_finished(one, data) for one, (data, _) in zip(all_opened, exports, strict=True)]
    ends = np.cumsum(counts)
    return [
        _checked(one, [column[end - count : end] for column in table])
        for one, count, end in zip(all_opened, counts, ends, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class Opened:
    """What the lines above the numbers say."""

    form: Form
    titles: Sequence[str]
    places: Mapping[str, int]  #: our name -> place in the row
    units: Mapping[str, str]

    def alike(self, other: Opened) -> bool:
        """Whether the numbers of both are written in the same way, in an encoding whose line ends are single bytes."""
        same_form = replace(self.form, file=other.form.file) == other.form
        return same_form and self.places == other.places and self.form.encoding != "utf-16"


def opened(data: bytes, layout: Layout, file: str) -> Opened:
    """Read what stands above the numbers; raises as `read_columns`."""
    encoding = _encoding(data)
    head = _head(data, encoding, layout.title_lines + 3)
    if len(head) <= layout.title_lines:
        raise InputError(f"{file}: {len(head)} lines; expected a header under {layout.title_lines} title lines")
    delimiter = layout.delimiter or max(DELIMITERS, key=head[layout.title_lines].count)
    titles, *under = _cells(head, layout.title_lines, delimiter)
    places = _places(layout, titles, file)
    first = under[layout.unit_row]
    refuse_wide(first, len(titles), f"{file}, line {layout.title_lines + layout.unit_row + 2}")
    unit_cells = [*under[0], *[""] * len(titles)] if layout.unit_row else [""] * len(titles)
    units = units_of(
        layout,
        {name: titles[at] for name, at in places.items()},
        {name: unit_cells[at] for name, at in places.items()},
        file,
    )
    _refuse_cut_off(data, encoding, delimiter, len(titles), file)
    decimal = layout.decimal or _decimal(first, delimiter)
    form = Form(encoding, delimiter, decimal, layout.title_lines + 1 + layout.unit_row, file, len(first) - 1)
    return Opened(form, titles, places, units)


def _finished(one: Opened, data: bytes) -> Columns:
    """The numbers of one export."""
    table = all_at_once(data, one.form, list(one.places.values()))
    return _checked(one, one_by_one(data, one.form, list(one.places.values()), one.titles) if table is None else table)


def _checked(one: Opened, table: Sequence[Array]) -> Columns:
    """Numbers that can be gone on with.

    Raises
    ------
    InputError
        There are none, or one is infinite or as good as that.
    """
    if not len(table[0]):
        raise InputError(f"{one.form.file}: no numbers under the header; is it still being written?")
    columns = Columns(one.form.file, dict(zip(one.places, table, strict=True)), one.units)
    for name in CORE:
        if name in columns.values and (beyond := np.flatnonzero(np.abs(columns.values[name]) > _MEASURABLE)).size:
            at = int(beyond[0])
            raise InputError(
                f"{one.form.file}, row {at + 1} of the numbers, column '{one.titles[one.places[name]]}':"
                f" {columns.values[name][at]:g}; expected a number that can be measured"
            )
    return columns


def _encoding(data: bytes) -> str:
    """By its byte-order mark, else UTF-8, else what Windows programs save."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if data.isascii():
        return "utf-8"
    try:
        data.decode()
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def text_of(data: bytes) -> str:
    """The whole text, whatever its encoding, with line feeds for line ends."""
    return "\n".join(lines_of(data.decode(_encoding(data), errors="replace")))


def _head(data: bytes, encoding: str, count: int) -> list[str]:
    """The first lines, the title lines among them."""
    end = 0
    for _ in range(count):
        end = data.find(b"\n", end) + 1
        if not end:
            break
    # UTF-16 has a zero behind the line end; a file with old line ends has none at all.
    return lines_of((data[: end + 1] if end else data[:_HEAD]).decode(encoding, errors="replace"))


def _cells(head: Sequence[str], at: int, delimiter: str) -> tuple[list[str], list[str], list[str]]:
    """The header's cells and those of the two lines under it."""
    lines = [*head[at : at + 3], "", ""][:3]
    first, second, third = (
        [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])] for line in lines
    )
    return first, second, third


def _places(layout: Layout, titles: Sequence[str], file: str) -> dict[str, int]:
    """Our name -> place in the row: the very title, for "t" and "T" differ; else one of other capitals and spaces."""
    faults: list[str] = []
    places: dict[str, int] = {}
    very = {at for at, title in enumerate(titles) if title in {wanted.strip() for wanted in layout.columns.values()}}
    for name, title in layout.columns.items():
        found = [at for at in very if titles[at] == title.strip()]
        found = found or [at for at, other in enumerate(titles) if at not in very and _key(other) == _key(title)]
        if len(found) == 1 and found[0] not in places.values():
            places[name] = found[0]
        elif len(found) == 1:
            first = next(other for other, at in places.items() if at == found[0])
            faults.append(f"{file}: column '{titles[found[0]]}' is taken for {first} and for {name}; expected one each")
        elif found:
            faults.append(f"{file}: column '{title}' stands there {len(found)} times; expected it once")
        else:
            faults.append(f"{file}: there is no column '{title}' for {name}; the header has {', '.join(titles)}")
    if faults:
        raise InputError(faults)
    return places


def _key(title: str) -> str:
    return " ".join(title.casefold().split())


def _decimal(cells: Sequence[str], delimiter: str) -> str:
    """A comma where the first numbers have one; a table parted by commas has none."""
    return "," if delimiter != "," and any(_COMMA.fullmatch(cell) for cell in cells) else "."


def _refuse_cut_off(data: bytes, encoding: str, delimiter: str, width: int, file: str) -> None:
    """Refuse a last line without a line end and with fewer cells than the header: it was cut off."""
    if data.endswith((b"\n", b"\r", b"\n\0", b"\r\0")):
        return
    last = lines_of(data[-_HEAD:].decode(encoding.removesuffix("-sig"), errors="replace"))[-1].strip("\0 \t")
    if last and last.count(delimiter) + 1 < width and not set(last) <= {delimiter}:
        raise InputError(f"{file}: the last line is cut off; is the file still being written?")
