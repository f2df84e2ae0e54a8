"""What is asked about a pull once it is logged: a number typed wrong, typed twice, too soon, or of another set."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from doe.day.clock import clock_text
from doe.day.log.marks.asked import AHEAD, UNHEEDED, Doubt
from doe.day.pilot.entries import Entry
from doe.day.pilot.slips.forgotten import Forgotten
from doe.day.pilot.slips.prediction import predicted, scatter_of
from doe.day.pilot.standing import Standing
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.day.tables import number_text
from doe.words.day import doubt_words as words
from doe.words.day.pull_words import fitted_text, setting_text

# The first pull with new parts: no part that is worth a day moves an engine so far, and a gain that is told before a
# look would be a look.
_NEW_PARTS_SHARE = 0.1
# A pull that does not count may lie further off: a cold engine, an oil that has not settled.
_NOT_COUNTED_SHARE = 0.2
# Nobody is that much faster than day.toml says; the same number again needs less to be odd.
_AHEAD_OF_NOW = dt.timedelta(minutes=2)  # the clock on the wall, against the machine's
_SOON_SHARE, _SAME_SOON_SHARE = 0.4, 0.75
# Asked where an honest pull does so less often than this.
_RARE = 1e-3

FAR, EITHER, NEW_PARTS, SOON, TWICE, NEXT_SET, OTHER_PARTS, TAKEN_OFF, OFF_LATER = (
    "far-from-same-parts", "one-of-two-is-wrong", "far-from-baseline", "sooner-than-a-pull", "typed-twice", "next-set",
    "other-parts-then", "one-way-part-off", "one-way-part-off-later"
)  # fmt: skip
OF_THE_NUMBER = (FAR, EITHER, NEW_PARTS)
"""Codes of what is asked about a number: a pull in question says nothing of others."""


def doubts_about(
    standing: Standing,
    entry: Entry,
    pull: Pull,
    forgotten: Forgotten | None,
    *,
    crossed: Pull | None,
    now: dt.datetime,
    behind: Sequence[Pull] = (),
) -> tuple[Doubt, ...]:
    """Everything to ask about a pull.

    Parameters
    ----------
    standing : Standing
        The day before this pull.
    entry : Entry
        What the tester said.
    pull : Pull
        As it will be logged.
    forgotten : Forgotten, optional
        Why it was taken for one of the next set.
    crossed : Pull, optional
        Logged again at another time, it would lie beyond this pull, which has other parts or another fitting.
    now : datetime
        When it was typed, without offset.
    behind : sequence of Pull
        What was made after it, where it is entered late or logged again.
    """
    found = [] if forgotten is None else [_next_set(standing, pull, forgotten)]
    found += _taken_off(standing, pull) or _off_later(standing, pull, behind)
    if entry.unheeded:
        value = number_text(entry.value) if entry.value is not None else ""
        found.append(Doubt(pull.number, UNHEEDED, words.unheeded(entry.unheeded, value, pull.number)))
    if pull.time is not None and is_ahead(standing.day, entry, pull.time, now):
        found.append(Doubt(pull.number, AHEAD, words.later_than_now(pull.time, now, pull.number)))
    elif crossed is not None and pull.time is not None and pull.void is None:
        parts = fitted_text(standing.day, crossed.configuration)
        text = words.other_parts_then(pull.time, crossed.number, parts, entry.redo or 0, pull.number)
        found.append(Doubt(pull.number, OTHER_PARTS, text))
    if pull.void is None and standing.day.metric.name in pull.values:
        again = _typed_again(standing, entry, pull)
        if again and again.code == TWICE:
            return (*found, again)
        found += list(_about_the_number(standing, entry, pull)) or ([again] if again else [])
    return tuple(found)


def is_ahead(day: DayFile, entry: Entry, moment: dt.datetime, now: dt.datetime) -> bool:
    """Whether a time that was said lies clearly after now; on another date than the day's the clock says nothing."""
    return entry.time is not None and day.is_on(now) and moment - now > _AHEAD_OF_NOW


def _next_set(standing: Standing, pull: Pull, forgotten: Forgotten) -> Doubt:
    """The pull was taken for the first of the next set: what seems to be missing, and what to type where it was not."""
    day, before = standing.day, standing.last
    steps = [run.run for run in forgotten.missing]
    was = before.configuration if before else day.baseline
    otherwise = [setting_text(name, level) for name, level in was.items() if pull.configuration[name] != level]
    back = "".join(f" --set {setting}" for setting in otherwise)
    if not back:  # the same part fitted afresh: nothing but the step and the fitting tells them apart
        back = f" --run {steps[0]} --install {standing.install}"
    text = words.next_set(
        forgotten.passed,
        before.number if before else 0,
        fitted_text(day, pull.configuration),
        steps,
        clock_text(day, forgotten.first),
        f"doe record --redo {pull.number}{back}",
    )
    return Doubt(pull.number, NEXT_SET, text, tuple(steps))


