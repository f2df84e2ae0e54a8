"""The ways to plan the rest of a day, in words: what each takes and loses, and how one is taken or taken back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from doe.words.numbers import duration, several, times_in_hundred
from doe.words.phrases import listed

_NOTICED = 0.05  # of a question: what a drift that bends takes from a way is told from here on
BREAKS_A_WISH, LACKS_A_PART = "it breaks a wish", "it has no pull with what joins"
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
    def changeovers(self) -> int: ...
    @property
    def settled(self) -> float: ...
    @property
    def weighed(self) -> float: ...
    @property
    def lost(self) -> Sequence[Lost]: ...
    @property
    def not_randomised(self) -> str | None: ...
    @property
    def same_as(self) -> int | None: ...
    @property
    def no_better_than(self) -> int | None: ...


def alternatives_lines(
    ways: Sequence[Alternative], questions: int, clock: Clock, taken: str | None = None, must: Sequence[str] = ()
) -> list[str]:
    """One line a way, and below it what is lost; the one that is taken has an asterisk.

    `must`: what a plan may fail in besides the clock, as `BREAKS_A_WISH`.
    """
    lines = []
    bends = _bend_matters([way for way in ways if _is_shown(way, asked_for=way.name == taken)])
    for way in ways:
        asked_for = way.name == taken
        about = _about(way, questions, clock, must, asked_for=asked_for, bends=bends)
        lines.append(f" {'*' if asked_for else ' '}{way.number}  {way.name}: {about}")
        lines += [f"       {loss}" for loss in _losses(way, asked_for=asked_for)]
    return [*lines, *(["    the best is the way that settles most even if the drift bends"] if bends else [])]


def _is_shown(way: Alternative, *, asked_for: bool) -> bool:
    """Whether the figures of a way are shown."""
    return way.finish is not None and way.same_as is None and (way.no_better_than is None or asked_for)


def _bend_matters(shown: Sequence[Alternative]) -> bool:
    """Whether a drift that bends takes much of a way that is shown, or makes another one the best."""
    most = max((round(way.settled, 2) for way in shown), default=0.0)
    best = max(shown, key=lambda way: way.weighed, default=None)
    return best is not None and (
        round(best.settled, 2) < most or any(way.settled - way.weighed >= _NOTICED for way in shown)
    )


def _about(way: Alternative, questions: int, clock: Clock, must: Sequence[str], *, asked_for: bool, bends: bool) -> str:
    """What a way takes, and what it settles; why it is no choice where it is none."""
    if way.finish is None:
        return f"not possible, {' or '.join(['nothing of it that fits would answer a question', *must])}"
    if way.same_as is not None:
        return f"the same as {way.same_as}"
    no_better = "" if way.no_better_than is None else _no_better(way.no_better_than)
    if no_better and not asked_for:
        return f"not offered, for {no_better}"
    pulls = f"{several(way.pulls, 'pull')} that count, {several(way.changeovers, 'changeover')}"
    settled = f"{way.settled:.2f} of {several(questions, 'question')} settled"
    settled += f", {way.weighed:.2f} if the drift bends" if bends else ""
    return f"{pulls}, done at {clock(way.finish)}, {settled}" + (f"; {no_better}" if no_better else "")


def _no_better(other: int) -> str:
    return f"{other} settles as much, no later and with no more changeovers"


def _losses(way: Alternative, *, asked_for: bool) -> list[str]:
    """What is lost of the old plan."""
    if not _is_shown(way, asked_for=asked_for):
        return []
    lines = [
        f"{one.factor} {one.level} is {'left out' if one.dropped else f'settled {times_in_hundred(one.now)}'},"
        f" was to be {times_in_hundred(one.before)}"
        for one in way.lost
    ]
    if way.not_randomised:
        lines.append(f"no randomisation test: {way.not_randomised}")
    return lines


def break_is_over(told: str, end: str, begin: str) -> str:
    """Why a break that lies behind is refused."""
    return (
        f"{told}: it ended at {end}, and the rest is planned from {begin} on: a break that was taken shows in the times"
        " of the pulls; leave it out, or put its time right"
    )


def break_with_pulls(told: str, pulls: Sequence[int], log: str) -> str:
    """Why a break is refused in which pulls were made; `log`: the line that shows them."""
    which = f"pull {pulls[0]} was" if len(pulls) == 1 else f"pulls {listed([str(number) for number in pulls])} were"
    return f"{told}: {which} made in it, so it was no break; put its time right ('{log}' shows the pulls' times)"


def nothing_fits(
    finish: str, left: float, *, pull_fits: bool, slow: Sequence[tuple[str, float]], by_clock: bool, judge: str
) -> str:
    """Why the rest of a day can't be planned, and what is left to do.

    Parameters
    ----------
    finish : str
        Of the day, with its date.
    left : float
        Until then [min]; not above 0 where it has passed.
    pull_fits : bool
        Whether a pull of what is fitted does.
    slow : sequence of (str, float)
        The changes that can't be on by then, with the minutes that putting them on takes.
    by_clock : bool
        Whether the rest begins by the clock; else with the last pull, as on any other date than the day's.
    judge : str
        The line that judges what was made.
    """
    if left <= 0:
        why = f"no further set fits into the day: its finish, {finish}, has passed"
    else:
        takes = listed([f"{name} takes {minutes:g} min to put on" for name, minutes in slow]) if slow else ""
        why = f"no further set that would answer anything fits into the {duration(left)} until {finish}"
        why += f" ({takes})" if takes else ""
    ways = [f"'{judge}' judges what was made", "a later --finish gives more hours"]
    ways += ["pulls that are made all the same can be logged"] if pull_fits else []
    ways += [] if by_clock else ["is the day made today?  then put today's date into [day] of day.toml"]
    return "; ".join([why, *ways])


def a_new_part(factor: str, level: str) -> str:
    """What to type where a part joins that day.toml hasn't."""
    return (
        f"for a new part say what its changeover takes: --add '{factor}={level}:GAIN' --fitting-minutes 12 where it is"
        " taken apart and fitted, --switching-minutes 2 where a lever or a number is changed"
    )


