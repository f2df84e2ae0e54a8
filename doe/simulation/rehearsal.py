"""Rehearsals: thousands of simulated days of one plan, with known truths, through the same judge."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from doe.analysis.judging.many_outcomes import judge_outcomes
from doe.analysis.judging.verdict_rule import verdicts
from doe.analysis.trials.confounding import clear_changes
from doe.analysis.trials.from_folders import planned_trial
from doe.analysis.trials.trial import Trial
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.errors import DoeError, InputError
from doe.planning.arrays.assumptions import unit_of
from doe.simulation.schedule import schedule_of
from doe.simulation.simulated_cell import CellSizes, Floats, simulate
from doe.stats.wander import STATED_DF
from doe.words.plans.rehearsal_words import rehearsal_text
from doe.words.result import Result
from doe.words.verdicts import NO_DIFFERENCE, REAL_GAIN, REAL_LOSS, VERDICTS
from doe.workers.spread import spread

_AT_ONCE = 250  # days a task: the same days whatever the number of workers
_BASELINE = 200.0  # any level does: no gain depends on it; in percent it is the unit


@dataclass(frozen=True, slots=True)
class ChangeShares:
    """How often each verdict came out for one change; shares of days."""

    factor: str
    level: str
    true_gain: float
    real_gain: float
    real_loss: float
    no_difference: float
    not_settled: float
    coverage: float | None  #: of the simultaneous interval; None where there is none
    before_and_after: float  #: one pull before and one after show at least the smallest gain


@dataclass(frozen=True, slots=True)
class Scenario:
    """One truth, rehearsed."""

    name: str  #: "nothing works", "smallest gain" or "as given"
    changes: tuple[ChangeShares, ...]
    family_coverage: float | None  #: all intervals hold together
    false_verdicts: float  #: days with any verdict that is wrong


@dataclass(frozen=True, slots=True, repr=False)
class Rehearsal(Result):
    """What a plan is worth, by trying it."""

    days: int
    seed: int
    scenarios: tuple[Scenario, ...]
    gain_unit: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe rehearse --json`` prints."""
        return {"days": self.days, "seed": self.seed, "scenarios": [asdict(scenario) for scenario in self.scenarios]}

    def to_frame(self) -> Any:
        """One row per scenario and change (a pandas DataFrame)."""
        import pandas as pd

        rows = [{"scenario": s.name, **asdict(change)} for s in self.scenarios for change in s.changes]
        frame = pd.DataFrame(rows)
        frame.attrs["units"] = {"true_gain": self.gain_unit}
        return frame

    def to_text(self) -> str:
        """The shares as a table for the terminal."""
        return rehearsal_text(self.days, self.seed, self.scenarios)