def _taken_off(standing: Standing, pull: Pull) -> list[Doubt]:
    """A pull without a one-way part that an earlier one had on: one of the two is wrong."""
    off = [name for name, level in standing.stuck.items() if pull.configuration[name] != level]
    if not off or pull.void is not None:
        return []
    since = standing.stuck_since[off[0]]
    level = pull.configuration[off[0]]
    back = "".join(f" --set {setting_text(name, standing.stuck[name])}" for name in off)
    text = words.taken_off(
        off[0],
        level,
        f"pull {since.number} had {off[0]} {since.configuration[off[0]]}",
        f"doe record --redo {since.number} --set {setting_text(off[0], level)}",
        f"doe record --redo {pull.number}{back}",
    )
    return [Doubt(pull.number, TAKEN_OFF, text)]


def _off_later(standing: Standing, pull: Pull, behind: Sequence[Pull]) -> list[Doubt]:
    """A pull that is the first with a one-way part, and lies before one without it."""
    on = replace(standing, pulls=(*standing.pulls, pull)).stuck
    for other in behind:
        for name, level in on.items():
            if name in standing.stuck or other.void is not None or other.configuration[name] == level:
                continue
            was = setting_text(name, other.configuration[name])
            text = words.off_later(
                name,
                f"pull {other.number}, made after it, had {name} {other.configuration[name]}",
                f"doe record --redo {other.number} --set {setting_text(name, level)}",
                f"doe record --redo {pull.number} --set {was}",
            )
            return [Doubt(pull.number, OFF_LATER, text)]
    return []


def _typed_again(standing: Standing, entry: Entry, pull: Pull) -> Doubt | None:
    """The pull before typed once more, or a pull sooner than one can be made."""
    last, day = standing.last, standing.day
    if last is None or entry.redo is not None or entry.together or last.void is not None:
        return None
    metric = day.metric.name
    same = last.values.get(metric) == pull.values[metric]
    gap = None if last.minute is None or pull.minute is None else pull.minute - last.minute
    share = math.inf if gap is None or gap < 0 else gap / day.cell.pull_minutes
    if same and (share < _SAME_SOON_SHARE or _is_rare(standing, pull)):
        return Doubt(pull.number, TWICE, words.typed_twice(number_text(pull.values[metric]), last.number, pull.number))
    if gap is not None and share < _SOON_SHARE:
        return Doubt(pull.number, SOON, words.too_soon(gap, last.number, day.cell.pull_minutes, pull.number))
    return None


def _is_rare(standing: Standing, pull: Pull) -> bool:
    """Whether two honest pulls hardly ever show the same number, with as many figures as this day's numbers have.

    The difference of two normal numbers of SD s, each rounded to r, is 0 with the probability r / (2 sqrt(pi) s).
    """
    day = standing.day
    metric = day.metric.name
    numbers = [one.values[metric] for one in (*standing.pulls, pull) if metric in one.values]
    figures = max(len(number_text(number).partition(".")[2]) for number in numbers)
    scatter = scatter_of(day, abs(pull.values[metric]))
    return 10.0**-figures / (2 * math.sqrt(math.pi) * scatter) < _RARE


def _about_the_number(standing: Standing, entry: Entry, pull: Pull) -> Iterator[Doubt]:
    """A number that is far from what the parts showed, or can't be of this engine."""
    metric = standing.day.metric.name
    others = [
        other
        for other in (*standing.pulls, *standing.later)
        if other.number != entry.redo and other.void is None and metric in other.values
    ]
    if pull.count == "yes":
        yield from _counted(standing, others, pull)
        return
    middle = far_from(pull.values[metric], [other.values[metric] for other in others])
    if middle is not None:
        text = words.far_from_all(pull.values[metric], middle, pull.number)
        yield Doubt(pull.number, FAR, text)


def _counted(standing: Standing, others: Sequence[Pull], pull: Pull) -> Iterator[Doubt]:
    """A pull that counts: beside the pulls with its parts, the first with new parts beside the baseline."""
    day, value = standing.day, pull.values[standing.day.metric.name]
    doubted = {doubt.pull for doubt in standing.doubts if doubt.code in OF_THE_NUMBER}
    expected = predicted(day, others, pull, doubted)
    in_question = predicted(day, [other for other in others if other.number in doubted], pull)
    if in_question is not None and (expected is None or not in_question.is_far(value)):
        return  # it agrees with a pull that is asked about already, or nothing but such pulls has its parts
    if expected is not None:
        if not expected.is_far(value):
            return
        off = words.off_by(value - expected.value, day.metric.unit)
        shown = number_text(value)
        if len(expected.others) > 1:
            yield Doubt(pull.number, FAR, words.far_from_same_parts(shown, off, pull.number))
        else:
            [only] = [other for other in others if other.number == expected.others[0]]
            first = number_text(only.values[day.metric.name])
            yield Doubt(pull.number, EITHER, words.either_is_wrong(shown, off, pull.number, first, only.number))
        return
    baseline = [other for other in others if other.count == "yes" and other.configuration == day.baseline]
    sound = [other.values[day.metric.name] for other in baseline if other.number not in doubted]
    if pull.configuration != day.baseline and sound:
        level = sum(sound) / len(sound)
        if abs(value - level) > _NEW_PARTS_SHARE * abs(level):
            yield Doubt(pull.number, NEW_PARTS, words.far_from_baseline(number_text(value), pull.number))


def far_from(value: float, others: Sequence[float]) -> float | None:
    """The middle of the other pulls where a number is further from it than any part moves an engine, else None."""
    if not others:
        return None
    middle = sorted(others)[len(others) // 2]
    return middle if abs(value - middle) > _NOT_COUNTED_SHARE * abs(middle) else None
