"""The dyno's exports of logged pulls: which is the newest, that none is logged twice, and a copy beside the log."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from doe.day.encoding import decode
from doe.day.files.which_folder import FILE_NAME, command
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.words.day.pull_words import trace_stays

_NO_FOLDER = 'expected folder = "…" in [traces] of day.toml, into which the dyno exports'
_TRACES = re.compile(r"^[ \t]*\[traces\].*?(?=^[ \t]*\[|\Z)", re.MULTILINE | re.DOTALL)
_FOLDER = re.compile(r"^[ \t]*folder[ \t]*=.*$", re.MULTILINE)
KEPT = "traces"  #: folder in the day folder


def export_folder(folder: Path, day: DayFile) -> Path:
    """Where the dyno writes its exports: ``folder`` of [traces].

    Raises
    ------
    InputError
        No folder is told, or it isn't there.
    """
    if day.traces is None or not day.traces.folder:
        raise InputError(_NO_FOLDER)
    return _there(folder / day.traces.folder)


def _there(place: Path) -> Path:
    """A folder that is told, which the dyno's computer may share; raises as `export_folder`."""
    if not place.is_dir():
        raise InputError(f"{place}: there is no such folder; is the share mounted?")
    return place


def newest_export(folder: Path, day: DayFile) -> Path:
    """The file that the dyno wrote last.

    Raises
    ------
    InputError
        No folder is told, it isn't there, or it is empty.
    """
    try:
        place = export_folder(folder, day)
    except InputError as fault:
        raise InputError(f"--newest: {fault}") from None
    return _newest_in(place)


def newest_meanwhile(folder: Path, fault: InputError, now: dt.datetime) -> Path:
    """The same while day.toml can't be read, from what it tells of the folder all the same.

    Parameters
    ----------
    folder : Path
        The day folder.
    fault : InputError
        Why day.toml can't be read.
    now : datetime
        For the line that takes the pull afterwards with its time.

    Raises
    ------
    InputError
        The fault, and how the pull is logged all the same.
    """
    file = folder / FILE_NAME
    try:
        told = _told_folder(decode(file.read_bytes(), FILE_NAME)) if file.is_file() else ""
        if not told:
            raise InputError(f"--newest: {_NO_FOLDER}")
        return _newest_in(_there(folder / told))
    except InputError as other:
        if not file.is_file():
            raise fault from None
        afterwards = command("record", folder, f"--trace FILE --time {now:%H:%M}")
        stays = trace_stays(command("record", folder, "--trace FILE"), afterwards)
        raise InputError([*fault.faults, *other.faults, stays]) from None


def _told_folder(text: str) -> str:
    """``folder`` of [traces] in a day.toml with faults, "" where it can't be read: the file, its table, its line."""
    table = _TRACES.search(text)
    line = _FOLDER.search(table[0]) if table else None
    for part in (text, table[0] if table else "", f"[traces]\n{line[0]}" if line else ""):
        with suppress(tomllib.TOMLDecodeError):
            traces = tomllib.loads(part).get("traces")
            told = traces.get("folder") if isinstance(traces, dict) else None
            if isinstance(told, str) and told:
                return told
    return ""


def _newest_in(place: Path) -> Path:
    """The file that was written last in a folder; raises InputError where there is none."""
    files = [path for path in place.iterdir() if path.is_file() and not hidden(path.name)]
    if not files:
        raise InputError(f"--newest: no file in {place} yet")
    return max(files, key=lambda path: (path.stat().st_mtime_ns, path.name))


def hidden(name: str) -> bool:
    """Whether a file is none that the dyno exports: hidden, or of an office program that has one open."""
    return name.startswith((".", "~"))


def refuse_logged(folder: Path, path: Path, pulls: Iterable[Pull]) -> None:
    """Refuse an export whose content a pull has already, whatever the file is called.

    Raises
    ------
    InputError
        With the pull's number.
    """
    data = path.read_bytes()
    for pull in pulls:
        other = folder / pull.trace
        there = pull.trace and pull.void is None and other.is_file()
        if there and other.stat().st_size == len(data) and other.read_bytes() == data:
            raise InputError(
                f"{path.name}: this is the trace of pull {pull.number}, which is logged; void that one first"
                f" ('doe void {pull.number} --why …') if it was logged wrongly"
            )


def keep_export(folder: Path, path: Path, within: str = KEPT) -> str:
    """Copy an export into the day folder, where no later export overwrites it; its place as seen from the folder.

    A file that lies in ``traces`` already stays as it is. Written beside and renamed: no half copy is left.
    """
    kept = folder / within
    if path.resolve().parent == kept.resolve():
        return f"{within}/{path.name}"
    data = path.read_bytes()
    place, number = kept / path.name, 1
    while place.exists() and place.read_bytes() != data:
        number += 1
        place = kept / f"{path.stem}-{number}{path.suffix}"
    if not place.exists():
        kept.mkdir(exist_ok=True)
        beside = place.with_name(f".{place.name}.part")
        beside.write_bytes(data)
        beside.replace(place)
    return f"{within}/{place.name}"
