"""Which part and which level a tester means: by name, by a part of it, by number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from doe.day.names import level_key, name_key
from doe.day.schema import Change, DayFile, Factor
from doe.day.suggest import did_you_mean, nearest
from doe.errors import InputError

Choice = TypeVar("Choice")

# How well a word fits a name; the best fit decides, and it must be the only one of its kind.
_SAME, _SAME_LEVEL, _BEGINNING, _PART, _NOT = 0, 1, 2, 3, 99


def match_level(factor: Factor, text: str) -> str:
    """The level that a cell of a table means: without case or space, or the same in a spreadsheet (see `level_key`).

    Raises
    ------
    InputError
        No such level, or two that fit; the message names those that exist.
    """
    fits = [(_fit(text, level), level) for level in factor.levels]
    found = [level for fit, level in fits if fit == _SAME] or [level for fit, level in fits if fit == _SAME_LEVEL]
    if len(found) == 1:
        return found[0]
    if found:
        raise InputError(f"'{text}' could be {' or '.join(found)} of {factor.name}; write the level in full")
    close = nearest(text, factor.levels)
    hint = f"; did you mean '{close}'?" if close else ""
    raise InputError(f"'{text}' is no level of {factor.name}; expected {' or '.join(factor.levels)}{hint}")


def find_factor(day: DayFile, text: str) -> Factor:
    """The factor with this name, or the only one with this part in its name.

    Raises
    ------
    InputError
        None or several.
    """
    factors = [(_fit(text, factor.name), factor) for factor in day.factor]
    return _only(text, factors, "a part in day.toml", lambda factor: factor.name)


def find_setting(day: DayFile, text: str) -> tuple[Factor, str]:
    """The factor and level, baseline or change, in "oil=0W-20" or any unambiguous part of it ("vac=on").

    Raises
    ------
    InputError
        None or several, or no equals sign.
    """
    name, equals, wanted = text.partition("=")
    if not equals:
        raise InputError(f"'{text}': expected FACTOR=LEVEL, such as {day.factor[0].name}={day.factor[0].levels[-1]}")
    return _only(
        text,
        [
            (_both(_fit(name, factor.name), _fit(wanted, level)), (factor, level))
            for factor in day.factor
            for level in factor.levels
        ],
        "a part with this level in day.toml",
        lambda setting: f"{setting[0].name}={setting[1]}",
    )


def find_change(day: DayFile, text: str) -> tuple[Factor, Change]:
    """The change that is meant: "oil=0W-20", its level or its factor if unique, or any unambiguous part of it.

    A part that a name begins with counts before one in its middle: "5W" is 5W-30 and not 15W-50.

    Raises
    ------
    InputError
        None or several, or the level is the baseline.
    """
    if "=" in text:
        factor, level = find_setting(day, text)
        change = factor.change_of(level)
        if change is None:
            raise InputError(f"'{text}': {level} is the baseline of {factor.name}, not a change")
        return factor, change
    questions = [
        (min(_fit(text, factor.name), _fit(text, change.level)), (factor, change)) for factor, change in day.questions
    ]
    return _only(text, questions, "a change in day.toml", lambda question: f"{question[0].name}={question[1].level}")


def find_part(day: DayFile, text: str) -> tuple[tuple[str, str], ...]:
    """The changes that are meant, as (factor, level): all of a part, or one of them.

    Raises
    ------
    InputError
        None, several parts, or a baseline.
    """
    for factor in day.factor:
        if name_key(text) == name_key(factor.name):
            return tuple((factor.name, change.level) for change in factor.change)
    try:
        factor, change = find_change(day, text)
    except InputError as error:
        try:
            factor = find_factor(day, text)
        except InputError:
            raise error from None
        return tuple((factor.name, change.level) for change in factor.change)
    return ((factor.name, change.level),)


def _fit(text: str, name: str) -> int:
    """How well a word fits a name."""
    word, full = name_key(text), name_key(name)
    if word == full:
        return _SAME
    if level_key(text) == level_key(name):
        return _SAME_LEVEL
    if word and full.startswith(word):
        return _BEGINNING
    return _PART if word and word in full else _NOT


def _both(factor_fit: int, level_fit: int) -> int:
    """The fit of a factor and its level together: both must fit, the factor's name weighs more."""
    return _NOT if _NOT in (factor_fit, level_fit) else 10 * factor_fit + level_fit


def _only(text: str, fits: Sequence[tuple[int, Choice]], what: str, name: Callable[[Choice], str]) -> Choice:
    """The one choice that fits best.

    Raises
    ------
    InputError
        None fits, or several fit equally well.
    """
    best = min((fit for fit, _ in fits), default=_NOT)
    found = [choice for fit, choice in fits if fit == best]
    if best == _NOT:
        raise InputError(f"'{text}' is not {what}; {did_you_mean(text, [name(choice) for _, choice in fits])}")
    if len(found) > 1:
        raise InputError(f"'{text}' could be {' or '.join(name(choice) for choice in found)}; write more of the name")
    return found[0]
