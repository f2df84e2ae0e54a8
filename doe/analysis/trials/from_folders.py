"""Day folders as trials: the counted pulls of one day or of a campaign, and the counted runs of a plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from doe.analysis.trials.corrected import corrected_pulls
from doe.analysis.trials.trial import Trial
from doe.day.files.dayfile import day_notes, read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.files.seal import SealCheck, check_seal
from doe.day.files.which_folder import as_typed, command
from doe.day.fittings import fittings_of
from doe.day.log.overnight import DayRows, through_nights
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.records import Pull, Run
from doe.day.schema import DayFile
from doe.errors import DoeError
from doe.words.judgements import judge_notes
from doe.words.notes import Note

_DAYS_APART = 100_000  # between the labels of one day's fittings and those of the next; no log has as many


@dataclass(frozen=True, slots=True)
class DayFolder:
    """Everything that a judge reads of one day."""

    folder: Path
    day: DayFile
    plan: PlanFile | None
    pulls: tuple[Pull, ...]
    notes: tuple[Note, ...]
    read_as: tuple[str, ...] = ()  #: what was taken together in reading, in words
    name: str = ""  #: what tells it from the other days of its campaign
    factors: Mapping[int, float] = field(default_factory=dict)  #: of the correction for the air, by the pull's number

    @classmethod
    def read(cls, folder: Path) -> DayFolder:
        """Read the day file, the plan and the log.

        Raises
        ------
        InputError
            A file is missing or wrong; all its faults at once.
        """
        folder = Path(folder)
        day = read_day_file(folder)
        plan = followed_plan(folder, day)
        log = read_log(folder, day, plan)
        found = corrected_pulls(day, log.pulls)
        notes = (*day_notes(day), *log.notes, *map(judge_notes.correction_doubt, found.doubts))
        read_as = (*log.read_as, *found.done)
        return cls(folder, day, plan, found.pulls, notes, read_as, folder.resolve().name, found.factors)

    @property
    def rows(self) -> DayRows:
        """The pulls, as the fittings of a campaign need them."""
        return DayRows(self.name, self.day, self.pulls, self.plan.document if self.plan else {})

    @property
    def seal(self) -> SealCheck | None:
        """Whether metric, noise, analysis and questions are as they were planned; None without a plan."""
        return None if self.plan is None else check_seal(self.plan.document, self.day)

    def finished(self, now: dt.datetime | None = None) -> bool:
        """Tell whether every planned counted run has its pull, or the day's finish has passed."""
        done = {pull.run for pull in self.pulls if pull.counts}
        if self.plan is not None and all(run.run in done for run in self.plan.runs if run.counts):
            return True
        minute = self.plan.finish_minute(self.day) if self.plan else self.day.length_minutes
        return (now or dt.datetime.now()) > self.day.begin + dt.timedelta(minutes=minute)


def trial_of_days(days: Sequence[DayFolder], metric: str) -> tuple[Trial, np.ndarray, tuple[str, ...], list[Note]]:
    """Counted pulls of all days as one trial, with their readings, their names and what was assumed.

    Raises
    ------
    DoeError
        No pull counts, or none has the metric.
    """
    blocks = [CountedPulls.of(day, metric) for day in days]
    first = days[0].day
    levels = {
        (f.name, level): None for day in days for f in day.day.factor for level in f.levels if level != f.baseline
    }
    questions = list(levels)
    pulls = [pull for block in blocks for pull in block.counted]
    if not pulls:
        next_pull, own = command("next", days[-1].folder), first.metric.name
        then = f"'{next_pull}' says what to pull." if metric == own else f"[metric] of day.toml is '{own}'."
        where = ", ".join(filter(None, (as_typed(one.folder) for one in days)))
        raise DoeError(
            f"No counted pulls with '{metric}'{f' in {where}' if where else ''}: nothing to judge yet. {then}"
        )
    changes = np.array([[pull.configuration.get(f) == level for f, level in questions] for pull in pulls], float)
    minutes, notes = _minutes(blocks)
    nights = through_nights([day.rows for day in days])
    drift = first.drift if minutes is not None else "none"
    trial = Trial(
        factors=tuple(f for f, _ in questions),
        levels=tuple(level for _, level in questions),
        changes=changes.reshape(len(pulls), len(questions)),
        fittings=_fittings(nights.fittings, blocks),
        install=np.concatenate(
            [np.array([p.install for p in b.counted], int) + _DAYS_APART * i for i, b in enumerate(blocks)]
        ),
        minute=minutes,
        day=np.concatenate([np.full(len(b.counted), i) for i, b in enumerate(blocks)]),
        drift=drift,
    )
    places = [f"{d.name}/" if len(days) > 1 else "" for d, b in zip(days, blocks, strict=True) for _ in b.counted]
    names = tuple(f"{place}{pull.number}" for place, pull in zip(places, pulls, strict=True))
    return trial, np.array([pull.values[metric] for pull in pulls]), names, [*notes, *nights.notes]


