"""What lies between the steps that a claim compares: parts, engines, corrections, temperatures, days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import suppress
from itertools import pairwise
from typing import get_args

from doe.claims.reading.schema import Claim, ClaimsFile, Step
from doe.day.names import name_key
from doe.day.schema import Correction
from doe.day.suggest import nearest
from doe.words.faults import Fault
from doe.words.phrases import listed

_STANDARDS = get_args(Correction)
TEMPERATURE_APART_K = 5.0  # engineering choice, no published source
WEEKS_APART = 7  # days; the weather of another week, engineering choice, no published source
_UNKNOWN = {"", "unknown", "notstated"}
_NO_CORRECTION = {"none", "uncorrected", "observed"}
_THERMOMETERS = {"oil_temp_c": "oil", "water_temp_c": "water", "air_temp_c": "air"}


def part_states(file: ClaimsFile) -> list[dict[str, int]]:
    """For each step, which occasion of changing each part it stands on: part -> place of the step that changed it.

    Parts that were never changed are absent. ``back_to`` brings back what was on at the earlier step.
    """
    states: list[dict[str, int]] = []
    for place, step in enumerate(file.step):
        state = dict(states[-1]) if states else {}
        state |= {name_key(part): place for part in step.changed}
        if step.back_to is not None:
            state = dict(states[file.places[name_key(step.back_to)]])
        states.append(state)
    return states


def confounded_with(file: ClaimsFile, claim: Claim) -> list[str]:
    """Parts besides the claim's own that differ between what it compares, in the order of the test.

    Compared are neighbours among the claim's steps that stand on opposite sides. Steps of one side are taken as alike,
    as the claim itself takes them, unless a part was changed an odd number of times between them.
    """
    own = {name_key(part) for part in claim.about}
    names = {name_key(part): part for step in file.step for part in reversed(step.changed)}
    found = {part for part in _differing(file, claim) if part not in own}
    return [names[part] for part in names if part in found]


def _differing(file: ClaimsFile, claim: Claim) -> set[str]:
    """Keys of the parts that differ between the claim's neighbouring steps."""
    states, to = part_states(file), set(file.to_places(claim))
    found: set[str] = set()
    for before, after in pairwise(sorted({*file.from_places(claim), *to})):
        apart = {part for part in states[after] if states[after][part] != states[before].get(part)}
        apart |= {part for part in states[before] if part not in states[after]}
        if (before in to) == (after in to):
            apart = {part for part in apart if _times_changed(file, part, before, after) % 2}
        found |= apart
    return found


def _times_changed(file: ClaimsFile, part: str, before: int, after: int) -> int:
    steps = file.step[before + 1 : after + 1]
    return sum(part in map(name_key, step.changed) for step in steps)


def comparison_faults(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    """Everything that sets the compared steps apart besides the part itself."""
    yield from _parts(file, claim)
    used, where = file.used(claim), where_of(file, claim)
    yield from _engines(used, where)
    yield from _corrections(file, used, where)
    yield from _temperatures(file, used, where)
    days = _different([step.day for step in used])
    if days:
        yield Fault.of("different-day", where, f"the readings are from different days, {listed(days)}")


def where_of(file: ClaimsFile, claim: Claim) -> str:
    """The steps of a claim, for a person to find them."""
    return listed([f"'{step.name}'" for step in file.used(claim)])


def _parts(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    where, about = where_of(file, claim), listed(claim.about)
    others = confounded_with(file, claim)
    if others:
        was = "was" if len(others) == 1 else "were"
        what = f"{listed(others)} {was} changed as well as {about}"
        back = "" if _neighbours(file, claim) else "; if it had been put back by then, say so with back_to in that step"
        yield Fault.of("confounded", where, what + back)
    differing = _differing(file, claim)
    missing = [part for part in claim.about if name_key(part) not in differing]
    if missing:
        yield Fault.of("not-changed", where, f"no step between them says that {listed(missing)} was changed")


def _neighbours(file: ClaimsFile, claim: Claim) -> bool:
    """Whether the claim's steps follow each other without a gap."""
    places = sorted({*file.from_places(claim), *file.to_places(claim)})
    return places == list(range(places[0], places[-1] + 1))


def _different(values: list[str | None]) -> list[str]:
    """The values, when they are not all the same; a step that says nothing is taken to be like the first."""
    spelled = {name_key(value): value for value in reversed(values) if value is not None}
    unsaid = None in values and values[0] is None
    if len(spelled) + unsaid < 2:
        return []
    return (["that of the first step"] if unsaid else []) + list(reversed(spelled.values()))


def _engines(used: list[Step], where: str) -> Iterator[Fault]:
    engines = _different([step.engine for step in used])
    if engines:
        yield Fault.of("different-engine", where, f"the readings are from different engines, {listed(engines)}")


def _corrections(file: ClaimsFile, used: list[Step], where: str) -> Iterator[Fault]:
    stated = [file.test.correction if step.correction is None else step.correction for step in used]
    known = [text for text in stated if name_key(text) not in _UNKNOWN]
    spelled = {name_key(text): text for text in reversed(known)}
    if len(spelled) > 1:
        names = list(reversed(spelled.values()))
        what = f"the readings are corrected in different ways, {listed(names)}"
        odd = [name for name in names if name not in _STANDARDS and nearest(name, _STANDARDS)]
        slip = f" (if {listed(odd)} is a slip of the pen, correct the file)" if odd else ""
        yield Fault.of("mixed-corrections", where, what + slip)
    if len(known) < len(stated):
        what = "the test does not say how the readings were corrected for the air"
        weeks = days_apart(used) >= WEEKS_APART
        yield Fault.of(
            "correction-unknown-over-weeks" if weeks else "correction-unknown",
            where,
            what + (f", and they are {days_apart(used)} days apart" if weeks else ""),
        )
    corrected = [text for text in known if name_key(text) not in _NO_CORRECTION]
    if file.engine.breathing == "boosted" and corrected:
        yield Fault.of(
            "boosted-corrected", where, f"a boosted engine, corrected to {listed(list(dict.fromkeys(corrected)))}"
        )


def days_apart(used: Sequence[Step]) -> int:
    """Days between the first and the last of some steps; 0 where fewer than two are dated."""
    dates = []
    for step in used:
        with suppress(ValueError):
            dates.append(dt.date.fromisoformat(step.day or ""))
    return (max(dates) - min(dates)).days if dates else 0


def _temperatures(file: ClaimsFile, used: list[Step], where: str) -> Iterator[Fault]:
    any_said = False
    for key, name in _THERMOMETERS.items():
        said = [value for step in used if (value := getattr(step, key)) is not None]
        any_said |= len(said) == len(used)
        if said and max(said) - min(said) > TEMPERATURE_APART_K:
            yield Fault.of("temperature-differs", where, f"{name} temperature from {min(said):g} to {max(said):g} °C")
    if file.test.temperatures == "not stated" and not any_said:
        yield Fault.of(
            "temperatures-not-stated", where, "the test does not say at which temperatures the pulls were made"
        )


def provenance_faults(file: ClaimsFile) -> Iterator[Fault]:
    """Who paid."""
    if file.test.paid_by == "seller":
        yield Fault.of("paid-by-seller", "the test", "it was paid for by whoever sells the part")
    if file.test.paid_by == "unknown":
        yield Fault.of("payer-unknown", "the test", "it does not say who paid for it")
