"""A pull that was forgotten: the clock says which set the next one belongs to, and where one that is entered late does.

Only the clock is asked, never the number: a pull must not get its parts by what it showed.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from doe.day.clock import pull_end, work, work_between
from doe.day.pilot.standing import Standing
from doe.day.records import Pull, Run
from doe.day.schema import Configuration

_TOLERANCE = 0.5  # a time that is typed has no seconds [min]
# How far a gap may be from what it is taken for. Testers are quicker or slower than day.toml says by a third, and
# pause for the length of a pull; what lies further off is told by nothing but a guess.
_NEAR_SHARE, _SLOWER_SHARE = 0.35, 0.5
_NEAR_PULLS, _SLOWER_PULLS = 1.0, 2.0
# A gap that this tester needs within a set says nothing of a change (one twice as long as the middle one was a pause,
# and is no need); nor does a quick change, before it is known how even the pulls are.
_PACE_SHARE, _PAUSE_SHARE = 1.25, 2.0
_EVEN_GAPS = 1


class Forgotten(NamedTuple):
    """The clock says that a set is over, although pulls of it are not logged."""

    run: Run  #: the next set's first, which the pull is taken for
    missing: tuple[Run, ...]  #: of the set before
    passed: float  #: since the last pull [min]
    first: float  #: when the first of them ended, if each was made in its time [minute of the day]


def next_set_by_clock(standing: Standing, minute: float) -> Forgotten | None:
    """What the clock says of a pull that ends at a minute of the day; None where it is one more of its set.

    The gap since the last pull is compared with one more pull of this set, and with the pulls that are left of it (all,
    some or none of them), the change, and the first pull of the next set.
    """
    last, stints, day = standing.last, standing.due_stints, standing.day
    if last is None or last.minute is None or last.void is not None or len(stints) < 2:
        return None
    left, following = stints[0], stints[1]
    if left[0].stint != standing.stint or left[0].configuration != last.configuration:
        return None
    fresh = standing.fresh_ordered(following[0])
    change = work_between(day, last.configuration, following[0].configuration, fresh).minutes
    ends = [last.minute]
    for _ in left:
        ends.append(pull_end(day, ends[-1]))
    begins = [pull_end(day, work(day, end, change)) for end in ends]  # of the next set, so many pulls of this one later
    gaps = _gaps_in_sets(standing)
    if change < day.cell.pull_minutes and len(gaps) < _EVEN_GAPS:
        return None
    pull = day.cell.pull_minutes
    soonest = max(
        (ends[1] + begins[1]) / 2,
        begins[0] - max(_NEAR_PULLS * pull, _NEAR_SHARE * change),
        last.minute + _PACE_SHARE * _pace(gaps),
    )
    latest = begins[-1] + max(_SLOWER_PULLS * pull, _SLOWER_SHARE * change)
    if not soonest <= minute <= latest:
        return None
    behind = abs(minute - begins[-1]) <= abs(minute - begins[0])  # else no time was left for it behind the last pull
    return Forgotten(following[0], tuple(left), minute - last.minute, ends[1] if behind else _room(standing) or ends[1])


def _room(standing: Standing) -> float | None:
    """When a pull ended that was made before the last one: in a gap of its set, or before the day's first.

    None where there was no time for one. That the day's first is missing shows here, at the first change: before, a day
    of which it is not logged looks like one that was begun late.
    """
    day, made = standing.day, [pull for pull in standing.made if pull.count != "warm-up"]
    own = [pull.minute for pull in made if pull.install == standing.install and pull.minute is not None]
    for before, after in pairwise(own):
        if pull_end(day, pull_end(day, before)) <= after + _TOLERANCE:
            return pull_end(day, before)
    begin = max([day.cell.warm_up_minutes, *(one.minute or 0.0 for one in standing.made if one.count == "warm-up")])
    first = pull_end(day, begin)
    if own and len(own) == len(made) and pull_end(day, first) <= own[0] + _TOLERANCE:
        return max(first, own[0] - day.cell.pull_minutes)
    return None


def _pace(gaps: Sequence[float]) -> float:
    """The longest gap that is no pause; 0 where none is known."""
    middle = sorted(gaps)[len(gaps) // 2] if gaps else 0.0
    return max((gap for gap in gaps if gap <= _PAUSE_SHARE * middle), default=0.0)


def _gaps_in_sets(standing: Standing) -> list[float]:
    """Minutes from pull to pull where nothing was changed and no break lies between."""
    pauses = standing.day.pauses

    def gap(before: Pull, after: Pull) -> float | None:
        if before.minute is None or after.minute is None or before.install != after.install:
            return None
        if before.configuration != after.configuration or before.void is not None:
            return None
        if any(begin < after.minute and before.minute < end for begin, end in pauses):
            return None
        return after.minute - before.minute

    found = (gap(before, after) for before, after in pairwise(standing.made))
    return [minutes for minutes in found if minutes is not None]


def fitted_then(standing: Standing, minute: float) -> tuple[Configuration, int, Sequence[Run]]:
    """What was on the engine at a minute between two pulls: parts, install, and the open steps of that set.

    Parameters
    ----------
    standing : Standing
        The day as it stood then, with the pulls made `later`.
    minute : float
        When the pull ended.
    """
    day, before, after = standing.day, standing.last, standing.later[0]
    own = [run for run in standing.due if run.stint == standing.stint and run.configuration == standing.fitted]
    stint = standing.by_number[after.run].stint if after.run in standing.by_number else None
    theirs = [run for run in standing.due if run.stint == stint and run.configuration == after.configuration]
    old = standing.fitted, standing.install, own
    new = after.configuration, after.install, theirs
    if before is None or (after.install == before.install and after.configuration == before.configuration):
        return new if before is None or (theirs and not own) else old
    if before.minute is None or after.minute is None:
        return old if own or not theirs else new
    change = work_between(day, before.configuration, after.configuration, after.fresh).minutes
    may_be_new = minute >= pull_end(day, work(day, before.minute, change)) - _TOLERANCE
    may_be_old = pull_end(day, work(day, minute, change)) <= after.minute + _TOLERANCE
    if may_be_new == may_be_old:  # both could be: the one that lacks a pull; neither: the nearer one
        nearer = minute - before.minute <= after.minute - minute
        return old if (own or not theirs if may_be_new else nearer) else new
    return new if may_be_new else old
