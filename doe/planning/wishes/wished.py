"""The wishes of a day, one by one, each with the day as it would be without it; and a day with further wishes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from doe.day.bring.parts_moved import moves_of, times_entered
from doe.day.files.wish_checks import wish_faults
from doe.day.records import Pull
from doe.day.schema import DayFile, Factor
from doe.errors import InputError
from doe.words.plans import wish_words


@dataclass(frozen=True, slots=True)
class MoreWishes:
    """What is wished beside day.toml; parts by names as `doe.day.configuration.find_part` takes them."""

    one_at_a_time: bool = False
    max_changeovers: int | None = None
    min_pulls: int | None = None
    first: str | None = None
    last: str | None = None
    apart: tuple[tuple[str, str], ...] = ()
    supply: Mapping[tuple[str, str], int] = field(default_factory=dict)  #: fittings, by factor and level

    def __bool__(self) -> bool:
        return self != MoreWishes()


NOTHING_MORE = MoreWishes()


@dataclass(frozen=True, slots=True)
class Wish:
    """One wish."""

    key: str  #: as in day.toml
    value: Any  #: as JSON has it
    text: str
    without: DayFile  #: the day without this wish


def with_wishes(day: DayFile, more: MoreWishes) -> DayFile:
    """The day with further wishes; they take the place of those of day.toml, but for pairs apart, which join them.

    Raises
    ------
    InputError
        A wish that can't be meant.
    """
    if not more:
        return day
    said = {
        "one_at_a_time": more.one_at_a_time or None,
        "max_changeovers": more.max_changeovers,
        "min_pulls": more.min_pulls,
        "first": more.first,
        "last": more.last,
        "apart": (*day.wishes.apart, *more.apart),
    }
    wishes = day.wishes.model_copy(update={key: value for key, value in said.items() if value is not None})
    for (factor, level), times in more.supply.items():
        day = _with_supply(day, factor, level, times)
    wished = day.model_copy(update={"wishes": wishes})
    if faults := [fault.what for fault in wish_faults(wished)]:
        raise InputError(faults)
    return wished


def left_of_wishes(day: DayFile, pulls: Sequence[Pull]) -> DayFile:
    """The day with what its changeovers and its supply have left after the pulls made; day.toml counts whole days."""
    moves = moves_of(day, pulls)
    used = times_entered(moves)
    if day.wishes.max_changeovers is not None:
        left = max(day.wishes.max_changeovers - sum(map(bool, moves)), 0)
        day = day.model_copy(update={"wishes": day.wishes.model_copy(update={"max_changeovers": left})})
    for wish in list(_supplies(day)):
        name, level, supply = wish.value["factor"], wish.value["level"], wish.value["supply"]
        day = _with_supply(day, name, level, max(supply - used[name, level], 0))
    return day


def wishes_of(day: DayFile) -> list[Wish]:
    """Every wish of a day, with the day as it would be without it."""
    return [*_of_table(day), *_supplies(day), *_alone(day)]


def without_wishes(day: DayFile) -> DayFile:
    """The day without any wish."""
    while wishes := wishes_of(day):
        day = wishes[0].without
    return day


def _of_table(day: DayFile) -> Iterator[Wish]:
    wishes = day.wishes
    texts = {
        "one_at_a_time": wish_words.one_at_a_time() if wishes.one_at_a_time else "",
        "max_changeovers": "" if wishes.max_changeovers is None else wish_words.max_changeovers(wishes.max_changeovers),
        "min_pulls": "" if wishes.min_pulls is None else wish_words.min_pulls(wishes.min_pulls),
        "first": wishes.first and wish_words.first(wishes.first),
        "last": wishes.last and wish_words.last(wishes.last),
    }
    for key, text in texts.items():
        if text:
            default = type(wishes).model_fields[key].default
            without = wishes.model_copy(update={key: default})
            yield Wish(key, getattr(wishes, key), text, day.model_copy(update={"wishes": without}))
    for number, pair in enumerate(wishes.apart):
        rest = wishes.model_copy(update={"apart": wishes.apart[:number] + wishes.apart[number + 1 :]})
        yield Wish("apart", list(pair), wish_words.apart(*pair), day.model_copy(update={"wishes": rest}))


def _supplies(day: DayFile) -> Iterator[Wish]:
    for factor in day.factor:
        for level in factor.levels:
            change = factor.change_of(level)
            times = change.supply if change else factor.baseline_supply
            if times is not None:
                value = {"factor": factor.name, "level": level, "supply": times}
                text = wish_words.supply(factor.name, level, times)
                yield Wish("supply", value, text, _with_supply(day, factor.name, level, None))


def _alone(day: DayFile) -> Iterator[Wish]:
    """Parts that are to be tested by themselves, where there is any other."""
    for factor in day.factor:
        if factor.alone and len(day.factor) > 1:
            yield Wish(
                "alone",
                factor.name,
                wish_words.alone(factor.name),
                _with_factor(day, factor, factor.model_copy(update={"alone": False})),
            )


def _with_supply(day: DayFile, name: str, level: str, times: int | None) -> DayFile:
    """The day with another number of fittings of a level."""
    factor = next(factor for factor in day.factor if factor.name == name)
    if level == factor.baseline:
        return _with_factor(day, factor, factor.model_copy(update={"baseline_supply": times}))
    changes = tuple(
        change.model_copy(update={"supply": times}) if change.level == level else change for change in factor.change
    )
    return _with_factor(day, factor, factor.model_copy(update={"change": changes}))


def _with_factor(day: DayFile, old: Factor, new: Factor) -> DayFile:
    return day.model_copy(update={"factor": tuple(new if factor is old else factor for factor in day.factor)})
