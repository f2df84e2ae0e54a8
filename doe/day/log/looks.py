"""looks.csv, the ledger of risk: every verdict that was shown, early looks too, and what each question spent.

The journal has each as an event, with what it was made from; looks.csv is the view of it that people read. What the
table has and the journal hasn't comes from the program's first version, or from a journal that was lost, and counts.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import Any

from doe.day.log.events import append_together, events_of
from doe.day.log.marks.ledger_names import EARLY, FINAL, LOOKS_CSV
from doe.day.names import name_key
from doe.day.storage import write_atomically
from doe.day.tables import CellReader, CsvTable, Row, csv_text, has_text, parse_count, parse_number, read_table
from doe.errors import InputError
from doe.words.day import folder_notes
from doe.words.notes import Note

_FIRST_VERSION = ("look", "time", "pulls", "installs", "information", "risk_spent", "final")
_HEADER = (*_FIRST_VERSION, "factor", "level", "number", "risk", "verdict")
CLOSE, REOPEN = "close", "reopen"
"""The events of a day's being closed, in the line of the verdict that closed it, and opened again; both with `look`."""
_ALTERED = ("voided", "gone", "counted", "mended")
_CLOSES, _BY_ITSELF = "yes", "by itself"


@dataclass(frozen=True, slots=True)
class Told:
    """What one question was told."""

    factor: str
    level: str
    number: (
        int | None
    )  #: which final verdict on it this is, or an early look on the way to it; None: it had no interval
    risk: float | None  #: two-sided, of the family, at which it was judged
    spent: float  #: 0 where the same pulls were judged before
    verdict: str
    shown: str = ""  #: as it was shown: the word with its clause, gain and bracket; "" where it isn't kept


@dataclass(frozen=True, slots=True)
class Seen:
    """What a verdict was made from, on one of its days."""

    days: int  #: judged together
    metric: str  #: with its unit: the verdicts on another one are other questions
    logged: frozenset[int]  #: numbers of all pulls that were in the log, void ones too
    counted: Mapping[int, str]  #: number of each pull that counted -> digest of what it said
    asked: str  #: digest of what day.toml says that a verdict hangs on


@dataclass(frozen=True, slots=True)
class Altered:
    """What was altered since an earlier verdict besides that pulls were added: it costs nothing, and stands."""

    since: str  #: time of that verdict
    voided: tuple[int, ...] = ()
    gone: tuple[int, ...] = ()  #: pulls that are not in the log any more
    counted: tuple[int, ...] = ()  #: pulls that count again
    mended: tuple[int, ...] = ()  #: pulls that say something else
    asked: bool = False  #: day.toml

    def __bool__(self) -> bool:
        return bool(self.voided or self.gone or self.counted or self.mended or self.asked)


@dataclass(frozen=True, slots=True)
class Look:
    """Verdicts that were shown together: an early look, or final ones."""

    look: int  #: 1 for the first that this folder's ledger holds
    time: str  #: ISO 8601; the same in the ledgers of all days that were judged together
    pulls: int  #: counted pulls of this day that it saw
    installs: int
    information: float  #: share of the planned information
    risk_spent: float  #: the most that a question spent
    final: bool  #: no early look
    closes: bool = False  #: no more pulls: what comes later is logged and left out
    told: tuple[Told, ...] = ()  #: () in a table of the first version, which holds one row for all questions
    seen: Seen | None = None  #: None where the journal hasn't it
    altered: Altered | None = None
    reopened: str = ""  #: when the day that it closed was opened again (ISO 8601); "" where it wasn't
    followed_by: int = 0  #: the later look that tells of it, where the journal has no reopening; 0: nothing is missing

    def to(self, factor: str, level: str) -> Told | None:
        """What a question was told; None where it wasn't asked."""
        if not self.told:
            return Told(factor, level, 1, self.risk_spent, self.risk_spent, "")
        asked = name_key(factor), name_key(level)
        return next((one for one in self.told if (name_key(one.factor), name_key(one.level)) == asked), None)


