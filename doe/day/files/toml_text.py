"""Reading a TOML file so that a slip of the pen is answered with its line, its column and its remedy."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

from doe.day.files.toml_faults import TABLE_LISTS
from doe.day.names import TypedFloat
from doe.errors import InputError

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)|\(at end of document\)")
_VALUE = re.compile(r"^\s*(?:[\w-]+|\"[^\"]*\")\s*=\s*(?P<value>[^#\[{\"']*?)\s*(?:#.*)?$")
_INLINE = re.compile(r"[{,]\s*[\w-]+\s*=\s*(?P<value>[^,}\]\[{\"'#]*[^,}\]\[{\"'#\s])")
_LEGAL = re.compile(
    r"true|false|[+-]?(inf|nan)|[+-]?[\d_]+(\.[\d_]+)?([eE][+-]?\d+)?|0[xob][\da-fA-F_]+|\d{4}-\d\d-\d\d.*|\d\d:\d\d:\d\d.*"
)


def read_toml(name: str, text: str) -> dict[str, Any]:
    """The tables of a TOML text; floats are `TypedFloat`, which remember how they were typed.

    Raises
    ------
    InputError
        The syntax is wrong; each line names file, line and column, and what to write instead where that is clear.
    """
    try:
        return tomllib.loads(text, parse_float=TypedFloat)
    except tomllib.TOMLDecodeError as error:
        raise InputError(_syntax_faults(name, text, str(error))) from None
    except RecursionError:
        raise InputError(f"{name}: brackets are nested far too deeply; this is no file of ours") from None


def _syntax_faults(name: str, text: str, message: str) -> list[str]:
    """The parser's own fault, and every value that wants quotes (the parser stops at the first)."""
    lines = text.splitlines()
    match = _PLACE.search(message)
    line, column = (int(match[1]), int(match[2])) if match and match[1] else (len(lines), 1)
    unquoted = dict(_unquoted(lines))
    if line not in unquoted:
        told = lines[line - 1].strip() if line <= len(lines) else ""
        unquoted[line] = (column, _in_our_words(_PLACE.sub("", message).strip(), told))
    return [f"{name}, line {number}, column {at}: {what}" for number, (at, what) in sorted(unquoted.items())]


def _in_our_words(what: str, line: str) -> str:
    """The parser's fault, with the remedy for a table or a key that stands there twice."""
    table = line.partition("#")[0].strip().strip("[] ")
    key = table.rpartition(".")[2]
    if re.fullmatch(r"Cannot declare \(.*\) twice", what) and line.startswith("["):
        if key in TABLE_LISTS:
            return f"[{table}] stands here twice; where several are meant, write [[{table}]], in two brackets, for each"
        return f"[{table}] stands here twice; put all its lines under the first [{table}], and take this line out"
    if what == "Cannot overwrite a value" and line.startswith("[["):
        return f"[[{table}]]: [{table}] stands above in single brackets; write every one of them in the same way"
    if what == "Cannot overwrite a value" and "=" in line:
        return f"'{line.partition('=')[0].strip()}' stands in this table twice; take one of the two lines out"
    return f"{what[:1].lower()}{what[1:]}"


def _unquoted(lines: list[str]) -> Iterator[tuple[int, tuple[int, str]]]:
    """Line -> (column, remedy) for each line whose value TOML can't take as it stands."""
    for number, line in enumerate(lines, start=1):
        match = _VALUE.match(line)
        found = [match] if match else list(_INLINE.finditer(line.split("#")[0]))
        for hit in found:
            if not _LEGAL.fullmatch(hit["value"]):
                yield number, (hit.start("value") + 1, _remedy(hit["value"]))
                break


def _remedy(value: str) -> str:
    """What to write in place of a value that is neither number, time, date, true, false nor in quotes."""
    if not value:
        return "a value is missing after the equals sign"
    if re.fullmatch(r"\d{1,2}:\d{2}(:\d{2})?", value):
        return f'put the time in quotes: "{value}"'
    if re.fullmatch(r"[+-]?\d+,\d+", value):
        return f"write the number with a point: {value.replace(',', '.')}"
    return f'put the text in quotes: "{value}"'
