"""Simulated days of one plan with one truth, judged and counted: the work of a rehearsal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.analysis.judging.many_outcomes import judge_outcomes
from doe.analysis.judging.verdict_rule import verdicts
from doe.analysis.trials.confounding import clear_changes
from doe.analysis.trials.from_folders import planned_trial
from doe.analysis.trials.trial import Trial
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.simulation.other_truths import AS_PLANNED, OtherTruth, longest_break
from doe.simulation.schedule import schedule_of
from doe.simulation.simulated_cell import CellSizes, Floats, simulate
from doe.stats.wander import STATED_DF
from doe.words.verdicts import NO_DIFFERENCE, REAL_GAIN, REAL_LOSS, SIGNS, VERDICTS

_BASELINE = 200.0  # any level does: no gain depends on it; in percent it is the unit


@dataclass(frozen=True, slots=True)
class Counts:
    """What came out of some days; changes in the order of the trial, nan where a change was never pulled."""

    days: int
    words: np.ndarray  #: (changes, 4) counts, in the order of VERDICTS
    covered: np.ndarray  #: (changes,)
    before_and_after: np.ndarray  #: (changes,)
    all_covered: int
    any_false: int
    shown: np.ndarray  #: (changes,) whether the change has an interval


@dataclass(frozen=True, slots=True)
class Truth:
    """What is so in the simulated cell.

    Attributes
    ----------
    gains : mapping of (factor, level) to float
        In the unit of the gains.
    otherwise : OtherTruth
        What is otherwise than the plan believes; by default nothing.
    """

    gains: Mapping[tuple[str, str], float]
    otherwise: OtherTruth = AS_PLANNED


Task = tuple[DayFile, tuple[Run, ...], tuple[float, ...], Truth, int, np.random.SeedSequence]


def count(task: Task) -> Counts:
    """Simulate some days of a plan with one truth, have them judged at each question's risk, and count."""
    day, runs, risks, truth, days, seed = task
    rng = np.random.default_rng(seed)
    trial = planned_trial(day, runs)
    values = _outcomes(day, runs, truth, days, rng)
    fitted = np.asarray(trial.changes.any(axis=0))
    clear_changes(trial.only(fitted))
    percent = day.metric.scale == "percent"
    found = judge_outcomes(
        trial.only(fitted),
        values,
        _studies(day, days, rng),
        confidence=day.analysis.confidence,
        family_confidence=1 - np.array(risks)[fitted],
        percent=percent,
    )
    true = np.array([truth.gains[q] for q in _questions(trial)])
    smallest = np.array([c.smallest_gain or np.nan for _, c in day.questions])
    limits = {
        name: _spread(getattr(found, name), fitted) for name in ("family_low", "family_high", "inner_low", "inner_high")
    }
    better = day.metric.better
    good = SIGNS[better]
    words = verdicts(
        limits["family_low"], limits["family_high"], limits["inner_low"], limits["inner_high"], smallest, better
    )
    with np.errstate(invalid="ignore"):
        covered = (limits["family_low"] <= true) & (true <= limits["family_high"])
    shown = np.isfinite(limits["family_low"]).any(axis=0)
    return Counts(
        days,
        np.stack([(words == word).sum(axis=0) for word in VERDICTS], axis=1),
        covered.sum(axis=0),
        _before_and_after(trial, good * values, smallest, percent),
        int((covered | ~shown).all(axis=1).sum()),
        int(_false(words, good * true, smallest).any(axis=1).sum()),
        shown,
    )


def _questions(trial: Trial) -> list[tuple[str, str]]:
    return list(zip(trial.factors, trial.levels, strict=True))


def _spread(array: np.ndarray, fitted: np.ndarray) -> np.ndarray:
    """Columns of the fitted changes among all changes, nan elsewhere."""
    wide = np.full((len(array), len(fitted)), np.nan)
    wide[:, fitted] = array
    return wide


def _outcomes(day: DayFile, runs: Sequence[Run], truth: Truth, days: int, rng: np.random.Generator) -> Floats:
    """Readings of the counted runs; the cell shows the model's noise, what is otherwise, and nothing else."""
    per_unit = _BASELINE / 100.0 if day.metric.scale == "percent" else 1.0
    noise = truth.otherwise.noise(day)
    sizes = CellSizes(
        baseline=_BASELINE,
        pull_sd=noise["pull_sd"] * per_unit,
        install_sd=noise["install_sd"] * per_unit,
        wander_sd=noise["wander_sd"] * per_unit,
        drift_per_hour=0.0,
        warm_up=0.0,
        per_kelvin=0.0,
        per_minute_short=0.0,
        unsettled=0.0,
        bad_pull_chance=0.0,
        bow=truth.otherwise.bow * per_unit,
        step=truth.otherwise.step * per_unit,
        step_minute=longest_break(runs, day.cell.pull_minutes),
        heavy_tails=truth.otherwise.heavy_tails,
    )
    minute = np.array([run.minute for run in runs])
    gains = {question: gain * per_unit for question, gain in truth.gains.items()}
    shown = simulate(schedule_of(day, runs, minute, gains), sizes, rng, days).value
    return shown[:, [run.counts for run in runs]]


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
            gain = 100.0 * gain / np.abs(values[:, first]) if percent else gain
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
