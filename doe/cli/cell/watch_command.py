"""``doe watch``: a new file of the dyno appears, is read and shown, and one key logs it."""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from doe.cli.keys import ENTER, Keys, keys
from doe.cli.options import DayFolder, JsonFlag, emit
from doe.errors import DoeError, InputError, SeveralSweepsError
from doe.words.cell import watch_words

if TYPE_CHECKING:
    from doe.day.pilot.entries import Entry
    from doe.day.pilot.traced.arrivals import Arrival, Arrivals
    from doe.day.schema import DayFile
    from doe.words.notes import Note

LOOK_EVERY_S = 1.0
_SWEEP_KEYS = 9  # one key each
_LOOK_SHARE = 10  # a look at a slow share takes at most this part of the time


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("watch")(watch)


def watch(folder: DayFolder = Path(), as_json: JsonFlag = False) -> None:
    """Wait for the dyno's files: each new one is read and shown, one key logs it, another leaves it.

    With --json one document when it begins, and one for each pull that is logged.

    Example: doe watch my-day
    """
    from doe.cell.traces.export_file import LARGEST
    from doe.day.files.dayfile import read_day_file
    from doe.day.pilot.recording import standing_of
    from doe.day.pilot.traced.arrivals import Arrivals, Watching, kept_exports
    from doe.day.pilot.traced.exports import export_folder
    from doe.day.traced import gives_metric

    day = read_day_file(folder)
    place = export_folder(folder, day)
    if not gives_metric(day):
        raise InputError(f"[metric] name: no trace gives '{day.metric.name}'; log it with 'doe record'")
    arrivals = Arrivals(place, kept_exports(folder, standing_of(folder, day).pulls), LARGEST)
    begun = Watching(place, arrivals.left_alone)
    if as_json:
        emit(begun, as_json=True)
    else:
        _say(begun.to_text())
    try:
        with keys() as pressed:
            watch_with(folder, arrivals, pressed, as_json=as_json)
    except KeyboardInterrupt:
        _say("")


def watch_with(folder: Path, arrivals: Arrivals, pressed: Keys, *, as_json: bool) -> None:
    """Show what arrives and do what the keys say, until one of them ends it."""
    coming: deque[Arrival] = deque()
    shown: _Shown | None = None
    pause = LOOK_EVERY_S
    while True:
        began = time.monotonic()
        coming.extend(_looked(arrivals))
        pause = max(LOOK_EVERY_S, _LOOK_SHARE * (time.monotonic() - began))
        if shown is None and coming:
            shown = _shown(folder, coming.popleft())
            pressed.forget()  # no key that was pressed before may log it
            _say(watch_words.question(shown.keys))
        key = pressed.within(pause)
        if key in ("", "q"):
            return
        if key is not None and shown is not None:
            shown = _after(folder, shown, key, pressed, as_json=as_json)


def _looked(arrivals: Arrivals) -> Iterator[Arrival]:
    """One look at the folder; that it can't be read is said once, and that it can be again."""
    before = arrivals.fault
    found = arrivals.look()
    if arrivals.fault and arrivals.fault != before:
        _say(watch_words.unreachable(str(arrivals.place), arrivals.fault))
    elif before and not arrivals.fault:
        _say(watch_words.reachable(str(arrivals.place)))
    yield from found


@dataclass(frozen=True)
class _Shown:
    """A file that was shown and waits for a key."""

    path: Path
    state: tuple[int, int] | None  #: size and time as it was read; None where it is gone
    plain: Entry  #: the pull without its numbers
    entry: Entry | None = None  #: with them; None where the file gives none
    notices: tuple[Note, ...] = ()  #: that were shown with it
    sweeps: tuple[int, ...] = ()  #: of a file that holds several, those that are not logged: each is a pull
    sweep: int | None = None  #: which of them `entry` is

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys that do something to it; what gives no number can't be logged as a pull that counts."""
        sweeps = [str(sweep) for sweep in self.sweeps]
        return (*sweeps, *((ENTER, "w") if self.entry else ()), "s", "x", "q")

    @property
    def changed(self) -> bool:
        """Whether the file is another one since: what was shown is not what would be kept."""
        return _state(self.path) != self.state


def _shown(folder: Path, arrival: Arrival) -> _Shown:
    """Read a file and show it."""
    from doe.day.pilot.entries import Entry

    _say("")
    plain = Entry(trace=str(arrival.path.resolve()), time=arrival.seen)
    return _read(folder, _Shown(arrival.path, _state(arrival.path), plain))


