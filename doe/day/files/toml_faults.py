"""What is wrong in a TOML file, in words: table, key, value, what is expected, the nearest right spelling."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple, get_args

from pydantic import BaseModel, ValidationError

from doe.day.schema import DayFile, keys_of
from doe.day.suggest import did_you_mean, nearest

# How a required key is written, for the message that says that it is missing.
EXAMPLES: Mapping[str, str] = {
    "date": "date = 2026-05-16",
    "start": "start = 08:30:00",
    "finish": "finish = 16:30:00",
    "from": "from = 12:00:00",
    "minutes": "minutes = 30",
    "pull_minutes": "pull_minutes = 4.0",
    "name": 'name = "oil"',
    "baseline": 'baseline = "15W-50"',
    "level": 'level = "0W-20"',
    "minutes_on": "minutes_on = 30",
    "minutes_off": "minutes_off = 30",
    "columns": 'columns = { rpm = "rpm", torque = "torque" }',
}
_TYPES = {
    "float_type": "a number, without quotes",
    "finite_number": "a finite number",
    "int_type": "a whole number, without quotes",
    "bool_type": "true or false, without quotes",
    "string_type": "a text in quotes",
    "tuple_type": "a list in [ ]",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
}


TABLE_LISTS = {
    "factor": "[[factor]]",
    "change": "[[factor.change]]",
    "step": "[[step]]",
    "claim": "[[claim]]",
}


class FileWords(NamedTuple):
    """What a kind of file may hold, for messages about it."""

    root: type[BaseModel]
    examples: Mapping[str, str]  #: required key -> how it is written


DAY_WORDS = FileWords(DayFile, EXAMPLES)


class Fault(NamedTuple):
    """One thing wrong in a TOML file."""

    place: str  #: the table, e.g. [[factor]] 2 "oil" / change 1
    what: str  #: key, value and what is expected


def place_of(where: Sequence[str | int], raw: Mapping[str, Any]) -> str:
    """The table that a path into the file leads to, as a tester finds it: ``[[factor]] 2 "oil" / change 1``."""
    if not where:
        return "the file"
    first, *rest = where
    node, parts = raw.get(str(first)), [f"[{first}]"]
    while rest:
        step = rest.pop(0)
        node = _child(node, step)
        if isinstance(step, str):
            parts.append({"breaks": "break"}.get(step, step))
        elif parts == [f"[{first}]"]:
            parts = [f"[[{first}]] {step + 1}{_called(node)}"]
        else:
            parts[-1] += f" {step + 1}{_called(node)}"
    return " / ".join(parts)


def _child(node: Any, step: str | int) -> Any:
    """One step down, None where there is nothing."""
    try:
        return node[step]
    except (KeyError, IndexError, TypeError):
        return None


def _called(node: Any) -> str:
    """The name that a factor or change carries, in quotes after its number."""
    name = node.get("name", node.get("level")) if isinstance(node, Mapping) else None
    return f' "{name}"' if isinstance(name, str) else ""


def as_toml(value: Any) -> str:
    """The value as it stands in the file, shortened."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, list):
        text = "[" + ", ".join(as_toml(item) for item in value) + "]"
    elif isinstance(value, Mapping):
        text = "{ " + ", ".join(f"{key} = {as_toml(item)}" for key, item in value.items()) + " }"
    else:
        text = value.isoformat() if isinstance(value, dt.date | dt.time) else str(getattr(value, "text", value))
    return text if len(text) <= 60 else text[:57] + "..."


def structure_faults(error: ValidationError, raw: Mapping[str, Any], words: FileWords = DAY_WORDS) -> Iterator[Fault]:
    """Every fault that the models found, in words."""
    for item in error.errors(include_url=False):
        where = list(item["loc"])
        # An entry of a list of numbers belongs to the key that holds the list.
        while where and isinstance(where[-1], int) and not isinstance(item["input"], Mapping):
            if item["type"].startswith("model") or _is_table_list(where[:-1], raw):
                break
            where.pop()
        yield _structure_fault(item, where, raw, words)


def _is_table_list(where: Sequence[str | int], raw: Mapping[str, Any]) -> bool:
    """Whether a path leads to a list of tables, such as [[factor]]."""
    return bool(where) and (where[-1] in TABLE_LISTS or where[-1] == "breaks")