def read_looks(folder: Path) -> list[Look]:
    """Read the ledger of a day folder, oldest first.

    Raises
    ------
    InputError
        Every fault of the table, with its row and column.
    """
    events = [look for look in (_of_event(e.payload) for e in events_of(folder, EARLY, FINAL)) if look]
    known = {look.look for look in events}
    opened = {event.payload.get("look"): event.at for event in events_of(folder, REOPEN)}
    looks = [
        replace(look, reopened=opened[look.look]) if look.closes and look.look in opened else look
        for look in (*_of_table(folder / LOOKS_CSV, known), *events)
    ]
    return _opened_by_later(sorted(looks, key=lambda look: look.look), known)


def _opened_by_later(looks: Sequence[Look], in_journal: Collection[int]) -> list[Look]:
    """The ledger with the reopenings that a lost journal had, as later verdicts in the table tell of them.

    No closed day is closed once more, or has a verdict of a higher number, or one on more pulls.
    """
    found = []
    for at, look in enumerate(looks):
        lost = look.closes and not look.reopened and look.look not in in_journal
        later = next((one for one in looks[at + 1 :] if lost and _goes_on(look, one)), None)
        found.append(replace(look, reopened=later.time, followed_by=later.look) if later else look)
    return found


def _goes_on(closing: Look, later: Look) -> bool:
    """Whether a later verdict can only be one on a day that was opened again."""
    return later.final and (later.closes or later.pulls > closing.pulls or _number(later) > _number(closing))


def _number(look: Look) -> int:
    return max((one.number or 0 for one in look.told), default=0)


def write_look(folder: Path, look: Look) -> Sequence[Note]:
    """Add to the ledger: to the journal, then to the table. Call it under the lock of the folder.

    Returns
    -------
    sequence of Note
        What is to be said of the journal's copy on another disk, and of a table that lags behind the journal.

    Raises
    ------
    DoeError, OSError
        The folder can't be written in.
    """
    before = read_looks(folder)
    closed = [(CLOSE, {"look": look.look})] if look.closes else []
    written = append_together(folder, [*closed, (FINAL if look.final else EARLY, _payload(look))])
    try:
        _write_table(folder, [*before, look])
    except OSError as error:  # it is in the ledger all the same; the next one writes the table
        return [*written.mirrored.notes, folder_notes.looks_not_written(LOOKS_CSV, error.strerror or str(error))]
    return written.mirrored.notes


def bring_up_looks(folder: Path) -> list[str]:
    """Write the table where the journal has more; what was put back, in words. Call it under the lock of the folder.

    Raises
    ------
    InputError
        The table can't be read.
    OSError
        It can't be written.
    """
    path = folder / LOOKS_CSV
    looks = read_looks(folder)
    table = read_table(path) if has_text(path) else None
    here = {table.cell(row, "look") for row in table.rows} if table else set()
    lost = [look.look for look in looks if str(look.look) not in here]
    if lost:
        _write_table(folder, looks)
    return [folder_notes.looks_put_back(LOOKS_CSV, lost)] * bool(lost)


def _write_table(folder: Path, looks: Iterable[Look]) -> None:
    write_atomically(folder / LOOKS_CSV, csv_text(_HEADER, [row for one in looks for row in _rows(one)]))


def _rows(look: Look) -> Iterable[tuple[str, ...]]:
    """One row a question; one in all for a look of the first version."""
    final = (_CLOSES if look.closes else _BY_ITSELF) * look.final
    begin = (str(look.look), look.time, str(look.pulls), str(look.installs), repr(look.information))
    if not look.told:
        yield (*begin, repr(look.risk_spent), final, "", "", "", "", "")
    for one in look.told:
        number, risk = ("" if x is None else repr(x) for x in (one.number, one.risk))
        yield (*begin, repr(one.spent), final, one.factor, one.level, number, risk, one.verdict)


def _of_table(path: Path, known: Collection[int]) -> list[Look]:
    """What the table has beside what is known: that isn't read, whatever a spreadsheet has made of it."""
    if not has_text(path):
        return []
    table = read_table(path)
    reader = CellReader(table, table.header_faults(_FIRST_VERSION, _HEADER))
    if reader.faults:
        raise InputError(reader.faults)
    numbers = [reader.read(row, "look", parse_count) for row in table.rows]
    read = [_of_row(reader, table, row) for number, row in zip(numbers, table.rows, strict=True) if number not in known]
    if reader.faults:
        raise InputError(reader.faults)
    looks = []
    for _, same in groupby(filter(None, read), key=lambda one: one[0].look):
        rows = list(same)
        told = tuple(one for _, one in rows if one is not None)
        looks.append(_with(rows[0][0], told))
    return looks


