"""looks.csv: the early looks of a day and the risk that they spent."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from doe.day.storage import write_atomically
from doe.day.tables import CellReader, csv_text, parse_count, parse_number, read_table
from doe.errors import InputError

LOOKS_CSV = "looks.csv"
_HEADER = ("look", "time", "pulls", "installs", "information", "risk_spent", "final")


@dataclass(frozen=True, slots=True)
class Look:
    """One look at the gains before (or at) the end of the plan."""

    look: int  #: 1 for the first
    time: str  #: ISO 8601
    pulls: int  #: counted pulls that it saw
    installs: int
    information: float  #: share of the planned information
    risk_spent: float  #: by this look alone
    final: bool  #: no more pulls: what comes later is logged and left out


def read_looks(folder: Path) -> list[Look]:
    """Read the looks taken so far, oldest first.

    Raises
    ------
    InputError
        Every fault of the table, with its row and column.
    """
    path = folder / LOOKS_CSV
    if not path.is_file():
        return []
    table = read_table(path)
    reader = CellReader(table, table.header_faults(_HEADER, ()))
    if reader.faults:
        raise InputError(reader.faults)
    looks = []
    for row in table.rows:
        numbers = [reader.read(row, name, parse_count) for name in ("look", "pulls", "installs")]
        shares = [reader.read(row, name, parse_number) for name in ("information", "risk_spent")]
        if None in numbers or None in shares:
            reader.fault(row, "look", "a number is missing in this row; expected what `doe judge --look` wrote")
            continue
        look, pulls, installs = (int(x or 0) for x in numbers)
        information, risk = (float(x or 0) for x in shares)
        looks.append(
            Look(look, table.cell(row, "time"), pulls, installs, information, risk, table.cell(row, "final") == "yes")
        )
    if reader.faults:
        raise InputError(reader.faults)
    return looks


def write_looks(folder: Path, looks: list[Look]) -> None:
    """Write all looks of a day, whole or not at all."""
    rows = [
        (str(x.look), x.time, str(x.pulls), str(x.installs), repr(x.information), repr(x.risk_spent), "yes" * x.final)
        for x in looks
    ]
    write_atomically(folder / LOOKS_CSV, csv_text(_HEADER, rows))