def _read(folder: Path, shown: _Shown) -> _Shown:
    """A file's metrics, the guard channels, what is odd, which pull it would be."""
    from doe.cli.cell.traced_pull import read_trace

    try:
        pull, entry = read_trace(folder, _day(folder), shown.plain, shown.sweep)
        _say(pull.to_text())
        notices = _say_what_it_would_be(folder, entry)
    except SeveralSweepsError as fault:
        _say(watch_words.several_sweeps(shown.path.name, fault.sweeps))
        return replace(shown, sweeps=tuple(range(1, min(fault.sweeps, _SWEEP_KEYS) + 1)))
    except DoeError as fault:
        _say(f"{shown.path.name}: {_without_ending(fault)}")
        return replace(shown, entry=None)
    return replace(shown, entry=entry, notices=notices)


def _state(path: Path) -> tuple[int, int] | None:
    try:
        stat = path.stat()
    except OSError:
        return None
    return stat.st_size, stat.st_mtime_ns


def _say_what_it_would_be(folder: Path, entry: Entry) -> tuple[Note, ...]:
    from doe.day.pilot.recording import foreseen
    from doe.words.day.pull_words import pull_line

    day, decided = foreseen(folder, entry)
    _say(pull_line(day, decided.pull))
    for notice in decided.notices:
        _say(f"  {notice}")
    return decided.notices


def _after(folder: Path, shown: _Shown, key: str, pressed: Keys, *, as_json: bool) -> _Shown | None:
    """Do what a key says of a file; what goes on waiting for a key, None where that is done with."""
    if key not in shown.keys:
        _say(watch_words.other_key(key, shown.keys))
        return shown
    if key == "x":
        _say(watch_words.left_alone(shown.path.name))
        return None
    if shown.changed:
        _say(watch_words.changed(shown.path.name))
        return None
    if key.isdecimal():
        chosen = _read(folder, replace(shown, sweep=int(key)))
        _say(watch_words.question(chosen.keys))
        return chosen
    entry = _entry(shown, key, pressed)
    if entry is None or not _logged(folder, entry, shown, as_json=as_json):
        return shown
    left = tuple(sweep for sweep in shown.sweeps if sweep != shown.sweep)
    if shown.sweep is None or not left:
        return None
    waiting = replace(shown, entry=None, notices=(), sweeps=left, sweep=None)
    _say(watch_words.question(waiting.keys))
    return waiting


def _entry(shown: _Shown, key: str, pressed: Keys) -> Entry | None:
    """The pull as a key has it; None where no reason was given."""
    if key == "s":
        print(watch_words.WHY, end="", file=sys.stderr, flush=True)
        why = " ".join(pressed.line().split())
        if not why:
            _say(watch_words.NO_REASON)
            return None
        return replace(shown.plain, spoiled=why)
    assert shown.entry is not None  # else neither key is among those of the file
    return replace(shown.entry, count="warm-up") if key == "w" else shown.entry


def _logged(folder: Path, entry: Entry, shown: _Shown, *, as_json: bool) -> bool:
    """Log a pull and keep its export; where that fails it is said, and the file goes on waiting for a key."""
    from doe.day.pilot.recording import record_pulls, standing_of
    from doe.day.pilot.traced.exports import keep_export, refuse_logged

    path = Path(entry.trace)
    try:
        day = _day(folder)
        if shown.sweep is None:  # of a file with several sweeps each is a pull
            refuse_logged(folder, path, standing_of(folder, day).pulls)
        recorded = record_pulls(folder, [replace(entry, trace=keep_export(folder, path))])
    except (DoeError, OSError) as fault:
        _say(str(fault))
        return False
    emit(recorded, as_json=as_json, noted=True)
    new = [notice for one in recorded.decided for notice in one.notices if notice not in shown.notices]
    for note in (*new, *recorded.asked, *recorded.told):
        _say(str(note))
    return True


def _day(folder: Path) -> DayFile:
    from doe.day.files.dayfile import read_day_file

    return read_day_file(folder)


def _without_ending(fault: DoeError) -> str:
    """What is wrong, without the sentence that nothing was logged: nobody has asked for that yet."""
    from doe.day.pilot.answers import PULL

    faults = getattr(fault, "faults", [str(fault)])
    return "; ".join(one for one in faults if one != PULL.nothing)


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
