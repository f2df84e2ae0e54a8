"""Reading a claims file: every fault of it at once, each with its place and its remedy."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from pydantic import ValidationError

from doe.claims.reading.file_checks import sense_faults
from doe.claims.reading.schema import ClaimsFile
from doe.day.encoding import decode
from doe.day.files.toml_faults import FileWords, structure_faults
from doe.day.files.toml_text import read_toml
from doe.errors import InputError

_START = "'doe audit --new FILE' starts one"
_WORDS = FileWords(
    ClaimsFile,
    {
        "name": 'name = "baseline"',
        "about": 'about = ["oil"]',
        "from": 'from = ["baseline"]',
        "to": 'to = ["thin oil"]',
    },
)


def read_claims_file(path: Path) -> ClaimsFile:
    """Read a claims file.

    Raises
    ------
    InputError
        No such file, or faults in it: one line each, all at once.
    """
    if path.is_dir():
        raise InputError(f"{path}: this is a folder; name a claims file, or {_START}")
    if not path.is_file():
        raise InputError(f"{path}: there is no such file; {_START}")
    return parse_claims(decode(path.read_bytes(), path.name), path.name)


def parse_claims(text: str, name: str) -> ClaimsFile:
    """Read the text of a claims file.

    Raises
    ------
    InputError
        Every fault, one line each, beginning with `name`.
    """
    if not text.strip():
        raise InputError(f"{name}: the file is empty; {_START}")
    raw = read_toml(name, text)
    try:
        claims, structure = ClaimsFile.model_validate(raw), []
    except ValidationError as error:
        claims, structure = None, list(structure_faults(error, raw, _WORDS))
    faults = sorted(dict.fromkeys([*structure, *sense_faults(raw)]), key=lambda fault: _rank(fault.place))
    if claims is None or faults:
        raise InputError(f"{name}, {fault.place}: {fault.what}" for fault in faults)
    return claims


def _rank(place: str) -> tuple[int, int]:
    """Faults in the order of the tables, then of their numbers; unknown tables last."""
    tables = list(ClaimsFile.model_fields)
    table, number = re.match(r"\[*([^\]]*)\]*(?: (\d+))?", place).groups()  # type: ignore[union-attr]
    return (tables.index(table) if table in tables else len(tables), int(number or 0))


def read_claims_files(paths: Sequence[Path]) -> list[ClaimsFile]:
    """Read several claims files.

    Raises
    ------
    InputError
        The faults of all of them, or one file named twice.
    """
    read: list[ClaimsFile] = []
    faults: list[str] = []
    for number, path in enumerate(paths):
        if path.resolve() in [other.resolve() for other in paths[:number]]:
            faults.append(f"{path}: named twice; a test counts once")
            continue
        try:
            read.append(read_claims_file(path))
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return read
