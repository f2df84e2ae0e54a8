"""What stands on a run sheet: the steps that are still due, line by line, the breaks between them, what to bring."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from doe.day.bring.needs import Needs, needs_of
from doe.day.clock import clock_text
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PLAN_CSV
from doe.day.files.which_folder import command, of_folder
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.pilot.coming.steps import Step, steps_due
from doe.day.pilot.standing import Standing
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.errors import DoeError, InputError
from doe.words.day.pull_words import fitted_text


@dataclass(frozen=True, slots=True)
class Line:
    """One pull."""

    run: int  #: the step of the plan
    clock: str  #: when it starts, by the plan
    change: str  #: what to do before it; "" nothing
    minutes: float  #: how long that takes by day.toml
    fitted: str  #: all that is on, in words
    counted: bool  #: False for a throw-away pull
    opens: bool  #: whether a new fitting begins with it


@dataclass(frozen=True, slots=True)
class Pause:
    """A break, in front of the line that follows it."""

    clock: str
    minutes: float


@dataclass(frozen=True)
class RunSheet:
    """A sheet of the steps that are due."""

    day: DayFile
    standing: Standing
    rows: tuple[Line | Pause, ...]
    needs: Needs
    switched: tuple[str, ...]  #: what is switched and not fitted, with its positions
    mark: str  #: of the plan: `plan_mark`

    @property
    def lines(self) -> tuple[Line, ...]:
        """The pulls."""
        return tuple(row for row in self.rows if isinstance(row, Line))

    @property
    def refits(self) -> int:
        """Fittings of refit parts."""
        refit = {factor.name for factor in self.day.refit_factors}
        return sum(one.times for one in self.needs.fittings if one.factor in refit)

    @property
    def made(self) -> int:
        """Steps that have their pull already, those of a plan whose rest was planned anew too."""
        return _steps_made(self.standing)

    @property
    def changed(self) -> dict[str, set[str]]:
        """Factor -> the levels that are on at any time of this sheet, where there are several or one is fitted anew."""
        on: dict[str, set[str]] = {}
        for step in steps_due(self.standing):
            for name, level in step.configuration.items():
                if level != step.before[name] or step.fresh == name:
                    on.setdefault(name, set()).update((step.before[name], level))
        return on


def read_run_sheet(folder: Path) -> RunSheet:
    """The sheet of a day folder. Nothing is written.

    Raises
    ------
    InputError
        There is no plan, or a file is wrong.
    DoeError
        Every step has its pull: there is nothing left to print.
    """
    day = read_day_file(folder)
    plan = followed_plan(folder, day)
    if plan is None:
        raise InputError(
            of_folder(
                folder,
                f"there is no {PLAN_CSV}, so there is nothing to put on a sheet; '{command('plan', folder)}' makes one",
            )
        )
    standing = Standing(day, plan.runs, read_log(folder, day, plan).pulls)
    if not standing.due:
        raise DoeError(
            of_folder(
                folder,
                f"the day is over, no step of the plan is left; '{command('judge', folder)}' says what it found",
            )
        )
    return run_sheet(standing)


def run_sheet(standing: Standing) -> RunSheet:
    """The sheet of what is due where the day stands."""
    day = standing.day
    return RunSheet(
        day=day,
        standing=standing,
        rows=tuple(_rows(standing)),
        needs=_needs(standing),
        switched=tuple(
            f"{factor.name}: {' / '.join(factor.levels)}" for factor in day.factor if not factor.refit and factor.change
        ),
        mark=plan_mark(standing.runs),
    )


def plan_mark(runs: Sequence[Run]) -> str:
    """Eight characters by which a filled-in sheet is known as one of this plan: the first of a SHA-256 of its steps."""
    steps = [[run.run, run.stint, run.install, run.count, sorted(run.configuration.items())] for run in runs]
    return hashlib.sha256(json.dumps(steps, ensure_ascii=False).encode()).hexdigest()[:8]


def _rows(standing: Standing) -> Iterator[Line | Pause]:
    """Lines and breaks in the order of the clock."""
    day = standing.day
    first = standing.due[0].minute - day.cell.pull_minutes
    pauses = [pause for pause in day.pauses if pause[1] > first or not standing.made]
    for step, runs in zip(steps_due(standing), standing.due_stints, strict=True):
        for place, run in enumerate(runs):
            start = run.minute - day.cell.pull_minutes
            while pauses and pauses[0][0] <= start:
                begin, end = pauses.pop(0)
                yield Pause(clock_text(day, begin), end - begin)
            yield _line(day, run, step if place == 0 else None)


def _line(day: DayFile, run: Run, step: Step | None) -> Line:
    """One pull; `step` where it is the first of its set."""
    return Line(
        run=run.run,
        clock=run.clock,
        change=step.do if step else "",
        minutes=step.minutes if step else 0.0,
        fitted=fitted_text(day, run.configuration),
        counted=run.counts,
        opens=step is not None and bool(_fitted_in(day, step)),
    )


def _fitted_in(day: DayFile, step: Step) -> list[tuple[str, str]]:
    """Refit factors and levels that are fitted before a set of pulls."""
    return [
        (factor.name, step.configuration[factor.name])
        for factor in day.refit_factors
        if step.before[factor.name] != step.configuration[factor.name] or step.fresh == factor.name
    ]


def _steps_made(standing: Standing) -> int:
    before = {pull.run for pull in standing.made if pull.run is not None and pull.void is None}
    return len(before - set(standing.by_number) | standing.fulfilled)


def _needs(standing: Standing) -> Needs:
    """What the steps that are due take; their hours count from where the day stands by the plan."""
    made = _steps_made(standing)
    before = standing.fitted if made else standing.day.baseline
    return needs_of(standing.day, standing.due, begin=_stands_at(standing) if made else 0.0, before=before)


def _stands_at(standing: Standing) -> float:
    """The minute of the last pull by the plan; by the log, where none of this plan is made."""
    done = [run.minute for run in standing.runs if run.run in standing.fulfilled]
    if done:
        return max(done)
    first = standing.due[0].minute - standing.day.cell.pull_minutes
    return first if standing.last_minute is None else min(standing.last_minute, first)
