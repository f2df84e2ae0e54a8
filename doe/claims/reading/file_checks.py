"""What must hold between the keys of a claims file: names that lead somewhere, and no contradictions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from doe.day.files.toml_faults import Fault, as_toml, place_of
from doe.day.names import as_typed, name_key
from doe.day.suggest import did_you_mean


def sense_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    """Every fault that lies between keys, as far as the tables concerned can be read."""
    yield from _noise_faults(raw)
    names: dict[str, int] = {}
    for number, step in _tables(raw, "step"):
        yield from _taken("step", number, step, names, raw)
        yield from _step_faults(number, step, raw)
    claims: dict[str, int] = {}
    for number, claim in _tables(raw, "claim"):
        yield from _taken("claim", number, claim, claims, raw)
        yield from _claim_faults(number, claim, raw)


def _tables(raw: Mapping[str, Any], key: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Every [[step]] or [[claim]] that is a table, with its place."""
    listed = raw.get(key)
    for number, item in enumerate(listed if isinstance(listed, list) else []):
        if isinstance(item, Mapping):
            yield number, item


def _text(value: Any) -> str | None:
    """A name as it is compared, None where it is none."""
    text = as_typed(value)
    return text if isinstance(text, str) and text else None


def _texts(value: Any) -> list[str]:
    """The names in a list, or the one name by itself; none where it is neither."""
    listed = [value] if isinstance(value, str) else value if isinstance(value, list) else []
    return [text for item in listed if (text := _text(item))]


def _noise_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    """Degrees of freedom belong to an SD above 0."""
    noise = raw.get("noise")
    if not isinstance(noise, Mapping):
        return
    for source in ("pull", "install"):
        if f"{source}_df" in noise and not noise.get(f"{source}_sd"):
            shown = f"{source}_df = {as_toml(noise[f'{source}_df'])}"
            yield Fault("[noise]", f"{shown}: expected {source}_sd above 0 beside it, the SD that it is the df of")


def _taken(key: str, number: int, table: Mapping[str, Any], seen: dict[str, int], raw: Any) -> Iterator[Fault]:
    """No two steps, and no two claims, of one name."""
    if (name := _text(table.get("name"))) is None:
        return
    first = seen.setdefault(name_key(name), number)
    if first != number:
        place = place_of([key, number], raw)
        yield Fault(place, f'name = "{name}": expected a name of its own; [[{key}]] {first + 1} has it already')


def _step_names(raw: Mapping[str, Any], before: int | None = None) -> list[str]:
    """The names of the steps, or of those before a place."""
    steps = [(number, _text(step.get("name"))) for number, step in _tables(raw, "step")]
    return [name for number, name in steps if name and (before is None or number < before)]


def _step_faults(number: int, step: Mapping[str, Any], raw: Mapping[str, Any]) -> Iterator[Fault]:
    """One pull is the only one; parts go back to what was on before; a speed belongs to a torque."""
    place = place_of(["step", number], raw)
    pulls = step.get("pulls")
    if step.get("shown") == "only" and isinstance(pulls, int) and pulls > 1:
        yield Fault(place, f'shown = "only": expected pulls = 1, not {pulls}; or shown = "mean", "best" or "last"')
    listed = step.get("value")
    if isinstance(listed, list) and isinstance(pulls, int) and pulls != len(listed):
        yield Fault(place, f"pulls = {pulls}: expected {len(listed)}, the single pulls in value; or leave it out")
    if isinstance(listed, list) and step.get("shown") in ("best", "last"):
        yield Fault(
            place, f'shown = "{step["shown"]}": value has the single pulls; leave shown out, their mean is taken'
        )
    back, earlier = _text(step.get("back_to")), _step_names(raw, number)
    if back and name_key(back) not in map(name_key, earlier):
        yield Fault(place, f'back_to = "{back}": expected the name of an earlier step; {did_you_mean(back, earlier)}')
    for key in ("torque_at_rpm", "torque_unit"):
        if key in step and "torque" not in step:
            yield Fault(place, f"{key} = {as_toml(step[key])}: expected torque beside it")


def _claim_faults(number: int, claim: Mapping[str, Any], raw: Mapping[str, Any]) -> Iterator[Fault]:
    """A claim leads from steps that are there to other steps that are there."""
    place, steps = place_of(["claim", number], raw), _step_names(raw)
    known = set(map(name_key, steps))
    for end in ("from", "to"):
        for name in _texts(claim.get(end)):
            if name_key(name) not in known:
                what = f'"{name}" is no [[step]]'
                yield Fault(place, f"{end} = {as_toml(claim[end])}: {what}; {did_you_mean(name, steps)}")
    start = set(map(name_key, _texts(claim.get("from"))))
    for name in dict.fromkeys(_texts(claim.get("to"))):
        if name_key(name) in start:
            yield Fault(place, f'"{name}" stands in from and in to; a step can\'t be compared with itself')
