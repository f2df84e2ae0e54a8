"""The day's clock: what a changeover costs, when work and pulls end, and a row of stints laid out on it.

Minutes count from the day's start. The rules: the engine arrives in the baseline and the first pull starts when the
warm-up is over; factors changed together add up; work may be split by a break, a pull never overlaps one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from doe.day.fittings import fresh_text
from doe.day.records import Changeover, Run, Stint
from doe.day.schema import Change, Configuration, DayFile, Factor, minute_of

# Times are sums of minutes: what is later by less than this is not later.
_TOLERANCE = 1e-9


def changeover(day: DayFile, before: Configuration, after: Configuration) -> Changeover:
    """What it takes to go from one configuration to another.

    The minutes of `change_minutes` add up; settling pulls are the largest number among the levels entered and left.
    """
    minutes, settling, refitted = 0.0, 0, []
    for factor in day.factor:
        if before[factor.name] == after[factor.name]:
            continue
        left, entered = factor.change_of(before[factor.name]), factor.change_of(after[factor.name])
        minutes += change_minutes(left, entered)
        settling = max(settling, left.settling_pulls if left else 0, entered.settling_pulls if entered else 0)
        if factor.refit:
            refitted.append(factor.name)
    return Changeover(minutes, settling, tuple(refitted))


def change_minutes(left: Change | None, entered: Change | None) -> float:
    """Minutes from one level of a factor to another: off, on, or the longer of the two; None is the baseline."""
    return max(left.minutes_off if left else 0.0, entered.minutes_on if entered else 0.0)


def fresh_refit(day: DayFile, factor_name: str, level: str) -> Changeover:
    """What it takes to fit the same part again.

    The cheaper of the level's two ways and its settling pulls; for the baseline the cheapest way of its factor and the
    factor's largest number of settling pulls. A factor of a noise study, without changes, says it itself.
    """
    factor = next(factor for factor in day.factor if factor.name == factor_name)
    change = factor.change_of(level)
    ways = (change,) if change else factor.change
    if not ways:
        return Changeover(factor.refit_minutes or 0.0, factor.settling_pulls or 0, (factor_name,))
    minutes = min(min(way.minutes_on, way.minutes_off) for way in ways)
    return Changeover(minutes, max(way.settling_pulls for way in ways), (factor_name,))


def work_between(day: DayFile, before: Configuration, after: Configuration, fresh: str | None) -> Changeover:
    """What it takes to go from one configuration to another, with the same part of one factor fitted afresh."""
    change = changeover(day, before, after)
    if fresh is None or fresh in change.refitted:
        return change
    again = fresh_refit(day, fresh, after[fresh])
    settling = max(change.settling_pulls, again.settling_pulls)
    return Changeover(change.minutes + again.minutes, settling, (*change.refitted, fresh))


def work(day: DayFile, minute: float, minutes: float) -> float:
    """When work begun at `minute` ends: it stops for breaks [min]."""
    for begin, end in day.pauses:
        if minute >= end:
            continue
        if minute >= begin:
            minute = end
        elif minute + minutes > begin + _TOLERANCE:
            minutes -= begin - minute
            minute = end
    return minute + minutes


def pull_end(day: DayFile, minute: float) -> float:
    """When a pull that can start at `minute` ends: it waits for the end of a break that it would overlap [min]."""
    for begin, end in day.pauses:
        if minute < end - _TOLERANCE and minute + day.cell.pull_minutes > begin + _TOLERANCE:
            minute = end
    return minute + day.cell.pull_minutes


class Position(NamedTuple):
    """Where a day stands after its last pull, so that the rest of it can be laid out."""

    minute: float  #: when work can begin
    configuration: Configuration
    install: int  #: of the last pull, and so for the next two
    stint: int
    run: int
    settling_due: int = 0  #: throw-away pulls still to be made of what is fitted

    @property
    def begun(self) -> bool:
        """Whether any pull has been made."""
        return self.stint > 0


def lay_out(day: DayFile, stints: Sequence[Stint], after: Position | None = None) -> list[Run]:
    """The stints as runs at their earliest times, settling pulls included.

    Whether the day is long enough is not looked at: see `fits`.

    Parameters
    ----------
    day : DayFile
    stints : sequence of Stint
    after : Position, optional
        Where the day stands; by default it begins: warmed up, in the baseline, install 1.
    """
    runs: list[Run] = []
    at = after or Position(day.cell.warm_up_minutes, day.baseline, install=1, stint=0, run=0)
    minute, fitted, install, number = at.minute, at.configuration, at.install, at.stint
    for place_of_stint, stint in enumerate(stints):
        step = work_between(day, fitted, stint.configuration, stint.fresh)
        goes_on = at.begun and place_of_stint == 0 and fitted == stint.configuration and not step.refitted
        minute = work(day, minute, step.minutes)
        install += bool(step.refitted) and (place_of_stint > 0 or at.begun)
        number += not goes_on
        settling = at.settling_due if goes_on else step.settling_pulls
        orders = do_text(day, fitted, stint)
        for place in range(settling + stint.pulls):
            minute = pull_end(day, minute)
            runs.append(
                Run(
                    run=at.run + len(runs) + 1,
                    clock=clock_text(day, minute - day.cell.pull_minutes),
                    minute=minute,
                    install=install,
                    stint=number,
                    do=orders if place == 0 else "",
                    configuration=stint.configuration,
                    count="settling" if place < settling else "yes",
                )
            )
        fitted = stint.configuration
    return runs


def do_text(day: DayFile, fitted: Configuration, stint: Stint) -> str:
    """What to do before a stint: "fit oil 0W-20", "drain, refill the same 15W-50", or nothing."""
    return "; ".join(_orders(day, fitted, stint))


def _orders(day: DayFile, fitted: Configuration, stint: Stint) -> Iterator[str]:
    """One order a factor."""
    for factor in day.factor:
        level = stint.configuration[factor.name]
        if fitted[factor.name] != level:
            yield order_text(factor, level)
        elif stint.fresh == factor.name:
            yield fresh_text(factor, level)


def order_text(factor: Factor, level: str) -> str:
    """Words for one change of what is fitted."""
    return f"fit {factor.name} {level}" if factor.refit else f"set {factor.name} to {level}"


def clock_text(day: DayFile, minute: float) -> str:
    """The time of day at a minute of the day, "HH:MM", seconds cut off."""
    whole = int(minute_of(day.day.start) + minute + _TOLERANCE)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"


def fits(day: DayFile, runs: Sequence[Run]) -> bool:
    """Whether the last pull ends by the day's finish."""
    return all(run.minute <= day.length_minutes + _TOLERANCE for run in runs)


def minutes_used(day: DayFile, runs: Sequence[Run]) -> float:
    """The last pull's end, less the breaks passed [min]."""
    last = runs[-1].minute
    return last - day.paused_minutes(last)
