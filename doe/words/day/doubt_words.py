"""What is asked about a pull once it is logged: each question with the lines that answer it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from doe.words.notes import Note
from doe.words.numbers import digits_for
from doe.words.phrases import listed

_VALUE = "VALUE"
TYPED_TWICE = "typed twice"
LEFT_OPEN = "left open: it is logged, and marked; doe fix PULL --keep says that it is right"
_ANSWERS = {
    "next-set": "Enter: yes, the next set's; n: nothing was changed:",
    "sooner-than-a-pull": "Enter keeps it; v takes it out:",
    "typed-twice": "Enter keeps it; v takes it out:",
    "later-than-now": "Enter keeps it; else the time at which it ended, HH:MM:",
    "one-way-part-off": "Enter keeps it; n: it was still on:",
    "other-parts-then": "Enter keeps it; else the time at which it ended, HH:MM:",
}


def asked(code: str, pull: int, question: str) -> Note:
    """A question about a pull, as it is told where nobody can be asked."""
    return Note(code, f"pull {pull}", f"pull {pull}: {question}", "serious")


def off_by(difference: float, unit: str) -> str:
    """How far a number is from what was expected: "18 hp above"."""
    size = abs(difference)
    text = f"{size:.{min(digits_for(size), 3)}f}" if size < 1e6 else f"{size:.3g}"
    return f"{text} {unit}".rstrip() + (" above" if difference > 0 else " below")


def far_from_same_parts(value: str, off: str, pull: int) -> str:
    """A number that is far from those with the same parts."""
    return f"{value} is {off} the other pulls with these parts: keep, or doe record --redo {pull} {_VALUE}?"


def either_is_wrong(value: str, off: str, pull: int, other: str, earlier: int) -> str:
    """Two pulls with the same parts that don't agree: nobody knows which is right."""
    return (
        f"{value} is {off} pull {earlier}, the only other one with these parts: either {other} or this one is wrong:"
        f" keep both, or doe record --redo {pull} {_VALUE}, or doe record --redo {earlier} {_VALUE}?"
    )


def far_from_baseline(value: str, pull: int) -> str:
    """The first pull with new parts, further from the baseline than parts move an engine; by how much is not told."""
    return f"{value} is more than 10 % off the baseline: keep, or doe record --redo {pull} {_VALUE}?"


def far_from_all(value: float, middle: float, pull: int) -> str:
    """A pull that doesn't count, further off than a cold engine is."""
    return f"{value:g} is far from the pulls so far ({middle:.4g}): keep, or doe record --redo {pull} {_VALUE}?"


def too_soon(gap: float, before: int, takes: float, pull: int) -> str:
    """A pull sooner than one can be made."""
    passed = f"{60 * gap:.0f} s" if gap < 1 else f"{gap:.1f} min"
    return (
        f'{passed} after pull {before}, and a pull takes {takes:g} min: keep, or doe void {pull} --why "{TYPED_TWICE}"?'
        f" If it ended at another time: doe record --redo {pull} --time HH:MM"
    )


def unheeded_text(options: Sequence[str]) -> str:
    """Why a pull doesn't count that was typed with options that can't be; "" without any."""
    return f"typed with {listed(list(options))}, which can't be" if options else ""


def unheeded(options: Sequence[str], value: str, pull: int) -> str:
    """The same as a question, with the line that answers it."""
    line = f"doe record {value} --redo {pull}".replace("  ", " ")
    return (
        f"{unheeded_text(options)}: it doesn't count until you say what was on: {line} --set FACTOR=LEVEL; or {line},"
        " where it is right as doe log shows it"
    )


def later_than_now(said: dt.datetime, now: dt.datetime, pull: int) -> str:
    """A pull that would have ended only later."""
    date = "" if said.date() == now.date() else f"{said:%Y-%m-%d} "
    return f"{date}{said:%H:%M} is later than now, {now:%H:%M}: when did it end? doe record --redo {pull} --time HH:MM"


def other_parts_then(said: dt.datetime, other: int, parts: str, instead: int, pull: int) -> str:
    """A pull that was logged again, at a time at which something else was on or fitted anew."""
    return (
        f"it stands in the place of pull {instead}, with its parts and fitting; at {said:%H:%M} those of pull {other}"
        f" were on ({parts}). Another time? doe record --redo {pull} --time HH:MM. A new pull? doe void {pull} --why"
        f' "a new pull", then doe record {_VALUE} --time {said:%H:%M}'
    )


def taken_off(factor: str, level: str, before: str, earlier: str, again: str) -> str:
    """A pull without a part that can't be taken back.

    Parameters
    ----------
    factor, level : str
        What the pull says.
    before : str
        The pull that had the part on, and the part.
    earlier, again : str
        What to type where that pull is wrong, and where this one is.
    """
    return (
        f"{factor} can't be taken back by day.toml, and {before}: was it still {level}? Then that pull is"
        f" wrong: {earlier}. Was it on? {again}"
    )


def off_later(factor: str, after: str, later: str, again: str) -> str:
    """A pull with a part that can't be taken back, before one without it; `later` and `again` put either right."""
    return (
        f"{factor} can't be taken back by day.toml, and {after}: was it on here? Then that pull is wrong: {later}."
        f" Was it not? {again}"
    )


def typed_twice(value: str, before: int, pull: int) -> str:
    """The number of the pull before once more."""
    return f'{value} is the number of pull {before} again: keep, or doe void {pull} --why "{TYPED_TWICE}"?'


def answers_to(code: str, pull: int) -> str:
    """What may be typed to a question."""
    if code == "one-of-two-is-wrong":
        return f"Enter keeps both; the right number of pull {pull}; or another pull and its right number:"
    return _ANSWERS.get(code, "Enter keeps it; else the right number:")


def next_set(passed: float, before: int, parts: str, steps: Sequence[int], clock: str, otherwise: str) -> str:
    """A pull that the clock says is the next set's first.

    Parameters
    ----------
    passed : float
        Minutes since the pull before.
    before : int
        The number of that pull.
    parts : str
        What the pull was taken to be made with.
    steps : sequence of int
        Planned steps that seem to be missing.
    clock : str
        When the first of them would have ended.
    otherwise : str
        What to type where nothing was changed.
    """
    missing = listed([str(step) for step in steps])
    one = len(steps) == 1
    return (
        f"{passed:.0f} min after pull {before} it is taken as the next set's first ({parts}):"
        f" {'step' if one else 'steps'} {missing} of the set before {'is' if one else 'are'} not logged. Made and"
        f" forgotten? doe record {_VALUE} --time {clock}. Was nothing changed? {otherwise}"
    )
