"""One fit of a trial: its random components, their variances, and the inference for gains, baseline and slope."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Means, Trial
from doe.stats import reml
from doe.stats.kenward_roger import Inference, infer
from doe.stats.mixed_model import Decomposition, Outcomes, Studies, decompose, leave_out, reduce
from doe.stats.rounding import only_rounding
from doe.stats.wander import STATED_MINUTES, wander_factor

WANDER = "wander"  # the name of its component
_LEAST_VARIANCE = 1e-140  # where nothing scatters: inference divides by it squared


@dataclass(frozen=True, slots=True)
class Model:
    """One fit: variances by component, and the inference for gains, baseline and slope.

    `still` tells the days on which nothing but rounding is left to see the pull scatter with, shape (days,).
    """

    components: tuple[str, ...]
    theta: np.ndarray
    inference: Inference
    design: Decomposition
    studies: Studies
    still: np.ndarray

    def install_of(self, trial: Trial, factor: str) -> int | None:
        """Which component is the refit scatter of a part; None where the model has none."""
        for name in ("install", install_of(trial.fitted_alike.get(factor, factor))):
            if name in self.components:
                return self.components.index(name)
        return None


def fit(
    trial: Trial,
    known: KnownNoise,
    values: np.ndarray,
    *,
    method: str = "auto",
    over: Means | None = None,
    wander_minutes: Sequence[float] = STATED_MINUTES,
    starts: Mapping[tuple[str, ...], np.ndarray] | None = None,
    left_out: np.ndarray | None = None,
) -> Model:
    """Fit the day's model, or least squares on means.

    Parameters
    ----------
    trial : Trial
    known : KnownNoise
        In the metric's unit.
    values : ndarray, shape (days, pulls)
    method : {"auto", "kenward-roger", "install-means"}
    over : Means, optional
        Averages over these groups first, and knows no other scatter than theirs.
    wander_minutes : sequence of float
        Time constants of a wander in `known`.
    starts : mapping of the components' names to ndarray, shape (days, components), optional
        Variances of nearly the same pulls.
    left_out : ndarray of int, shape (days, left out), optional
        Pulls that each day does without; not with `over`.

    Returns
    -------
    Model
        Its functions are the gains, the baseline (of means the level, see `FixedEffects.answers_in`), and the slope
        where there is one.
    """
    by_day = random_days(trial, method)
    fixed = trial.fixed(random_days=by_day)
    if over is not None:
        return fit_design(decompose(over.space, fixed.answers_in(over.space)), (), KnownNoise(), over.of(values))
    parts = _components(trial, known, method, by_day, wander_minutes)
    functions = fixed.answers_in(fixed.space)
    start = (starts or {}).get(("pull", *parts))
    design = decompose(fixed.space, functions, list(parts.values()))
    return fit_design(design, tuple(parts), known, values, start, left_out)


def _components(
    trial: Trial, known: KnownNoise, method: str, by_day: bool, wander_minutes: Sequence[float]
) -> dict[str, np.ndarray]:
    """Factor matrices of the random components beside the pull scatter."""
    found: dict[str, np.ndarray] = {}
    if by_day:
        found["day"] = trial.indicator(trial.day)
    if method == r.KENWARD_ROGER:
        groups = len(np.unique(trial.install))
        if len(trial.apart) > 1:
            return found | _one_each(trial)
        if trial.fittings and groups < trial.pulls:
            found["install"] = trial.indicator(trial.install)
        return found
    install = trial.condensed_install_factor
    if install is not None and r.sees_installs(trial, known):
        found |= _one_each(trial) if r.one_sd_each(trial, known) else {"install": install}
    return found | _wander(trial, known, wander_minutes)


def _one_each(trial: Trial) -> dict[str, np.ndarray]:
    """A component for the refit scatter of each part."""
    return {install_of(name): z for name, z in trial.fittings_apart.items()}


def install_of(factor: str) -> str:
    """Name of the refit scatter of one part, where each part has its own."""
    return f"install of {factor}"


def _wander(trial: Trial, known: KnownNoise, minutes: Sequence[float]) -> dict[str, np.ndarray]:
    """Factor matrix of a wander that is known."""
    if known.wander is None or trial.minute is None:
        return {}
    return {WANDER: wander_factor(trial.minute, trial.day, minutes)}


def random_days(trial: Trial, method: str) -> bool:
    """Tell whether several days are taken as random, as other software does."""
    return method == r.KENWARD_ROGER and len(np.unique(trial.day)) > 1


def fit_inside_fittings(
    trial: Trial, known: KnownNoise, values: np.ndarray, wander_minutes: Sequence[float] = STATED_MINUTES
) -> Model:
    """Every fitting as a fixed block."""
    parts = _wander(trial, known, wander_minutes)
    return fit_design(decompose(trial.within, trial.within_answers, list(parts.values())), tuple(parts), known, values)


def fit_design(
    design: Decomposition,
    components: Sequence[str],
    known: KnownNoise,
    values: np.ndarray,
    start: np.ndarray | None = None,
    left_out: np.ndarray | None = None,
) -> Model:
    """Variances and inference; `components` names what is random beside the pull scatter, `left_out` as in `fit`."""
    components = ("pull", *components)
    outcomes = reduce(design, values)
    if left_out is not None:
        design, outcomes = leave_out(design, outcomes, values, left_out)
    studies = known.studies(components)
    still = _still(design, outcomes, values, known)
    if design.error_df == 0 and not (studies.df[:, 0] > 0).all():  # nothing is left to see any scatter with
        theta = np.full((len(values), len(components)), 1.0)
        studies = Studies(np.ones_like(studies.variance), np.ones_like(studies.df))
    else:
        theta = np.ones((len(values), len(components)))
        told = np.flatnonzero(~still | (len(components) == 1))  # where nothing scatters, no ratio can be told
        if len(told):
            theta[told] = reml.fit(
                design, *reml.some_days(outcomes, studies, told), None if start is None else start[told]
            )
        theta[:, 0] = np.maximum(theta[:, 0], _LEAST_VARIANCE)
    return Model(components, theta, infer(design, outcomes, theta, studies), design, studies, still)


def _still(design: Decomposition, outcomes: Outcomes, values: np.ndarray, known: KnownNoise) -> np.ndarray:
    """Days that leave nothing but rounding to see the pull scatter with: an SD of 0 would make all else known."""
    if known.pull is not None:
        return np.zeros(len(values), bool)
    if design.error_df == 0:
        return np.ones(len(values), bool)
    whole = only_rounding(design.residual(values, outcomes.left_out), values)
    return whole | only_rounding(np.sqrt(outcomes.left_over)[:, None], values) if design.left_over else whole
