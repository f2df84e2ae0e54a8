"""The sets of pulls that are due, and when each will be made as it looks now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from doe.day.clock import do_text, pull_end, work, work_between
from doe.day.pilot.standing import Standing
from doe.day.records import Run, Stint
from doe.day.schema import Configuration, DayFile


@dataclass(frozen=True, slots=True)
class Step:
    """One set of pulls that is due."""

    run: int  #: its first planned run that is due
    do: str  #: what has to be done before it; "" nothing
    minutes: float  #: how long that takes by day.toml
    before: Configuration  #: what is fitted before it
    configuration: Configuration
    fresh: str | None  #: refit factor whose same part has to be fitted afresh
    throw_away: int  #: pulls that are made first and don't count
    pulls: int  #: pulls after these: counted, or of the warm-up
    planned_start: float  #: [minute of the day]
    planned_end: float  #: [minute of the day]
    end: float | None = None  #: of its first pull, as it looks now; None where the clock says nothing
    until: float | None = None  #: end of its last pull, as it looks now


def steps_due(standing: Standing) -> list[Step]:
    """Every set of pulls that is due."""
    steps: list[Step] = []
    fitted = standing.fitted
    for runs in standing.due_stints:
        fresh = standing.fresh_ordered(runs[0]) if standing.made or steps else None
        steps.append(_step(standing.day, fitted, runs, fresh))
        fitted = runs[0].configuration
    return steps


def _step(day: DayFile, fitted: Configuration, runs: Sequence[Run], fresh: str | None) -> Step:
    """A set of pulls with its changeover."""
    first = runs[0]
    stint = Stint(first.configuration, len(runs), fresh)
    change = work_between(day, fitted, first.configuration, fresh)
    throw_away = sum(run.count == "settling" for run in runs)
    return Step(
        run=first.run,
        do=do_text(day, fitted, stint),
        minutes=change.minutes,
        before=fitted,
        configuration=first.configuration,
        fresh=fresh if fresh and fitted[fresh] == first.configuration[fresh] else None,
        throw_away=throw_away,
        pulls=len(runs) - throw_away,
        planned_start=first.minute - day.cell.pull_minutes,
        planned_end=runs[-1].minute,
    )


def forecast(standing: Standing, step: Step, now: float | None) -> Step:
    """The step with its times as it looks now: work begins at the end of the last pull, pulls follow each other.

    Under a plan for the rest of a day it begins when that was made: before it nobody knew what to fit.

    A pull that isn't in the log is still to be made: from now on it takes its minutes, as in a plan made now. Whoever
    asks between a pull and its number reads a pull too late; who takes it for made would promise what can't be kept.
    """
    if now is None:
        return step
    day, last = standing.day, standing.last_minute
    begin = day.cell.warm_up_minutes if last is None else last
    begin = max(begin, day.cell.warm_up_minutes)
    if standing.made and step.run == standing.runs[0].run:
        begin = max(begin, step.planned_start - step.minutes)
    end = pull_end(day, max(work(day, begin, step.minutes), now))
    return replace(step, end=end, until=_pulls_end(day, end, step))


def after(day: DayFile, before: Step, step: Step) -> Step:
    """The step with its times as it looks now, when it follows another."""
    if before.until is None:
        return step
    end = pull_end(day, work(day, before.until, step.minutes))
    return replace(step, end=end, until=_pulls_end(day, end, step))


def _pulls_end(day: DayFile, minute: float, step: Step) -> float:
    """When the last pull of a step ends whose first one ends at a minute."""
    for _ in range(step.throw_away + step.pulls - 1):
        minute = pull_end(day, minute)
    return minute
