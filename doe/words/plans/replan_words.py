"""The ways to plan the rest of a day, in words: what each takes and loses, and how one is taken or taken back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from doe.words.numbers import several, times_in_hundred

Clock = Callable[[float], str]  # minute of the day -> "HH:MM"


class Lost(Protocol):
    """A question of which less is settled."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def before(self) -> float: ...
    @property
    def now(self) -> float: ...
    @property
    def dropped(self) -> bool: ...


class Alternative(Protocol):
    """One way to plan the rest of a day."""

    @property
    def number(self) -> int: ...
    @property
    def name(self) -> str: ...
    @property
    def finish(self) -> float | None: ...
    @property
    def pulls(self) -> int: ...
    @property
    def settled(self) -> float: ...
    @property
    def lost(self) -> Sequence[Lost]: ...
    @property
    def not_randomised(self) -> str | None: ...
    @property
    def same_as(self) -> int | None: ...


def alternatives_lines(
    ways: Sequence[Alternative], questions: int, clock: Clock, taken: str | None = None, *, wished: bool = False
) -> list[str]:
    """One line a way, and below it what is lost; the one that is taken has an asterisk. `wished`: there are wishes."""
    lines = []
    for way in ways:
        about = _about(way, questions, clock, wished=wished)
        lines.append(f" {'*' if way.name == taken else ' '}{way.number}  {way.name}: {about}")
        lines += [f"       {loss}" for loss in _losses(way)]
    return lines


def _about(way: Alternative, questions: int, clock: Clock, *, wished: bool) -> str:
    """What a way takes, and what it settles."""
    if way.finish is None:
        return f"not possible, no pull of it fits{' or it breaks a wish' if wished else ''}"
    if way.same_as is not None:
        return f"the same as {way.same_as}"
    settled = f"{way.settled:.2f} of {several(questions, 'question')} settled"
    return f"{several(way.pulls, 'pull')} that count, done at {clock(way.finish)}, {settled}"


def _losses(way: Alternative) -> list[str]:
    """What is lost of the old plan."""
    if way.same_as is not None:
        return []
    lines = [
        f"{one.factor} {one.level} is {'left out' if one.dropped else f'settled {times_in_hundred(one.now)}'},"
        f" was to be {times_in_hundred(one.before)}"
        for one in way.lost
    ]
    if way.not_randomised:
        lines.append(f"no randomisation test: {way.not_randomised}")
    return lines


def offered_text(ways: Sequence[Alternative], questions: int, clock: Clock, line: str) -> str:
    """The ways that a tester may take; `line` is the command that takes one."""
    shown = alternatives_lines(ways, questions, clock)
    number = next((way.number for way in ways if way.finish is not None), 1)
    return "\n".join([*shown, f"      take one by its number: {line} --take {number}"])


def taken_text(number: int, name: str, undo: str) -> str:
    """Which way was taken, and the line that takes it back; "" where there is no plan to go back to."""
    return f"took {number}, {name}" + (f"; '{undo}' takes it back" if undo else "")


def undone_text(event: int, steps: int) -> str:
    """That the plan before is followed again."""
    return f"the plan before is followed again, {several(steps, 'step')}; the one of event {event} is taken back"
