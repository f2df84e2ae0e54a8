"""The pulls in the order of making: one that was logged again stands in the place of the voided one."""

from __future__ import annotations

from collections.abc import Sequence

from doe.day.records import Pull


def in_order_of_making(pulls: Sequence[Pull]) -> tuple[Pull, ...]:
    """The pulls with each one that was logged again in the place of the voided one."""
    instead_of = _instead_of(pulls)
    replaced = set(instead_of.values())
    kept = [pull for pull in pulls if pull.number not in replaced]
    return tuple(sorted(kept, key=lambda pull: (_first(pull.number, instead_of), pull.number)))


def with_replaced(pulls: Sequence[Pull]) -> tuple[Pull, ...]:
    """All pulls in the order of making, each voided one right before the one that was logged in its place."""
    instead_of = _instead_of(pulls)
    return tuple(sorted(pulls, key=lambda pull: (_first(pull.number, instead_of), pull.number)))


def made_before(pulls: Sequence[Pull], number: int) -> tuple[Pull, ...]:
    """The pulls that were made before the one with this number, in the order of making."""
    instead_of = _instead_of(pulls)
    first = _first(number, instead_of)
    return tuple(pull for pull in in_order_of_making(pulls) if _first(pull.number, instead_of) < first)


def _instead_of(pulls: Sequence[Pull]) -> dict[int, int]:
    """Pull -> the earlier, voided one that it was logged in place of: as its event says, or at the same time."""
    voided = [pull for pull in pulls if pull.void is not None]
    void = {pull.number for pull in voided}
    named = {pull.number: pull.redo for pull in pulls if pull.redo is not None and pull.redo in void}
    taken = set(named.values())
    at = {pull.time: pull.number for pull in reversed(voided) if pull.time and pull.number not in taken}
    by_hand = {pull.number: at[pull.time] for pull in pulls if pull.void is None and pull.time in at}
    return {later: earlier for later, earlier in {**by_hand, **named}.items() if later > earlier}


def _first(number: int, instead_of: dict[int, int]) -> int:
    """The pull that was logged first in this place."""
    while number in instead_of:
        number = instead_of[number]
    return number
