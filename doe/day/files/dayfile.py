"""Reading day.toml: every fault of the file at once, each with its place and its remedy."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from doe.day.encoding import decode
from doe.day.files.checks import sense_faults
from doe.day.files.toml_faults import Fault, structure_faults
from doe.day.files.toml_text import read_toml
from doe.day.files.which_folder import FILE_NAME, nowhere
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.day.suggest import nearest
from doe.errors import InputError
from doe.words.cell.limit_words import OVER_THE_PULL
from doe.words.day import log_notes
from doe.words.notes import Note


def read_day_file(path: Path) -> DayFile:
    """Read the day file of a folder, or a day file itself.

    Parameters
    ----------
    path : Path
        A day folder, or the file in it.

    Raises
    ------
    InputError
        No such file, or faults in it: one line each, all at once.
    """
    file = path / FILE_NAME if path.is_dir() else path
    if not file.is_file():
        raise InputError(nowhere(file))
    if file.suffix.lower() != Path(FILE_NAME).suffix:
        raise InputError(f"{file} is a file; name the day folder, which has a {FILE_NAME} in it")
    return parse_day(decode(file.read_bytes(), file.name), file.name)


def parse_day(text: str, name: str = FILE_NAME) -> DayFile:
    """Read the text of a day file.

    Raises
    ------
    InputError
        Every fault, one line each, beginning with `name`.
    """
    raw = read_toml(name, text)
    try:
        day, structure = DayFile.model_validate(raw), []
    except ValidationError as error:
        day, structure = None, list(structure_faults(error, raw))
    faults = sorted(
        dict.fromkeys([*structure, *sense_faults(raw, day), *_wish_faults(raw, day)]),
        key=lambda fault: _rank(fault.place),
    )
    if day is None or faults:
        raise InputError(f"{name}, {fault.place}: {fault.what}" for fault in faults)
    return day


def _wish_faults(raw: Mapping[str, Any], day: DayFile | None) -> Iterator[Fault]:
    """What is wrong with the wishes of a day that has any: few have."""
    if day is not None and "wishes" in raw:
        from doe.day.files.wish_checks import wish_faults

        yield from wish_faults(day)


def _rank(place: str) -> tuple[int, str]:
    """Faults in the order of the tables, unknown tables last."""
    tables = list(DayFile.model_fields)
    first = re.split(r"\]", place.lstrip("["))[0]
    return (tables.index(first) if first in tables else len(tables), place)


def day_notes(day: DayFile) -> tuple[Note, ...]:
    """What is odd in a valid day file."""
    notes = []
    if day.drift != day.analysis.drift:
        notes.append(log_notes.wander_without_sd())
    columns = [*day.log.columns, day.metric.name, *_traced_columns(day)]
    for name in day.limits:
        close = nearest(name, columns)
        if close and name_key(name) not in map(name_key, columns):
            notes.append(log_notes.unknown_limit(name, close))
    return tuple(notes)


def _traced_columns(day: DayFile) -> list[str]:
    """The columns that the channels of traces give the log."""
    if day.traces is None:
        return []
    from doe.cell.traces.layout import CORE  # only then: a tester waits for what is loaded

    channels = [name for name in day.traces.columns if name not in CORE]
    return [name + of for name in channels for of in ("", *OVER_THE_PULL)]