def _structure_fault(item: Any, where: list[str | int], raw: Mapping[str, Any], words: FileWords) -> Fault:
    """One error of the models, put in words."""
    kind, value = item["type"], item["input"]
    if not where or isinstance(where[-1], int):
        return Fault(place_of(where, raw), f"{as_toml(value)}: expected a table")
    table, key = where[:-1], str(where[-1])
    if kind == "missing" and len(where) == len(item["loc"]):
        return _missing(table, key, raw, words)
    if kind == "extra_forbidden":
        return _unknown(table, key, value, raw, words)
    node: Any = raw
    for step in where:
        node = _child(node, step)
    shown = f"{key} = {as_toml(node)}" if node is not None else key
    if kind == "tuple_type" and key in TABLE_LISTS:
        return Fault(place_of(table or [key], raw), f"expected {TABLE_LISTS[key]}, in two brackets, before each one")
    if not table:
        return Fault(f"[{key}]", f"{as_toml(value)}: expected {expected(item)}")
    return Fault(place_of(table, raw), f"{shown}: expected {expected(item)}")


def _missing(table: Sequence[str | int], key: str, raw: Mapping[str, Any], words: FileWords) -> Fault:
    """Words for a table or key that must be there and is not."""
    if not table:
        needs = [name for name, field in keys_of(_model_at([key], words.root)).items() if field.is_required()]
        return Fault(TABLE_LISTS.get(key, f"[{key}]"), f"the table is missing; it needs {', '.join(needs)}")
    return Fault(place_of(table, raw), f"'{key}' is missing; write for example {words.examples[key]}")


def _unknown(table: Sequence[str | int], key: str, value: Any, raw: Mapping[str, Any], words: FileWords) -> Fault:
    """Words for a key or table that nobody knows, with the nearest right one, wherever in the file that belongs."""
    known = list(keys_of(_model_at(table, words.root)))
    if not table:
        return Fault(f"[{key}]", f"there is no such table; {did_you_mean(key, known)}")
    elsewhere = _homes(key, words.root)
    hint = f"'{key}' belongs into {' or '.join(elsewhere)}" if elsewhere else did_you_mean(key, known)
    return Fault(place_of(table, raw), f"{key} = {as_toml(value)}: there is no such key; {hint}")


def _homes(key: str, root: type[BaseModel]) -> list[str]:
    """The tables that do know a key."""
    tables: dict[str, Sequence[str]] = {TABLE_LISTS.get(name, f"[{name}]"): [name] for name in keys_of(root)}
    if "[[factor]]" in tables:
        tables["[[factor.change]]"] = ["factor", "change"]
    models = {shown: _model_at(path, root) for shown, path in tables.items()}
    return [shown for shown, model in models.items() if issubclass(model, BaseModel) and key in keys_of(model)]


def _model_at(path: Sequence[str | int], root: type[BaseModel]) -> Any:
    """The model of the table that a path leads to; dict for a table of free keys."""
    model: Any = root
    for step in path:
        if isinstance(step, str) and issubclass(model, BaseModel):
            model = _inner_model(keys_of(model)[step].annotation)
    return model


def _inner_model(annotation: Any) -> Any:
    """The model inside Optional[...] or tuple[..., ...], else dict."""
    for inner in (annotation, *get_args(annotation)):
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            return inner
    return dict


def expected(item: Any) -> str:
    """What would have been right."""
    kind, context = item["type"], item.get("ctx", {})
    limits = {
        "greater_than": ("gt", "above"),
        "less_than": ("lt", "below"),
        "greater_than_equal": ("ge", "of at least"),
    }
    if kind in limits:
        name, word = limits[kind]
        return f"a number {word} {context[name]:g}"
    if kind == "value_error":
        return str(context["error"])
    if kind == "literal_error":
        close = nearest(item["input"], _words(context["expected"])) if isinstance(item["input"], str) else None
        return context["expected"] + (f"; did you mean '{close}'?" if close else "")
    if kind == "too_short":
        return "at least one entry in the list"
    if kind in {"missing", "too_long"}:
        return "two numbers, [low, high]"
    if kind.startswith("date"):
        return "a date such as 2026-05-16, without quotes"
    return _TYPES.get(kind, item["msg"])


def _words(expected: str) -> list[str]:
    """The words in pydantic's "'a', 'b' or 'c'"."""
    return [part.strip().strip("'") for piece in expected.split(" or ") for part in piece.split(", ")]
