"""Gains with their standard errors and degrees of freedom, route by route, for many outcomes of one trial at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Means, Trial
from doe.stats import reml
from doe.stats.kenward_roger import Inference, infer
from doe.stats.mixed_model import Decomposition, Studies, decompose, indicator, reduce, wander_factor
from doe.stats.rounding import only_rounding
from doe.stats.student import two_sided_p, upper_quantile


@dataclass(frozen=True, slots=True)
class Model:
    """One fit: variances by component, and the inference for gains, baseline and slope."""

    components: tuple[str, ...]
    theta: np.ndarray
    inference: Inference
    design: Decomposition
    studies: Studies


@dataclass(frozen=True, slots=True)
class Estimates:
    """What the pulls say of each change; arrays over days and changes.

    Attributes
    ----------
    routes : tuple of str, one per change
    gain : ndarray, shape (days, changes)
        In the unit of the metric, or in percent of the baseline; nan where the pulls don't determine it.
    se, df : ndarray, shape (days, changes, 2)
        Of the route; the second is the rival of "longer of two". nan where there is none.
    correlation : ndarray, shape (days, changes, changes)
        Of the gains, from the adjusted mixed-model covariance.
    variances : dict of str to ndarray, shape (days,)
        Of each component in the model ("pull", "install", "wander", "day"), in the unit of the metric.
    baseline, baseline_se : ndarray, shape (days,)
        All-baseline prediction at the mean covariates, in the unit of the metric; where the pulls don't tell it, their
        level with every gain taken out that they tell.
    slope : ndarray or None, shape (days,)
        Drift per hour at the mean minute, in the unit of the metric.
    pretended_se, pretended_df : ndarray, shape (days, changes)
        As if re-fitting added nothing: least squares on pulls; nan where no route asks for it.
    main : Model
        The mixed model that the estimates come from.
    percent : bool
        Gains as a share of the baseline.
    """

    routes: tuple[str, ...]
    gain: np.ndarray
    se: np.ndarray
    df: np.ndarray
    correlation: np.ndarray
    variances: dict[str, np.ndarray]
    baseline: np.ndarray
    baseline_se: np.ndarray
    slope: np.ndarray | None
    pretended_se: np.ndarray
    pretended_df: np.ndarray
    main: Model
    percent: bool

    def half_width(self, risk: float | np.ndarray) -> np.ndarray:
        """Half-widths of two-sided intervals, the longer where there are two, shape (days, changes).

        Parameters
        ----------
        risk : float or ndarray, shape (days,)
            Two-sided risk of each single interval.
        """
        return longest(self.rivals(risk))

    def rivals(self, risk: float | np.ndarray) -> np.ndarray:
        """As `half_width`, both where there are two, shape (days, changes, 2)."""
        risk = np.asarray(risk, float)
        quantile = upper_quantile((risk if risk.ndim == 0 else risk[:, None, None]) / 2, self.df)
        return np.asarray(self.se * quantile)

    def p_value(self) -> np.ndarray:
        """Two-sided p of each single gain, the larger where there are two, shape (days, changes)."""
        return longest(two_sided_p(self.gain[..., None] / self.se, self.df))


def longest(pair: np.ndarray) -> np.ndarray:
    """Largest along the last axis; nan only where all are nan."""
    filled = np.where(np.isnan(pair), -np.inf, pair).max(axis=-1)
    return np.where(np.isneginf(filled), np.nan, filled)


def estimate(
    trial: Trial, values: np.ndarray, known: KnownNoise, *, method: str = "auto", percent: bool = False
) -> Estimates:
    """Estimate the gain of every change, each by its own route.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (days, pulls)
        Outcomes of this one design.
    known : KnownNoise
        In the metric's unit, or in percent when `percent`.
    method : {"auto", "kenward-roger", "install-means"}
    percent : bool
        Gains as a share of the baseline, by the delta method.

    Returns
    -------
    Estimates
    """
    routes = r.choose_routes(trial, known, method)
    fixed = trial.fixed(random_days=_random_days(trial, method))
    functions = fixed.answers_in(fixed.space)
    changes = len(trial.factors)
    needed = r.LONGER in routes or r.NONE in routes
    untouched = decompose(fixed.space, functions)
    if percent:
        plain = _fit(untouched, (), KnownNoise(), values)
        known = known.scaled(plain.inference.estimate[:, changes] / 100.0)
    pulls = _fit(untouched, (), known, values) if needed else None
    main = fit(trial, known, values, method=method)
    within = [i for i in range(changes) if r.only_within(trial, known, method, i)]
    blocks = _fit(decompose(trial.within, trial.within_answers), (), known, values) if within else None
    models = [_models(trial, i, route, main, pulls, blocks, values) for i, route in enumerate(routes)]
    gain = main.inference.estimate[:, :changes].copy()
    for i, route in enumerate(routes):
        if route == r.INSTALL_MEANS:
            gain[:, i] = models[i][0].inference.estimate[:, i]
        elif blocks is not None and i in within:
            gain[:, i] = blocks.inference.estimate[:, i]
    gain[:, ~trial.determined] = np.nan  # days taken as random would tell some of them from the days' levels alone
    baseline = main.inference.estimate[:, changes]
    weights = _weights(gain, baseline, functions, percent)
    shape = (len(values), changes, 2)
    se, df = np.full(shape, np.nan), np.full(shape, np.nan)
    pretended_se, pretended_df = np.full((2, len(values), changes), np.nan)
    if pulls is not None:
        pretended_se, pretended_df = pulls.inference.contrast(weights)
    for i, found in enumerate(models):
        for rival, model in enumerate(found):
            if model is pulls:
                se[:, i, rival], df[:, i, rival] = pretended_se[:, i], pretended_df[:, i]
            else:
                s, d = model.inference.contrast(weights[:, i : i + 1])
                se[:, i, rival], df[:, i, rival] = s[:, 0], d[:, 0]
    # to reproduce other software, the means' own correlation; else the mixed model's, whatever the route
    together = next((m[0] for m in models if m), main) if method == r.INSTALL_MEANS else main
    alone = np.ones((len(values), 1, 1))
    correlation = together.inference.correlation(weights) if changes > 1 else alone
    baseline_se = np.sqrt(np.maximum(main.inference.adjusted[:, changes, changes], 0.0))
    still = _no_scatter(trial, main.design.fitted, values, known)
    for numbers in (se, df, pretended_se, pretended_df):
        numbers[still] = np.nan
    lost = _lost(se, still)
    if method == r.KENWARD_ROGER:
        gain[:, lost] = np.nan  # weighed by variances that nothing tells
    return Estimates(
        routes=tuple(r.NONE if lost else route for lost, route in zip(lost, routes, strict=True)),
        gain=gain / baseline[:, None] * 100.0 if percent else gain,
        se=se,
        df=df,
        correlation=np.where(np.isfinite(correlation), correlation, np.eye(changes)),
        variances={name: main.theta[:, k] for k, name in enumerate(main.components)},
        baseline=baseline,
        baseline_se=np.where(still, np.nan, baseline_se),
        slope=None if fixed.slope is None else main.inference.estimate[:, changes + 1],
        pretended_se=pretended_se,
        pretended_df=pretended_df,
        main=main,
        percent=percent,
    )


def _lost(se: np.ndarray, still: np.ndarray) -> np.ndarray:
    """Changes whose variance rests on a component that neither the day nor a study knows, shape (changes,)."""
    return np.isnan(se[~still]).all(axis=(0, 2)) & (not still.all())


def _random_days(trial: Trial, method: str) -> bool:
    return method == r.KENWARD_ROGER and len(np.unique(trial.day)) > 1


def fit(
    trial: Trial,
    known: KnownNoise,
    values: np.ndarray,
    *,
    method: str = "auto",
    over: Means | None = None,
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

    Returns
    -------
    Model
        Its functions are the gains, the baseline (of means the level, see `FixedEffects.answers_in`), and the slope
        where there is one.
    """
    random_days = _random_days(trial, method)
    fixed = trial.fixed(random_days=random_days)
    if over is not None:
        return _fit(decompose(over.space, fixed.answers_in(over.space)), (), KnownNoise(), values @ over.over.T)
    parts = _components(trial, known, method, random_days)
    functions = fixed.answers_in(fixed.space)
    return _fit(decompose(fixed.space, functions, list(parts.values())), tuple(parts), known, values)


