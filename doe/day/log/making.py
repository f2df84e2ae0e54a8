"""The pulls in the order of making: one that was logged again, or entered late, stands where it was made."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence

from doe.day.records import Pull

Place = tuple[int, dt.datetime, int]
_NOT_LATE = dt.datetime.min


def in_order_of_making(pulls: Sequence[Pull]) -> tuple[Pull, ...]:
    """The pulls with each one that was logged again in the place of the voided one."""
    instead_of = _instead_of(pulls)
    place, replaced = _placing(pulls, instead_of), set(instead_of.values())
    return tuple(sorted((pull for pull in pulls if pull.number not in replaced), key=place))


def with_replaced(pulls: Sequence[Pull]) -> tuple[Pull, ...]:
    """All pulls in the order of making, each voided one right before the one that was logged in its place."""
    return tuple(sorted(pulls, key=_placing(pulls, _instead_of(pulls))))


def made_before(pulls: Sequence[Pull], number: int) -> tuple[Pull, ...]:
    """The pulls that were made before the one with this number, in the order of making."""
    place = _placing(pulls, _instead_of(pulls))
    first = next((place(pull)[0] for pull in pulls if pull.number == number), None)
    made = in_order_of_making(pulls)
    return made if first is None else tuple(pull for pull in made if place(pull)[0] < first)


def stands_for(pulls: Sequence[Pull], number: int) -> int:
    """The pull in whose place one was logged, the first of several; itself where it is in nobody's place."""
    return _first(number, _instead_of(pulls))


def stands_now(pulls: Sequence[Pull], number: int) -> int:
    """The pull that was logged last in the place of one; itself where none was."""
    later = {earlier: pull for pull, earlier in sorted(_instead_of(pulls).items())}
    while number in later:
        number = later[number]
    return number


def crossed_by(made: Sequence[Pull], pull: Pull, moment: dt.datetime) -> Pull | None:
    """The pull with other parts or another fitting beyond which one would lie at a moment; the furthest, None without.

    Parameters
    ----------
    made : sequence of Pull
        In the order of making.
    pull : Pull
        One of them.
    moment : datetime
        Without offset.
    """
    at = [one.number for one in made].index(pull.number)
    behind = [one for one in reversed(made[at + 1 :]) if one.time is not None and one.time <= moment]
    ahead = [one for one in made[:at] if one.time is not None and one.time > moment]
    same = (pull.install, pull.configuration)
    return next((one for one in (*behind, *ahead) if (one.install, one.configuration) != same), None)


def stands_behind(pulls: Sequence[Pull], before: Pull | None) -> int:
    """The number to note of a late pull: of the one that was made `before` it, or that one's place; 0 for none."""
    return _placing(pulls, _instead_of(pulls))(before)[0][0] if before else 0


def place_of(number: int, moments: Mapping[int, dt.datetime | None], late: Mapping[int, int]) -> Place:
    """For sorting: behind the pull that it was made after, several such ones by their time.

    Parameters
    ----------
    number : int
        Of a pull that is in nobody's place.
    moments : mapping of int to datetime
        When each pull ended, without offset.
    late : mapping of int to int
        Pull entered late -> the one, not late itself, that it was made after.
    """
    return (late[number], moments.get(number) or _NOT_LATE, number) if number in late else (number, _NOT_LATE, 0)


def _placing(pulls: Sequence[Pull], instead_of: Mapping[int, int]) -> Callable[[Pull], tuple[Place, int]]:
    """What to sort pulls by: the place of the one that was logged first there, then their numbers."""
    moments = {pull.number: pull.time for pull in pulls}
    late = {pull.number: pull.after for pull in pulls if pull.after is not None}
    if not (late or instead_of):
        return lambda pull: ((pull.number, _NOT_LATE, 0), pull.number)
    return lambda pull: (place_of(_first(pull.number, instead_of), moments, late), pull.number)


def _instead_of(pulls: Sequence[Pull]) -> dict[int, int]:
    """Pull -> the earlier, voided one that it was logged in place of: as its event says, or at the same time."""
    voided = [pull for pull in pulls if pull.void is not None]
    if not voided:
        return {}
    void = {pull.number for pull in voided}
    named = {pull.number: pull.redo for pull in pulls if pull.redo is not None and pull.redo in void}
    taken = set(named.values())
    at = {pull.time: pull.number for pull in reversed(voided) if pull.time and pull.number not in taken}
    by_hand = {pull.number: at[pull.time] for pull in pulls if pull.void is None and pull.time in at}
    return {later: earlier for later, earlier in {**by_hand, **named}.items() if later > earlier}


def _first(number: int, instead_of: Mapping[int, int]) -> int:
    """The pull that was logged first in this place."""
    while number in instead_of:
        number = instead_of[number]
    return number
