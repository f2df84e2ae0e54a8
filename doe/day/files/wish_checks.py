"""What the wishes of a day must hold to make sense: parts that exist, and that can be told apart."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from doe.day.configuration import find_part
from doe.day.files.toml_faults import Fault, as_toml
from doe.day.schema import DayFile, Wishes
from doe.errors import InputError

_PLACE = "[wishes]"


def wish_faults(day: DayFile) -> Iterator[Fault]:
    """Every wish that can't be meant."""
    wishes = day.wishes
    if not day.questions:
        if wishes != Wishes():
            yield Fault(_PLACE, "a noise study changes nothing, so there is nothing to wish; leave the wishes out")
        return
    named = {"first": wishes.first, "last": wishes.last}
    faults = [fault for key, text in named.items() if text for fault in _named(day, f"{key} = {as_toml(text)}", text)]
    if not faults and wishes.first and wishes.last and _overlap(day, wishes.first, wishes.last):
        faults.append(Fault(_PLACE, f"first and last = {as_toml(wishes.last)}: expected two different parts"))
    yield from faults
    for pair in wishes.apart:
        shown = f"apart = [{as_toml(list(pair))}]"
        unknown = [fault for text in pair for fault in _named(day, shown, text)]
        yield from unknown
        if not unknown and _one_factor(day, pair):
            yield Fault(_PLACE, f"{shown}: expected two different parts; one part is never on in two ways")


def _named(day: DayFile, shown: str, text: str) -> Iterator[Fault]:
    """What is wrong with the name of a part."""
    try:
        find_part(day, text)
    except InputError as error:
        yield Fault(_PLACE, f"{shown}: {error.faults[0]}")


def _overlap(day: DayFile, first: str, last: str) -> bool:
    return bool(set(find_part(day, first)) & set(find_part(day, last)))


def _one_factor(day: DayFile, pair: tuple[str, str]) -> bool:
    parts = [{factor for factor, _ in find_part(day, text)} for text in pair]
    return any(one & other for one, other in combinations(parts, 2))
