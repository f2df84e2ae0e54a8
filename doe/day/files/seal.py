"""The seal: what may not change after the first pull, in one number, and in words where it did change.

The sealed text of a day must stay the same for ever, whatever keys day.toml learns. So the keys of the first version
always stand in it, and every other key only where it is set: one that an old day file lacks breaks no old seal.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from doe.day.files.toml_faults import as_toml
from doe.day.schema import MATERIAL_KEYS, Analysis, Cell, Change, DayFile, Factor, Metric, Noise, Table, Traces

#: Keys of the first version: they stand in the text also at their default. Never add to these.
FIRST_KEYS: Mapping[type[Table], frozenset[str]] = {
    DayFile: frozenset({"metric", "noise", "analysis", "cell", "factor"}),
    Metric: frozenset({"name", "unit", "window_rpm", "scale"}),
    Noise: frozenset({"pull_sd", "pull_df", "install_sd", "install_df", "wander_sd", "wander_df", "source"}),
    Analysis: frozenset({"confidence", "drift"}),
    Cell: frozenset({"correction", "correct_to"}),
    Factor: frozenset({"name", "baseline", "refit", "alone", "change"}),
    Change: frozenset({"level", "one_way", "smallest_gain"}),
}

#: Keys that may change during a day: hours, minutes, limits, material, prices, wishes, what the tables look like. Any
#: other new key is sealed.
FREE_KEYS: Mapping[type[Table], frozenset[str]] = {
    DayFile: frozenset({"day", "engine", "people", "limits", "log", "files", "wishes"}),
    Noise: frozenset({"metric"}),  # of metrics that decide nothing
    Cell: frozenset({"name", "kind", "warm_up_minutes", "pull_minutes", "usual"}),
    Factor: frozenset({"refit_minutes", "settling_pulls", "baseline_supply"}) | (MATERIAL_KEYS - {"price"}),
    Traces: frozenset({"folder", "delimiter", "decimal", "unit_row", "title_lines"}),
    Change: frozenset({"minutes_on", "minutes_off", "settling_pulls", "supply"}) | MATERIAL_KEYS,
}


@dataclass(frozen=True, slots=True)
class KeyChange:
    """A sealed key that day.toml has otherwise now."""

    place: str  #: table and key, e.g. [noise] pull_sd
    sealed: str  #: as day.toml had it; "" where it was left out
    now: str  #: as day.toml has it; "" where it is left out


@dataclass(frozen=True, slots=True)
class SealCheck:
    """A plan's seal beside day.toml as it is now."""

    whole: bool
    missing: bool = False  #: there is no seal: plan.json is gone, or was written by hand
    damaged: bool = False  #: the content that plan.json keeps is not the content that was sealed
    changes: tuple[KeyChange, ...] = ()  #: none where the plan keeps the number only, as the first version did


def seal_of(day: DayFile) -> str:
    """SHA-256 of metric, noise, analysis, corrections and questions; not of hours, minutes or limits.

    A default that is written out seals like one that is left out, and 2 like 2.0.
    """
    return _digest(sealed_content(day))


def sealed_content(day: DayFile) -> dict[str, Any]:
    """What the seal covers, as it stands in plan.json."""
    content = _sealed(day)
    return {**content.pop("cell"), "factors": [_plural(factor) for factor in content.pop("factor")], **content}


def seal_entries(day: DayFile, before: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """The entries of plan.json that are the seal.

    Parameters
    ----------
    day : DayFile
    before : mapping, optional
        What the plan.json that is replaced during the day holds: its seal goes on, also where day.toml has changed.
    """
    if not before or "seal" not in before or (before["seal"] == seal_of(day) and "sealed" not in before):
        return {"seal": seal_of(day), "sealed": sealed_content(day)}
    return {key: before[key] for key in ("seal", "sealed") if key in before}


def check_seal(document: Mapping[str, Any], day: DayFile) -> SealCheck:
    """Compare what plan.json sealed with day.toml as it is now."""
    content, now = document.get("sealed"), sealed_content(day)
    seal = document.get("seal")
    if seal is None:
        return SealCheck(whole=False, missing=True)
    if content is not None and _digest(content) != seal:
        return SealCheck(whole=False, damaged=True)
    changes = _changes(content, now) if isinstance(content, dict) else ()
    return SealCheck(seal == _digest(now), changes=tuple(changes))


def _digest(content: object) -> str:
    """SHA-256 of the canonical text of a content."""
    text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _sealed(table: Table) -> dict[str, Any]:
    """The sealed keys of a table and of the tables in it."""
    first, free = (keys.get(type(table), frozenset()) for keys in (FIRST_KEYS, FREE_KEYS))
    plain = table.model_dump(mode="json")
    return {
        key: _value(getattr(table, key), plain[key])
        for key, field in type(table).model_fields.items()
        if key in first or (key not in free and getattr(table, key) != field.get_default(call_default_factory=True))
    }


def _value(value: object, plain: Any) -> Any:
    """A value of a key: tables by their sealed keys, everything else as JSON has it."""
    if isinstance(value, Table):
        return _sealed(value)
    if isinstance(value, tuple) and value and all(isinstance(item, Table) for item in value):
        return [_sealed(item) for item in value]
    return plain


def _plural(factor: dict[str, Any]) -> dict[str, Any]:
    """A factor under the names that the text has for it."""
    return {"changes": factor.pop("change"), **factor}


def _changes(sealed: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[KeyChange]:
    """Where two contents differ, table by table."""
    for key in dict.fromkeys((*sealed, *now)):
        if key == "factors":
            yield from _listed('[[factor]] "{}"', "name", sealed.get(key), now.get(key))
        elif _table(sealed.get(key)) or _table(now.get(key)):
            yield from _keys(f"[{key}]", _table(sealed.get(key)), _table(now.get(key)))
        else:
            yield from _keys("[cell]", _only(sealed, key), _only(now, key))


def _listed(place: str, title: str, sealed: object, now: object) -> Iterator[KeyChange]:
    """Where two lists of tables differ; each table is known by its title."""
    before, after = ({str(item.get(title)): item for item in _tables(items)} for items in (sealed, now))
    for name in dict.fromkeys((*before, *after)):
        if name not in before or name not in after:
            yield KeyChange(place.format(name), *("as a whole" if name in items else "" for items in (before, after)))
            continue
        yield from _keys(place.format(name), before[name], after[name])
    if list(before) != list(after) and before.keys() == after.keys():
        where = place.split(' "{}"')[0]
        yield KeyChange(f"the order of {where}", *(", ".join(items) for items in (before, after)))


def _keys(place: str, sealed: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[KeyChange]:
    """Where two tables differ."""
    for key in dict.fromkeys((*sealed, *now)):
        if key == "changes":
            yield from _listed(f'{place} / change "{{}}"', "level", sealed.get(key), now.get(key))
        elif sealed.get(key) != now.get(key):
            yield KeyChange(f"{place} {key}", _shown(sealed.get(key)), _shown(now.get(key)))


def _tables(items: object) -> list[Mapping[str, Any]]:
    """The tables of a list; what a plan.json holds need not be one."""
    return [item for item in items if isinstance(item, Mapping)] if isinstance(items, list) else []


def _table(value: object) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def _only(content: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    return {key: content[key]} if key in content else {}


def _shown(value: object) -> str:
    """A value as day.toml has it, "" for none."""
    return "" if value is None else as_toml(value)
