"""What comes next: what to fit, how many pulls, until when, what to type, and what comes after that."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from doe.day.clock import changeover, do_text, fresh_refit, pull_end, work
from doe.day.dayfile import read_day_file
from doe.day.log import read_log
from doe.day.planfile import read_plan
from doe.day.records import Run, Stint
from doe.day.schema import Configuration, DayFile, minute_of
from doe.day.standing import Standing


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


@dataclass(frozen=True)
class UpNext:
    """What to do now, and what comes after."""

    day: DayFile
    standing: Standing
    folder: str = ""  #: as it is typed; "" for the one that the tester is in
    now: float | None = None  #: minute of the day; None on another date than the day's
    step: Step | None = None
    then: Step | None = None
    warnings: tuple[str, ...] = field(default=())

    @property
    def warming_up(self) -> bool:
        """Whether the engine is to be warmed up still; on another date only before the first pull."""
        warm_up = self.day.cell.warm_up_minutes
        return not self.standing.made and warm_up > 0 and (self.now is None or self.now < warm_up)

    @property
    def behind(self) -> float | None:
        """Minutes behind the plan, negative ahead of it; None where the clock says nothing."""
        if self.step is None or self.step.end is None:
            return None
        planned = self.standing.by_number[self.step.run].minute
        return self.step.end - planned

    @property
    def finish(self) -> float | None:
        """When the plan will be done if the day goes on as planned from here [minute of the day]."""
        return None if self.behind is None else self.standing.runs[-1].minute + self.behind

    @property
    def made(self) -> int:
        """Counted runs that have their pull."""
        return sum(run.count == "yes" and run.run in self.standing.fulfilled for run in self.standing.runs)

    @property
    def planned(self) -> int:
        """Counted runs of the plan."""
        return sum(run.count == "yes" for run in self.standing.runs)


def up_next(folder: Path, *, now: dt.datetime | None = None, typed: str = "") -> UpNext:
    """What to do now. Nothing is written.

    Parameters
    ----------
    folder : Path
        The day folder.
    now : datetime, optional
        Local time; by default the clock.
    typed : str
        The folder as it stands in the lines to type; "" where the tester is in it.

    Raises
    ------
    InputError
        day.toml, the plan or the log is wrong.
    """
    day = read_day_file(folder)
    plan = read_plan(folder, day)
    log = read_log(folder, day, plan)
    standing = Standing(day, plan.runs if plan else (), log.pulls)
    return next_of(standing, now or dt.datetime.now(), typed, log.warnings)


def next_of(standing: Standing, now: dt.datetime, typed: str = "", warnings: Sequence[str] = ()) -> UpNext:
    """What to do now, from where the day stands."""
    day = standing.day
    minute = _minute_of_day(day, now.replace(tzinfo=None))
    stints = standing.due_stints
    step = _forecast(standing, _first_step(standing, stints[0]), minute) if stints else None
    then = _later_step(day, step, stints[1], standing) if step and len(stints) > 1 else None
    return UpNext(day, standing, typed, minute, step, then, tuple(warnings))


def _minute_of_day(day: DayFile, now: dt.datetime) -> float | None:
    """Minutes from the day's start, None on another date."""
    if now.date() != day.day.date:
        return None
    return minute_of(now.time()) - minute_of(day.day.start)


def _first_step(standing: Standing, runs: Sequence[Run]) -> Step:
    """The set of pulls that is on, or the next one."""
    return _step(standing.day, standing.fitted, runs, standing.fresh_ordered(runs[0]) if standing.made else None)


def _later_step(day: DayFile, before: Step, runs: Sequence[Run], standing: Standing) -> Step:
    """The set after that."""
    return _step(day, before.configuration, runs, standing.fresh_ordered(runs[0]))


def _step(day: DayFile, fitted: Configuration, runs: Sequence[Run], fresh: str | None) -> Step:
    """A set of pulls with its changeover."""
    first = runs[0]
    stint = Stint(first.configuration, len(runs), fresh)
    change = changeover(day, fitted, first.configuration)
    again = fresh is not None and fresh not in change.refitted
    minutes = change.minutes + (fresh_refit(day, fresh, first.configuration[fresh]).minutes if again and fresh else 0.0)
    throw_away = sum(run.count == "settling" for run in runs)
    return Step(
        run=first.run,
        do=do_text(day, fitted, stint),
        minutes=minutes,
        before=fitted,
        configuration=first.configuration,
        fresh=fresh if again else None,
        throw_away=throw_away,
        pulls=len(runs) - throw_away,
        planned_start=first.minute - day.cell.pull_minutes,
        planned_end=runs[-1].minute,
    )


def _forecast(standing: Standing, step: Step, now: float | None) -> Step:
    """The step with its times as it looks now: work begins at the end of the last pull, pulls follow each other."""
    if now is None:
        return step
    day, last = standing.day, standing.last
    begin = day.cell.warm_up_minutes if last is None or last.minute is None else last.minute
    begin = max(begin, day.cell.warm_up_minutes)
    end = max(pull_end(day, work(day, begin, step.minutes)), now)
    until = end
    for _ in range(step.throw_away + step.pulls - 1):
        until = pull_end(day, until)
    return replace(step, end=end, until=until)