def _with(look: Look, told: Sequence[Told]) -> Look:
    spent = max((one.spent for one in told), default=look.risk_spent)
    return Look(
        look.look, look.time, look.pulls, look.installs, look.information, spent, look.final, look.closes, tuple(told)
    )


def _of_row(reader: CellReader, table: CsvTable, row: Row) -> tuple[Look, Told | None] | None:
    """A row: the look, and what its question was told."""
    numbers = [reader.read(row, name, parse_count) for name in ("look", "pulls", "installs")]
    shares = [reader.read(row, name, _share) for name in ("information", "risk_spent")]
    if None in numbers or None in shares:
        reader.fault(row, "look", "a number is missing in this row; expected what `doe judge` wrote")
        return None
    count, pulls, installs = (int(x or 0) for x in numbers)
    information, spent = (float(x or 0) for x in shares)
    final = table.cell(row, "final")
    look = Look(
        count, table.cell(row, "time"), pulls, installs, information, spent, bool(final), final == _CLOSES
    )  # fmt: skip
    factor = table.cell(row, "factor")
    if not factor:
        return look, None
    number, risk = reader.read(row, "number", parse_count), reader.read(row, "risk", _share)
    return look, Told(factor, table.cell(row, "level"), number, risk, spent, table.cell(row, "verdict"))


def _share(text: str) -> float:
    """A share, with a decimal point or comma: none is so large that its thousands could be parted."""
    return parse_number(text, "," if "," in text else ".")


def _payload(look: Look) -> dict[str, Any]:
    """A look as the journal has it."""
    content: dict[str, Any] = {
        "look": look.look,
        "time": look.time,
        "pulls": look.pulls,
        "installs": look.installs,
        "information": look.information,
        "final": look.final,
        "closes": look.closes,
        "told": [
            {"factor": t.factor, "level": t.level, "number": t.number, "risk": t.risk, "spent": t.spent,
             "verdict": t.verdict, **({"shown": t.shown} if t.shown else {})}
            for t in look.told
        ],
    }  # fmt: skip
    if look.seen is not None:
        counted = {str(number): text for number, text in look.seen.counted.items()}
        content["seen"] = {
            "days": look.seen.days, "metric": look.seen.metric, "logged": spans(look.seen.logged), "counted": counted,
            "asked": look.seen.asked,
        }  # fmt: skip
    if look.altered:
        lists = {name: list(getattr(look.altered, name)) for name in _ALTERED}
        content["altered"] = {"since": look.altered.since, **lists, "asked": look.altered.asked}
    return content


def _of_event(content: Mapping[str, Any]) -> Look | None:
    """A look that the journal has; None where a later version wrote it otherwise."""
    try:
        told = tuple(Told(**one) for one in content["told"])
        seen = altered = None
        if "seen" in content:
            made = content["seen"]
            counted = {int(number): text for number, text in made["counted"].items()}
            seen = Seen(made["days"], made["metric"], numbers_in(made["logged"]), counted, made["asked"])
        if "altered" in content:
            made = content["altered"]
            voided, gone, counted_again, mended = (tuple(made[name]) for name in _ALTERED)
            altered = Altered(made["since"], voided, gone, counted_again, mended, made["asked"])
        return Look(
            content["look"], content["time"], content["pulls"], content["installs"], content["information"],
            max((one.spent for one in told), default=0.0), content["final"], content["closes"], told, seen, altered,
        )  # fmt: skip
    except (KeyError, TypeError, ValueError, AttributeError):
        return None


def spans(numbers: Iterable[int]) -> str:
    """Numbers as people write many of them: "1-24 26"."""
    found: list[list[int]] = []
    for number in sorted(numbers):
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return " ".join(f"{a}-{b}" if b > a else str(a) for a, b in found)


def numbers_in(text: str) -> frozenset[int]:
    """The numbers of `spans`."""
    ends = [[int(end) for end in part.split("-")] for part in text.split()]
    return frozenset(number for end in ends for number in range(end[0], end[-1] + 1))