def fitting_names(trial: Trial, names: Sequence[str]) -> tuple[str, ...]:
    """The fitting of each pull of `trial_of_days` as its log numbers it; the day in front as in the pull's name."""
    days = ("/".join([*name.split("/")[:-1], ""]) for name in names)
    return tuple(f"{day}{label % _DAYS_APART}" for day, label in zip(days, trial.install.tolist(), strict=True))


@dataclass(frozen=True, slots=True)
class CountedPulls:
    """One day's counted pulls, and their places among all its pulls."""

    counted: tuple[Pull, ...]
    at: tuple[int, ...]
    planned: dict[int, float]

    @classmethod
    def of(cls, day: DayFolder, metric: str) -> CountedPulls:
        """Pick the pulls that count and have the metric."""
        at = tuple(i for i, p in enumerate(day.pulls) if p.counts and metric in p.values)
        planned = {run.run: run.minute for run in day.plan.runs} if day.plan else {}
        return cls(tuple(day.pulls[i] for i in at), at, planned)

    def minutes(self) -> list[float | None]:
        """Logged minutes, from the day's start."""
        return [p.minute for p in self.counted]

    def planned_minutes(self) -> list[float | None]:
        """Minutes of the runs that the pulls fulfil."""
        return [None if p.run is None else self.planned.get(p.run) for p in self.counted]


def _minutes(blocks: Sequence[CountedPulls]) -> tuple[np.ndarray | None, list[Note]]:
    """Minutes of the counted pulls: the logged ones, else the planned ones, else none at all."""
    logged = [minute for block in blocks for minute in block.minutes()]
    planned = [minute for block in blocks for minute in block.planned_minutes()]
    missing = sum(minute is None for minute in logged)
    if not missing:
        return np.array(logged, float), []
    both = [b if a is None else a for a, b in zip(logged, planned, strict=True)]
    if all(minute is not None for minute in both):
        return np.array(both, float), [judge_notes.planned_minutes_taken(missing)]
    return None, [judge_notes.drift_taken_as_none(missing)]


def _fittings(joined: Sequence[dict[str, list[int]]], blocks: Sequence[CountedPulls]) -> dict[str, np.ndarray]:
    """Fittings of the counted pulls, for each refit factor."""
    return {
        name: np.array([own[name][i] for own, block in zip(joined, blocks, strict=True) for i in block.at], int)
        for name in joined[0]
    }


def runs_due(day: DayFolder) -> list[Run]:
    """What the plan still asks for, settling pulls of its sets too, in installs that go on from what is fitted."""
    runs = day.plan.runs if day.plan else ()
    done = {pull.run for pull in day.pulls if pull.void is None}
    sets = {run.stint for run in runs if run.counts and run.run not in done}
    due = [run for run in runs if run.stint in sets and run.run not in done]
    if not due or not day.pulls:
        return due
    last = max(day.pulls, key=lambda pull: pull.install)
    fulfilled = next((run for run in runs if run.run == last.run), None)
    ahead = last.install - fulfilled.install if fulfilled else 0
    least = last.install + (due[0].configuration != last.configuration)
    ahead += max(0, least - due[0].install - ahead)
    return [replace(run, install=run.install + ahead) for run in due]


def trial_to_the_end(day: DayFolder, metric: str) -> Trial:
    """The pulls that count and what the plan still asks for, as one trial: what the day will have been.

    A pull without a time is taken at its planned minute, else behind the one before it.
    """
    counted = CountedPulls.of(day, metric)
    rows: list[Pull | Run] = []
    for pull in day.pulls:
        minute = counted.planned.get(pull.run or 0) if pull.minute is None else pull.minute
        behind = (rows[-1].minute or 0.0) + day.day.cell.pull_minutes if rows else day.day.cell.warm_up_minutes
        rows.append(replace(pull, minute=behind if minute is None else minute))
    due = runs_due(day)
    at = [*counted.at, *(len(rows) + i for i, run in enumerate(due) if run.counts)]
    return planned_trial(day.day, [*rows, *due], at)


def planned_trial(day: DayFile, runs: Sequence[Run | Pull], at: Sequence[int] | None = None) -> Trial:
    """Return the counted runs of a plan as a trial.

    Parameters
    ----------
    day : DayFile
    runs : sequence of Run or Pull
        All of them: settling pulls and fresh refits number the fittings.
    at : sequence of int, optional
        Places of those that count; by default as they say.

    Returns
    -------
    Trial
    """
    if at is None:
        at = [i for i, run in enumerate(runs) if run.counts]
    questions = [(f.name, c.level) for f, c in day.questions]
    fittings = fittings_of(day, runs)
    return Trial(
        tuple(f for f, _ in questions),
        tuple(level for _, level in questions),
        np.array([[runs[i].configuration.get(f) == level for f, level in questions] for i in at], float),
        {name: np.array(own)[list(at)] for name, own in fittings.items()},
        np.array([runs[i].install for i in at]),
        np.array([runs[i].minute for i in at], float),
        np.zeros(len(at), int),
        day.drift,
    )
