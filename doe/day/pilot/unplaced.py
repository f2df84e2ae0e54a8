"""Numbers that were typed while the folder could not be read: logged with their time, placed once it can."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.files.which_folder import FILE_NAME
from doe.day.log.events import Written, append_event
from doe.day.log.marks.without_place import PLACED, UNPLACED
from doe.day.pilot.answers import PULL, answering
from doe.day.pilot.entries import Entry
from doe.day.pilot.said import Said, entries_of, parse_value, trace_file
from doe.day.pilot.traced.exports import keep_export
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.words.day.pull_words import unplaced_lines, witnessed_line
from doe.words.notes import Note, in_document
from doe.words.result import Answer

_OPTIONS = {"settings": "set", "columns": "column"}
SHEETS = "sheets"  #: folder in the day folder


@dataclass(frozen=True, repr=False)
class Unplaced(Answer):
    """Numbers that are on disk and have no place in the day yet."""

    what: tuple[str, ...]  #: the numbers as they were typed, or what else it was
    faults: tuple[str, ...]  #: why the folder can't be read
    written: Written

    @property
    def notes(self) -> tuple[Note, ...]:
        """What is to be said of the journal's copy on another disk."""
        return self.written.mirrored.notes

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {
            "unplaced": list(self.what),
            "time": self.written.at.isoformat(timespec="seconds"),
            "faults": list(self.faults),
            "head": self.written.head.hash,
            "disks": self.written.mirrored.disks,
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """What is logged, why it has no place, and what to do."""
        first, *rest = unplaced_lines(self.what, f"{self.written.at:%H:%M}", self.faults)
        return "\n".join([witnessed_line(first, self.written.head, self.written.mirrored.disks), *rest])


def log_unplaced(
    folder: Path,
    said: Said,
    fault: InputError,
    *,
    sheet: Path | None = None,
    sweep: int | None = None,
    now: dt.datetime | Stamp | None = None,
) -> Unplaced:
    """Log what was typed as it was typed, with its time. When this returns it is on disk.

    A trace or a filled-in sheet is copied into the folder: what its numbers are shows once the folder can be read.

    Parameters
    ----------
    folder : Path
        The day folder.
    said : Said
        The command line.
    fault : InputError
        Why the folder can't be read; it is raised again where there is no day folder, or neither number nor file.
    sheet : Path, optional
        The filled-in sheet that was handed in.
    sweep : int, optional
        Which sweep of the trace.
    now : datetime or Stamp, optional
        With offset, or what the clocks said; by default they are asked.

    Raises
    ------
    InputError
        There is no day folder, or what was typed is no number: nothing was logged.
    DoeError, UnsureError
        As `record_pulls`.
    """
    if not (folder / FILE_NAME).exists() or not (said.values or said.spoiled or said.trace or sheet):
        raise fault
    when = now or read_clock()
    for text in said.values:
        try:
            parse_value(text)
        except ValueError as wrong:
            raise InputError([str(wrong), PULL.nothing]) from None
    with answering(folder, PULL):
        told = {name: value for name, value in asdict(said).items() if value}
        file = ""
        if said.trace:
            file = told["trace"] = keep_export(folder, _found(folder, said.trace))
        if sheet is not None:
            file = told["sheet"] = keep_export(folder, sheet, SHEETS)
        more = {"sweep": sweep} if sweep is not None else {}
        payload = {"said": {**told, **more}, "faults": list(fault.faults)}
        written = append_event(folder, UNPLACED, payload, now=when, by_newer=True)
    what = said.values or ((f"what {file} holds",) if file else ("a spoiled pull",))
    return Unplaced(what, tuple(one for one in fault.faults if one != PULL.nothing), written)


def _found(folder: Path, text: str) -> Path:
    """The file of a trace."""
    try:
        return folder / trace_file(folder, text)
    except ValueError as wrong:
        raise InputError([str(wrong), PULL.nothing]) from None


def file_waiting(event: Event) -> str:
    """The file whose numbers wait, as seen from the day folder; "" where numbers were typed."""
    told = _told(event)
    return "" if _values(told) or told.get("spoiled") else str(told.get("sheet") or told.get("trace") or "")


def traced_waiting(folder: Path, day: DayFile, event: Event) -> tuple[Entry, int | None]:
    """The pull that a trace is of, and which sweep it is.

    Raises
    ------
    InputError
        What was said beside it can't be read.
    """
    told = {name: value for name, value in _told(event).items() if name != "sweep"}
    sweep = _told(event).get("sweep")
    (entry,) = entries_of(folder, day, _said(told))
    return entry, sweep if type(sweep) is int else None


def moment_of(event: Event, now: dt.datetime) -> dt.datetime:
    """When it was typed."""
    try:
        moment = dt.datetime.fromisoformat(event.at)
    except ValueError:
        return now
    return moment if moment.tzinfo else moment.replace(tzinfo=now.tzinfo)


def entries_waiting(folder: Path, day: DayFile, event: Event) -> list[Entry]:
    """The pulls that were asked for, none where what was said beside the number can't be read."""
    try:
        return entries_of(folder, day, _said(_told(event)))
    except (InputError, TypeError, ValueError, AttributeError):
        return []


def heeded_waiting(folder: Path, day: DayFile, event: Event, fits: Callable[[list[Entry]], None]) -> list[Entry]:
    """The pulls with each option that can be, every one by itself; what can't be is `unheeded`.

    None where not even the numbers can be. `fits` raises InputError where entries can't be.
    """
    told = _told(event)
    kept: dict[str, Any] = {name: told[name] for name in ("values", "spoiled") if name in told}
    found: list[Entry] = []
    left: list[str] = []
    options = [
        (name, one, isinstance(value, list))
        for name, value in told.items()
        if name not in kept
        for one in (value if isinstance(value, list) else [value])
    ]
    for name, one, several in [("", "", False), *options]:
        more: dict[str, Any] = {**kept, name: [*kept.get(name, []), one] if several else one} if name else kept
        try:
            entries = entries_of(folder, day, _said(more))
            fits(entries)
        except (InputError, TypeError, ValueError, AttributeError):
            if not name:
                return []
            left.append(f"--{_OPTIONS.get(name, name)} {one}")
            continue
        kept, found = more, entries
    return [replace(entry, unheeded=tuple(left)) for entry in found]


def numbers_waiting(event: Event) -> list[Entry]:
    """The numbers alone, with what was said beside them as a note; none where there is no number."""
    told = _told(event)
    note = "; ".join(f"{name} {value}" for name, value in told.items() if name != "values")
    try:
        numbers = [parse_value(text) for text in _values(told)]
    except ValueError:
        return []
    return [Entry(value=number, note=note, together=at > 0) for at, number in enumerate(numbers)]


def spoiled_waiting(event: Event) -> Entry:
    """What was typed, as a pull without a number: it can't be one, and is not thrown away."""
    told = _told(event)
    what = str(told.get("spoiled") or f"typed {', '.join(_values(told)) or 'something'}, which can't be a pull")
    return Entry(spoiled=what)


def _said(told: Mapping[str, Any]) -> Said:
    """The command line that was kept."""
    fields: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in told.items()}
    return Said(**fields)


def _told(event: Event) -> dict[str, Any]:
    """The command line as it was kept."""
    told = event.payload.get("said")
    return told if isinstance(told, dict) else {}


def _values(told: dict[str, Any]) -> list[str]:
    """The numbers as they were typed."""
    values = told.get("values")
    return [str(text) for text in values] if isinstance(values, list) else []


def placed_event(event: Event, now: dt.datetime) -> Event:
    """That the numbers of an event have their place now."""
    return Event(0, PLACED, str(uuid.uuid4()), now.isoformat(), payload={"key": event.key})