def rehearse(
    folder: Path,
    *,
    days: int = 2000,
    seed: int = 1,
    gains: Mapping[tuple[str, str], float] | None = None,
    jobs: int = 1,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Rehearsal:
    """Rehearse the plan of a day folder.

    The noise is that of day.toml: its SDs are the truth, and where they come with df each simulated day is judged with
    a study of its own, drawn from its sampling distribution.

    Parameters
    ----------
    folder : Path
    days : int
        For each scenario.
    seed : int
        Same seed, same table, whatever the number of workers.
    gains : mapping of (factor, level) to float, optional
        A truth of one's own, beside "nothing works" and "smallest gain".
    jobs : int
        Processes.
    progress : callable
        Told (days done, days in all).

    Returns
    -------
    Rehearsal

    Raises
    ------
    DoeError
        There is no plan, or no pull SD to simulate with.
    """
    day = read_day_file(folder)
    plan = read_plan(folder, day)
    if plan is None:
        raise DoeError(f"{folder}: no plan to rehearse; run doe plan first")
    return rehearse_runs(day, plan.runs, days=days, seed=seed, gains=gains, jobs=jobs, progress=progress)


def rehearse_runs(
    day: DayFile,
    runs: Sequence[Run],
    *,
    days: int = 2000,
    seed: int = 1,
    gains: Mapping[tuple[str, str], float] | None = None,
    jobs: int = 1,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Rehearsal:
    """Rehearse runs that need not be saved; arguments as in `rehearse`."""
    if days < 1:
        raise InputError(f"--days {days}: expected 1 or more")
    if day.noise.pull_sd is None:
        raise DoeError("[noise] has no pull_sd: nothing to simulate the scatter with; a guess will do")
    truths = _truths(day, gains)
    sizes = [min(_AT_ONCE, days - first) for first in range(0, days, _AT_ONCE)]
    seeds = np.random.SeedSequence(seed).spawn(len(sizes))
    tasks = [(day, tuple(runs), truth, n, s) for truth in truths.values() for n, s in zip(sizes, seeds, strict=True)]
    done: list[_Counts] = []
    for found in spread(_count, tasks, chunk=1, jobs=jobs):  # a task is long beside the cost of sending it
        done.append(found)
        progress(sum(c.days for c in done), days * len(truths))
    per = len(sizes)
    scenarios = [
        _scenario(day, name, truth, done[i * per : (i + 1) * per]) for i, (name, truth) in enumerate(truths.items())
    ]
    return Rehearsal(days, seed, tuple(scenarios), unit_of(day))


def _truths(day: DayFile, gains: Mapping[tuple[str, str], float] | None) -> dict[str, dict[tuple[str, str], float]]:
    questions = [(f.name, c.level) for f, c in day.questions]
    smallest = {(f.name, c.level): c.smallest_gain or 0.0 for f, c in day.questions}
    truths = {"nothing works": dict.fromkeys(questions, 0.0), "smallest gain": smallest}
    if gains:
        truths["as given"] = {question: gains.get(question, 0.0) for question in questions}
    return truths


_Task = tuple[DayFile, tuple[Run, ...], dict[tuple[str, str], float], int, np.random.SeedSequence]


@dataclass(frozen=True, slots=True)
class _Counts:
    """What came out of some days; changes in the order of the trial, nan where a change was never pulled."""

    days: int
    words: np.ndarray  #: (changes, 4) counts, in the order of VERDICTS
    covered: np.ndarray  #: (changes,)
    before_and_after: np.ndarray  #: (changes,)
    all_covered: int
    any_false: int
    shown: np.ndarray  #: (changes,) whether the change has an interval


def _count(task: _Task) -> _Counts:
    day, runs, truth, days, seed = task
    rng = np.random.default_rng(seed)
    trial = planned_trial(day, runs)
    values = _outcomes(day, runs, truth, days, rng)
    fitted = np.asarray(trial.changes.any(axis=0))
    clear_changes(trial.only(fitted))
    percent = day.metric.scale == "percent"
    found = judge_outcomes(
        trial.only(fitted), values, _studies(day, days, rng), confidence=day.analysis.confidence, percent=percent
    )
    true = np.array([truth[q] for q in _questions(trial)])
    smallest = np.array([c.smallest_gain or np.nan for _, c in day.questions])
    limits = {
        name: _spread(getattr(found, name), fitted) for name in ("family_low", "family_high", "inner_low", "inner_high")
    }
    words = verdicts(limits["family_low"], limits["family_high"], limits["inner_low"], limits["inner_high"], smallest)
    with np.errstate(invalid="ignore"):
        covered = (limits["family_low"] <= true) & (true <= limits["family_high"])
    shown = np.isfinite(limits["family_low"]).any(axis=0)
    return _Counts(
        days,
        np.stack([(words == word).sum(axis=0) for word in VERDICTS], axis=1),
        covered.sum(axis=0),
        _before_and_after(trial, values, smallest, percent),
        int((covered | ~shown).all(axis=1).sum()),
        int(_false(words, true, smallest).any(axis=1).sum()),
        shown,
    )


def _questions(trial: Trial) -> list[tuple[str, str]]:
    return list(zip(trial.factors, trial.levels, strict=True))


def _spread(array: np.ndarray, fitted: np.ndarray) -> np.ndarray:
    """Columns of the fitted changes among all changes, nan elsewhere."""
    wide = np.full((len(array), len(fitted)), np.nan)
    wide[:, fitted] = array
    return wide


def _outcomes(
    day: DayFile, runs: Sequence[Run], truth: Mapping[tuple[str, str], float], days: int, rng: np.random.Generator
) -> Floats:
    """Readings of the counted runs; the cell shows the model's noise and nothing else."""
    noise, per_unit = day.noise, _BASELINE / 100.0 if day.metric.scale == "percent" else 1.0
    sizes = CellSizes(
        baseline=_BASELINE,
        pull_sd=(noise.pull_sd or 0.0) * per_unit,
        install_sd=(noise.install_sd or 0.0) * per_unit,
        wander_sd=(noise.wander_sd or 0.0) * per_unit,
        drift_per_hour=0.0,
        warm_up=0.0,
        per_kelvin=0.0,
        per_minute_short=0.0,
        unsettled=0.0,
        bad_pull_chance=0.0,
    )
    minute = np.array([run.minute for run in runs])
    gains = {question: gain * per_unit for question, gain in truth.items()}
    shown = simulate(schedule_of(day, runs, minute, gains), sizes, rng, days).value
    return shown[:, [run.count == "yes" for run in runs]]


def _studies(day: DayFile, days: int, rng: np.random.Generator) -> dict[str, Any]:
    """A study for each day, drawn from its sampling distribution about the truth; a guess stays out."""
    noise, studies = day.noise, {}
    studied = noise.pull_df is not None or noise.install_df is not None
    for name in ("pull", "install", "wander"):
        sd, df = getattr(noise, f"{name}_sd"), getattr(noise, f"{name}_df")
        if name == "wander" and df is None and studied:
            df = STATED_DF
        if sd and df:
            studies[f"{name}_sd"] = sd * np.sqrt(rng.chisquare(df, days) / df)
            studies[f"{name}_df"] = df
    if noise.wander_sd == 0:
        studies["wander_sd"] = 0.0  # vouched for: the judge is not to insure against it
    return studies


def _before_and_after(trial: Trial, values: Floats, smallest: np.ndarray, percent: bool) -> np.ndarray:
    """Days on which one baseline pull before and the first pull with the change show the smallest gain or more."""
    counts = np.zeros(len(smallest))
    alone = trial.changes.sum(axis=1)
    for i in range(len(smallest)):
        on = np.flatnonzero((trial.changes[:, i] == 1) & (alone == 1))
        on = on if len(on) else np.flatnonzero(trial.changes[:, i] == 1)
        off = np.flatnonzero(alone == 0)
        if len(on) and len(off):
            before = off[off < on[0]]
            first = before[-1] if len(before) else off[0]
            gain = values[:, on[0]] - values[:, first]
            gain = 100.0 * gain / values[:, first] if percent else gain
            counts[i] = (gain >= np.nan_to_num(smallest[i])).sum()
    return counts


def _false(words: np.ndarray, true: np.ndarray, smallest: np.ndarray) -> np.ndarray:
    """Verdicts that are wrong: a real gain of what gives none, a real loss of what loses none, nothing where it is."""
    too_large = np.abs(true) >= np.nan_to_num(smallest, nan=np.inf)
    return (
        ((words == REAL_GAIN) & (true <= 0))
        | ((words == REAL_LOSS) & (true >= 0))
        | ((words == NO_DIFFERENCE) & too_large)
    )


def _scenario(day: DayFile, name: str, truth: Mapping[tuple[str, str], float], parts: Sequence[_Counts]) -> Scenario:
    days = sum(part.days for part in parts)
    words = np.sum([part.words for part in parts], axis=0) / days
    covered = np.sum([part.covered for part in parts], axis=0) / days
    naive = np.sum([part.before_and_after for part in parts], axis=0) / days
    shown = parts[0].shown
    changes = tuple(
        ChangeShares(
            factor=factor.name,
            level=change.level,
            true_gain=truth[factor.name, change.level],
            real_gain=float(words[i, 0]),
            real_loss=float(words[i, 1]),
            no_difference=float(words[i, 2]),
            not_settled=float(words[i, 3]),
            coverage=float(covered[i]) if shown[i] else None,
            before_and_after=float(naive[i]),
        )
        for i, (factor, change) in enumerate(day.questions)
    )
    return Scenario(
        name,
        changes,
        sum(part.all_covered for part in parts) / days if shown.any() else None,
        sum(part.any_false for part in parts) / days,
    )