class NewPart(Protocol):
    """A part that joins a day."""

    @property
    def name(self) -> str: ...
    @property
    def baseline(self) -> str: ...
    @property
    def refit(self) -> bool: ...
    @property
    def from_pull(self) -> int | None: ...


def new_part_text(part: NewPart, level: str, minutes: float, settling: int) -> str:
    """What is taken of a part that joins, and where it is put right."""
    so_far = (part.from_pull or 1) - 1
    kind = "each fitting with a scatter of its own" if part.refit else "switched, so without a scatter of its own"
    thrown = several(settling, "throw-away pull") if settling else "no throw-away pull"
    return (
        f"{part.name} {level} joins. Taken for granted: {several(so_far, 'pull')} so far {part.baseline} it;"
        f" {minutes:g} min on and off; {kind}; {thrown} after it. day.toml has it now: put it right there"
    )


def offered_text(ways: Sequence[Alternative], questions: int, clock: Clock, line: str, best: str) -> str:
    """The ways that a tester may take, the best with an asterisk; `line` is the command that takes one."""
    number = next((way.number for way in ways if way.name == best), 1)
    shown = alternatives_lines(ways, questions, clock, best)
    return "\n".join([*shown, f"      take the best (*), or another by its number: {line} --take {number}"])


def taken_text(number: int, name: str, undo: str) -> str:
    """Which way was taken, and the line that takes it back; "" where there is no plan to go back to."""
    return f"took {number}, {name}" + (f"; '{undo}' takes it back" if undo else "")


def undone_text(event: int, steps: int) -> str:
    """That the plan before is followed again."""
    return f"the plan before is followed again, {several(steps, 'step')}; the one of event {event} is taken back"
