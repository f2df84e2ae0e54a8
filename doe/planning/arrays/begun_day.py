"""A day that has begun, as the plan for the rest of it needs it: what was made, where it stands, what is still due."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path

from doe.day.clock import Position, work, work_between
from doe.day.files.planfile import PlanFile
from doe.day.fittings import fittings_of
from doe.day.log.looks import Look, read_looks
from doe.day.log.planned.followed import followed_plan, planned_runs
from doe.day.log.reading import read_log
from doe.day.pilot.standing import Standing, fulfils
from doe.day.records import Pull, Run, Stint
from doe.day.schema import DayFile
from doe.planning.arrays.history import History, Made, history_of
from doe.planning.arrays.other_days import EarlierDays, OtherDays


@dataclass(frozen=True)
class BegunDay:
    """A day folder during its day.

    Attributes
    ----------
    day : DayFile
        As it is now to be planned: other minutes or another finish than in day.toml may have been told.
    plan : PlanFile or None
    standing : Standing
    runs : dict of int to Run
        Every planned run by its number, of replaced plans too.
    ledger : tuple of Look
        Verdicts that were shown.
    others : OtherDays or EarlierDays, optional
        The other days of its campaign, where its rest counts on them.
    """

    day: DayFile
    plan: PlanFile | None
    standing: Standing
    runs: dict[int, Run]
    ledger: tuple[Look, ...]
    others: OtherDays | EarlierDays | None = None

    def position(self, now: float | None) -> Position:
        """Where the day stands.

        Parameters
        ----------
        now : float, optional
            Minute of the day; by default that of the last pull. Never before the last pull or the end of the warm-up.
            A time that was asked about, as later than now, moves nothing.
        """
        begun = bool(self.standing.made)
        last = self._minutes()[-1:] if now is None else [now, self.standing.last_minute]
        earliest = max([self.day.cell.warm_up_minutes, *(minute for minute in last if minute is not None)])
        return Position(
            minute=work(self.day, earliest, 0.0),
            configuration=self.standing.fitted,
            install=self.standing.install,
            stint=max(self.standing.stint, 1) if begun else 0,
            run=max(self.runs, default=0) if begun else 0,
            settling_due=self._settling_due(),
        )

    def made(self, day_number: int = 0) -> list[Made]:
        """The counted pulls, in the order of making."""
        pulls = self.standing.made
        fittings = list(fittings_of(self.day, pulls).values())
        return [
            Made(
                minute=(minute or 0.0) - self.day.cell.pull_minutes / 2,
                configuration=pull.configuration,
                fittings=tuple(own[place] for own in fittings),
                day=day_number,
            )
            for place, (pull, minute) in enumerate(zip(pulls, self._minutes(), strict=True))
            if pull.counts and fulfils(self.day, pull)
        ]

    def fitted_now(self) -> list[int]:
        """For each refit factor the number of the fitting that is on."""
        numbers = fittings_of(self.day, self.standing.made)
        return [own[-1] if own else 1 for own in numbers.values()]

    def history(self) -> History | None:
        """What is fixed before the rest of the day, of the other days too; None without a pull."""
        made, fitted = self.made(), self.fitted_now()
        if self.others is not None:
            return self.others.before(self.day, made, fitted, self.ledger)
        return history_of(self.day, made, fitted, 0, self.ledger) if made else None

    def due(self) -> list[Stint]:
        """What the plan still asks for."""
        found = []
        for runs in self.standing.due_stints:
            pulls = sum(run.counts for run in runs)
            if pulls:
                found.append(Stint(runs[0].configuration, pulls, self.standing.fresh_ordered(runs[0])))
        return found

    def asked(self) -> list[tuple[str, str]]:
        """The questions of the plan, its family; without one those with a counted pull."""
        if self.plan is not None and self.plan.document.get("questions"):
            questions = self.plan.document["questions"]
            return [(one["factor"], one["level"]) for one in questions if not one.get("dropped")]
        fitted = [one.configuration for one in self.made()]
        return [
            (factor.name, change.level)
            for factor, change in self.day.questions
            if any(configuration[factor.name] == change.level for configuration in fitted)
        ]

    def _minutes(self) -> list[float | None]:
        """End of each pull; without a time the planned one, else a pull after the one before."""
        found: list[float | None] = []
        for pull in self.standing.timed:
            planned = self.runs.get(pull.run) if pull.run else None
            minute = pull.minute if pull.minute is not None else planned.minute if planned else None
            if minute is None:
                before = found[-1] if found and found[-1] is not None else self.day.cell.warm_up_minutes
                minute = before + self.day.cell.pull_minutes
            found.append(minute)
        return found

    def _settling_due(self) -> int:
        """Throw-away pulls that what is fitted still needs."""
        made = self.standing.made
        if not made:
            return 0
        now = list(takewhile(lambda pull: _alike(pull, made[-1]), reversed(made)))
        if any(pull.count == "yes" for pull in now):
            return 0
        before = made[-len(now) - 1].configuration if len(made) > len(now) else self.day.baseline
        needed = work_between(self.day, before, made[-1].configuration, now[-1].fresh).settling_pulls
        return max(0, needed - sum(pull.count == "settling" and pull.void is None for pull in now))


def _alike(pull: Pull, other: Pull) -> bool:
    return pull.configuration == other.configuration and pull.install == other.install


def begun_day(folder: Path, day: DayFile) -> BegunDay:
    """Read what a folder holds of its day.

    Raises
    ------
    InputError
        A file is wrong.
    """
    plan = followed_plan(folder, day)
    log = read_log(folder, day, plan)
    standing = Standing(day, plan.runs if plan else (), log.pulls, doubts=log.doubts)
    return BegunDay(day, plan, standing, planned_runs(folder, plan, day), tuple(read_looks(folder)))
