"""In which line of day.toml a key stands, for the places that a seal names."""

from __future__ import annotations

import re
from collections.abc import Iterator

from doe.day.names import name_key

_TABLE = re.compile(r"^\s*\[\[?\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*\"?([\w -]+?)\"?\s*=\s*(.*)$")
_PLACE = re.compile(
    r'(?:\[(?P<table>[\w.]+)\]|\[\[factor\]\] "(?P<factor>.*?)"(?: / change "(?P<level>.*?)")?)(?: (?P<key>\w+))?$'
)
_TITLES = {"factor": "name", "factor.change": "level"}


def line_of(text: str, place: str) -> int | None:
    """The line of a key, or where it is left out of its table; None where that can't be told.

    Parameters
    ----------
    text : str
        Of day.toml.
    place : str
        As `KeyChange.place`: "[noise] pull_sd", '[[factor]] "oil" / change "0W-20" smallest_gain'.
    """
    match = _PLACE.match(place)
    if not match:
        return None
    if match["table"]:
        wanted = (match["table"], "", "")
    else:
        kind = "factor.change" if match["level"] is not None else "factor"
        wanted = (kind, name_key(match["factor"]), name_key(match["level"] or ""))
    for number, table, keys in _tables(text):
        if table == wanted:
            return keys.get(match["key"] or "", number)
    return None


def _tables(text: str) -> Iterator[tuple[int, tuple[str, str, str], dict[str, int]]]:
    """Each table: its line; its kind, the factor and the level that it is about; and the lines of its keys."""
    number, kind, keys, told = 1, "", dict[str, int](), dict[str, str]()
    factor = ""
    lines = [*text.splitlines(), "[end]"]
    for at, line in enumerate(lines, start=1):
        if header := _TABLE.match(line):
            title = told.get(_TITLES.get(kind, ""), "")
            factor = title if kind == "factor" else factor
            level = title if kind == "factor.change" else ""
            yield number, (kind, factor if kind in _TITLES else "", level), keys
            number, kind, keys, told = at, header[1], {}, {}
        elif found := _KEY.match(line):
            keys.setdefault(found[1].strip(), at)
            told.setdefault(found[1].strip(), name_key(found[2].partition("#")[0].strip().strip("\"'")))
