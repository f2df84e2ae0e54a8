"""What ``doe plan`` is told to wish on the command line, put together for the library."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from doe.cli.day.change_values import option_name_and_value

if TYPE_CHECKING:
    from doe.day.schema import DayFile
    from doe.planning.wishes.wished import MoreWishes

OneAtATime = Annotated[bool, typer.Option("--one-at-a-time", help="Wish: never two changes on together.")]
MaxChangeovers = Annotated[
    int | None, typer.Option(min=0, metavar="N", help="Wish: stop to change something N times at most.")
]
MinPulls = Annotated[int | None, typer.Option(min=1, metavar="N", help="Wish: N pulls or more in every set.")]
First = Annotated[str | None, typer.Option(metavar="PART", help="Wish: be done with this part before any other.")]
Last = Annotated[str | None, typer.Option(metavar="PART", help="Wish: be done with every other part before this one.")]
Apart = Annotated[
    list[str] | None, typer.Option(metavar="PART:PART", help="Wish: these two never on together; repeatable.")
]
Supply = Annotated[
    list[str] | None,
    typer.Option(metavar="PART=LEVEL:N", help="Wish: fit this level N times at most; repeatable."),
]


def more_wishes(
    day: DayFile,
    *,
    one_at_a_time: bool,
    max_changeovers: int | None,
    min_pulls: int | None,
    first: str | None,
    last: str | None,
    apart: Sequence[str] | None,
    supply: Sequence[str] | None,
) -> MoreWishes:
    """The wishes of the options, with the names as day.toml has them.

    Raises
    ------
    InputError
        A part or a number that can't be meant.
    """
    from doe.planning.wishes.wished import MoreWishes

    return MoreWishes(
        one_at_a_time=one_at_a_time,
        max_changeovers=max_changeovers,
        min_pulls=min_pulls,
        first=None if first is None else _part(day, "--first", first),
        last=None if last is None else _part(day, "--last", last),
        apart=tuple(_pair(day, text) for text in apart or []),
        supply=dict(_fittings(day, text) for text in supply or []),
    )


def _part(day: DayFile, option: str, text: str) -> str:
    """The part's name, or that of one of its levels, as day.toml has it."""
    from doe.day.configuration import find_part
    from doe.errors import InputError

    try:
        found = find_part(day, text)
    except InputError as error:
        raise InputError(f"{option} {text}: {error.faults[0]}") from None
    factor, level = found[0]
    whole = sum(one.name == factor for one, _ in day.questions)
    return factor if len(found) == whole else f"{factor}={level}"


def _pair(day: DayFile, text: str) -> tuple[str, str]:
    from doe.errors import InputError

    parts = text.split(":")
    if len(parts) != 2 or not all(part.strip() for part in parts):
        raise InputError(f"--apart {text}: expected two parts, PART:PART")
    return _part(day, "--apart", parts[0].strip()), _part(day, "--apart", parts[1].strip())


def _fittings(day: DayFile, text: str) -> tuple[tuple[str, str], int]:
    """A level, of the baseline too, and how often there is material for it."""
    from doe.day.configuration import find_change, find_setting
    from doe.errors import InputError

    name, value = option_name_and_value("--supply", text, "PART=LEVEL:3")
    if not value.isdigit():
        raise InputError(f"--supply {text}: expected a whole number of fittings, not '{value}'")
    if "=" in name:
        factor, level = find_setting(day, name)
        return (factor.name, level), int(value)
    factor, change = find_change(day, name)
    return (factor.name, change.level), int(value)