def _components(trial: Trial, known: KnownNoise, method: str, random_days: bool) -> dict[str, np.ndarray]:
    """Factor matrices of the random components beside the pull scatter."""
    found: dict[str, np.ndarray] = {}
    if random_days:
        found["day"] = indicator(trial.day)
    if method == r.KENWARD_ROGER:
        groups = len(np.unique(trial.install))
        if trial.fittings and groups < trial.pulls:
            found["install"] = indicator(trial.install)
        return found
    install = trial.install_factor()
    if install is not None and (
        r.has_install_study(trial, known) or (not r.one_pull_per_install(trial) and r.anything_left_between(trial))
    ):
        found["install"] = install
    if known.wander is not None and trial.minute is not None:
        found["wander"] = wander_factor(trial.minute, trial.day)
    return found


def _fit(design: Decomposition, components: Sequence[str], known: KnownNoise, values: np.ndarray) -> Model:
    """Variances and inference; `components` names what is random beside the pull scatter."""
    components = ("pull", *components)
    outcomes = reduce(design, values)
    studies = known.studies(components)
    if design.error_df == 0 and not (studies.df[:, 0] > 0).all():  # nothing is left to see any scatter with
        theta = np.full((len(values), len(components)), 1.0)
        studies = Studies(np.ones_like(studies.variance), np.ones_like(studies.df))
    else:
        theta = reml.fit(design, outcomes, studies)
        theta[:, 0] = np.maximum(theta[:, 0], 1e-300)
    return Model(components, theta, infer(design, outcomes, theta, studies), design, studies)


def _models(
    trial: Trial, change: int, route: str, main: Model, pulls: Model | None, blocks: Model | None, values: np.ndarray
) -> list[Model]:
    if route == r.NONE:
        return []
    if route == r.WITHIN:
        return [main if blocks is None else blocks]
    if route in (r.STUDY, r.KENWARD_ROGER):
        return [main]
    means = fit(trial, KnownNoise(), values, over=trial.means_for(change))
    return [means] if pulls is None else [means, pulls]


def _weights(gain: np.ndarray, baseline: np.ndarray, functions: np.ndarray, percent: bool) -> np.ndarray:
    """Contrasts of the functions that the gains are: g, or 100 (g - (g/b) b)/b by the delta method.

    Means and blocks that don't determine the baseline have their level in its place: it counts with g/b only.
    """
    days, changes = gain.shape
    weights = np.zeros((days, changes, len(functions)))
    weights[:, :, :changes] = np.eye(changes)
    if percent:
        weights[:, :, changes] = -gain / baseline[:, None]
        weights *= 100.0 / baseline[:, None, None]
    return weights


def _no_scatter(trial: Trial, fitted: np.ndarray, values: np.ndarray, known: KnownNoise) -> np.ndarray:
    """Days whose readings repeat to the last digit, or that leave nothing to see scatter with: no interval."""
    if known.pull is not None:
        return np.zeros(len(values), bool)
    if trial.error_df == 0:
        return np.ones(len(values), bool)
    residual = values - (values @ fitted) @ fitted.T
    return only_rounding(residual, values)
