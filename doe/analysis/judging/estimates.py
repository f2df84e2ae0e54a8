"""Gains with their standard errors and degrees of freedom, route by route, for many outcomes of one trial at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.fits import Model, fit, fit_design, fit_inside_fittings, random_days
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.size import refuse_beyond_memory
from doe.analysis.trials.trial import Trial
from doe.stats.mixed_model import decompose
from doe.stats.student import two_sided_p, upper_quantile
from doe.stats.wander import INSURED_MINUTES

LEAST_CROSSED_DF = 1.0  # Kenward and Roger's may be far below it at the boundary: an interval beyond all readings


@dataclass(frozen=True, slots=True)
class Insured:
    """The second fit, in which the engine may have wandered though nobody said so.

    Attributes
    ----------
    changes : ndarray of bool, shape (changes,)
        Which are judged twice.
    correlation : ndarray, shape (days, changes, changes)
        Of the gains, in this fit.
    """

    changes: np.ndarray
    correlation: np.ndarray


@dataclass(frozen=True, slots=True)
class Estimates:
    """What the pulls say of each change; arrays over days and changes.

    Attributes
    ----------
    routes : tuple of str, one per change
    gain : ndarray, shape (days, changes)
        In the unit of the metric, or in percent of the baseline; nan where the pulls don't determine it.
    se, df : ndarray, shape (days, changes, 2)
        Of the route; the second is the rival: of "longer of two", or the fit that is insured against wander. nan where
        there is none.
    correlation : ndarray, shape (days, changes, changes)
        Of the gains, from the adjusted mixed-model covariance.
    variances : dict of str to ndarray, shape (days,)
        Of each component in the model ("pull", "install" or one for each part, "wander", "day"), in the unit of the
        metric.
    baseline, baseline_se : ndarray, shape (days,)
        All-baseline prediction at the mean covariates, in the unit of the metric; where the pulls don't tell it, their
        level with every gain taken out that they tell.
    slope : ndarray or None, shape (days,)
        Drift per hour at the mean minute, in the unit of the metric.
    pretended_se, pretended_df : ndarray, shape (days, changes)
        As if re-fitting added nothing: least squares on pulls; nan where no route asks for it.
    main : Model
        The mixed model, with what is known of the noise.
    fits : tuple of tuple of Model, one per change
        What `se` and `df` come from, in their order.
    insured : Insured or None
        Where no wander was stated: which changes were judged twice.
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
    fits: tuple[tuple[Model, ...], ...]
    insured: Insured | None
    percent: bool

    def variances_for(self, days: int) -> dict[tuple[str, ...], np.ndarray]:
        """Variances of each fit by its components, shape (days, components); those of one day for all."""
        models = [self.main, *(model for found in self.fits for model in found)]
        return {m.components: np.broadcast_to(m.theta, (days, len(m.components))) for m in models}

    def half_width(self, risk: float | np.ndarray) -> np.ndarray:
        """Half-widths of two-sided intervals, the longer where there are two, shape (days, changes).

        Parameters
        ----------
        risk : float or ndarray, shape (days, changes, 2)
            Two-sided risk of each single interval.
        """
        return longest(self.rivals(risk))

    def rivals(self, risk: float | np.ndarray) -> np.ndarray:
        """As `half_width`, both where there are two, shape (days, changes, 2)."""
        return np.asarray(self.se * upper_quantile(np.asarray(risk, float) / 2, self.df))

    def governing(self, risk: float) -> np.ndarray:
        """Which of the two gives the longer single interval, shape (days, changes)."""
        half = self.rivals(risk)
        return np.where(np.isnan(half), -np.inf, half).argmax(axis=-1)

    def p_value(self, risk: float) -> np.ndarray:
        """Two-sided p of each single gain, shape (days, changes): of two routes the larger, else the longer's."""
        both = two_sided_p(self.gain[..., None] / self.se, self.df)
        if self.insured is None:
            return longest(both)
        of_longer = np.take_along_axis(both, self.governing(risk)[..., None], axis=-1)[..., 0]
        return np.where(self.insured.changes, of_longer, longest(both))


def longest(pair: np.ndarray) -> np.ndarray:
    """Largest along the last axis; nan only where all are nan."""
    filled = np.where(np.isnan(pair), -np.inf, pair).max(axis=-1)
    return np.where(np.isneginf(filled), np.nan, filled)


def estimate(
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    *,
    method: str = "auto",
    percent: bool = False,
    near: Estimates | None = None,
    left_out: np.ndarray | None = None,
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
    near : Estimates, optional
        Of nearly the same pulls and as many days, or one: its variances are what the search for these starts from.
    left_out : ndarray of int, shape (days, left out), optional
        Pulls that each day does without, whatever stands there; such that `routes.same_without` holds and the other
        pulls determine as much. Not with `percent`: the baseline's mean covariates would be those of all pulls.

    Returns
    -------
    Estimates

    Raises
    ------
    DoeError
        More pulls than fit into memory.
    """
    wandering = method == "auto" and (known.wander is not None or known.wander_unstated)
    refuse_beyond_memory(trial, wander=wandering and trial.minute is not None)
    starts = {} if near is None else near.variances_for(len(values))
    routes = r.choose_routes(trial, known, method)
    fixed = trial.fixed(random_days=random_days(trial, method))
    functions = fixed.answers_in(fixed.space)
    changes = len(trial.factors)
    untouched = decompose(fixed.space, functions)
    plain = (
        fit_design(untouched, (), KnownNoise(), values, left_out=left_out) if percent or known.wander_unstated else None
    )
    if percent:
        assert plain is not None
        known = known.scaled(plain.inference.estimate[:, changes] / 100.0)
    beside = r.LONGER in routes or r.NONE in routes
    pulls = fit_design(untouched, (), known, values, left_out=left_out) if beside else None
    main = fit(trial, known, values, method=method, starts=starts, left_out=left_out)
    within = [i for i in range(changes) if r.only_within(trial, known, method, i)]
    blocks = fit_inside_fittings(trial, known, values) if within else None
    fits = [_fits(trial, i, route, main, pulls, blocks, values) for i, route in enumerate(routes)]
    again = _insured_fits(trial, known, values, method, routes, plain, blocks, starts, left_out)
    gain = main.inference.estimate[:, :changes].copy()
    for i, route in enumerate(routes):
        if i in again:
            fits[i] = [*fits[i], again[i]]
        if route == r.INSTALL_MEANS or i in again:
            gain[:, i] = fits[i][-1].inference.estimate[:, i]
        elif blocks is not None and i in within:
            gain[:, i] = blocks.inference.estimate[:, i]
        if route == r.LONGER:  # where the readings' rounding hides the pull scatter, the fittings' means still speak
            gain[main.still, i] = fits[i][0].inference.estimate[main.still, i]
    gain[:, ~trial.determined] = np.nan  # days taken as random would tell some of them from the days' levels alone
    baseline = main.inference.estimate[:, changes]
    weights = gain_weights(gain, baseline, len(functions), percent=percent)
    se, df = np.full((2, len(values), changes, 2), np.nan)
    contrasts = {id(model): model.inference.contrast(weights) for found in fits for model in found}
    for i, found in enumerate(fits):
        for rival, model in enumerate(found):
            s, d = contrasts[id(model)]
            se[:, i, rival] = s[:, i]
            df[:, i, rival] = np.maximum(d[:, i], LEAST_CROSSED_DF) if routes[i] == r.CROSSED else d[:, i]
            if routes[i] != r.LONGER:  # there means that agree to the last digit leave the word to the pulls
                se[model.still, i, rival] = np.nan
    for i in again:
        se[np.isnan(se[:, i, 0]), i] = np.nan  # the insurance lengthens an interval and never gives one
    pretended_se, pretended_df = np.full((2, len(values), changes), np.nan)
    if pulls is not None:
        pretended_se, pretended_df = pulls.inference.contrast(weights)
    # to reproduce other software, the means' own correlation; else the mixed model's, whatever the route
    together = next((m[0] for m in fits if m), main) if method == r.INSTALL_MEANS else main
    baseline_se = np.sqrt(np.maximum(main.inference.adjusted[:, changes, changes], 0.0))
    still = main.still
    for i, route in enumerate(routes):
        unseen = pulls.still if route == r.LONGER and pulls is not None else still
        for numbers in (se, df, pretended_se, pretended_df):
            numbers[unseen, i] = np.nan
    lost = _lost(se, still)
    if method == r.KENWARD_ROGER:
        gain[:, lost] = np.nan  # weighed by variances that nothing tells
    return Estimates(
        routes=tuple(r.NONE if lost else route for lost, route in zip(lost, routes, strict=True)),
        gain=gain / baseline[:, None] * 100.0 if percent else gain,
        se=se,
        df=df,
        correlation=_correlation(together, weights),
        variances={name: main.theta[:, k] for k, name in enumerate(main.components)},
        baseline=baseline,
        baseline_se=np.where(still, np.nan, baseline_se),
        slope=None if fixed.slope is None else main.inference.estimate[:, changes + 1],
        pretended_se=pretended_se,
        pretended_df=pretended_df,
        main=main,
        fits=tuple(map(tuple, fits)),
        insured=_insured(again, changes, weights),
        percent=percent,
    )


def _lost(se: np.ndarray, still: np.ndarray) -> np.ndarray:
    """Changes whose variance rests on a component that neither the day nor a study knows, shape (changes,)."""
    return np.isnan(se[~still]).all(axis=(0, 2)) & (not still.all())


def _correlation(model: Model, weights: np.ndarray) -> np.ndarray:
    """Correlation of the gains in one fit, shape (days, changes, changes)."""
    changes = weights.shape[1]
    if changes < 2:
        return np.ones((len(weights), changes, changes))
    found = model.inference.correlation(weights)
    return np.where(np.isfinite(found), found, np.eye(changes))


def _insured_fits(
    trial: Trial,
    known: KnownNoise,
    values: np.ndarray,
    method: str,
    routes: Sequence[str],
    plain: Model | None,
    blocks: Model | None,
    starts: Mapping[tuple[str, ...], np.ndarray],
    left_out: np.ndarray | None,
) -> dict[int, Model]:
    """The second fit of each change that is insured against wander, by change."""
    asked = [i for i, route in enumerate(routes) if route in r.INSURED]
    if not (asked and known.wander_unstated and method == "auto" and trial.minute is not None):
        return {}
    in_blocks = [i for i in asked if blocks is not None and r.only_within(trial, known, method, i)]
    found = {}
    if len(in_blocks) < len(asked):
        assert plain is not None  # made wherever no wander is stated
        again = known.insured(_pull_sd(plain))
        model = fit(trial, again, values, wander_minutes=INSURED_MINUTES, starts=starts, left_out=left_out)
        found = dict.fromkeys(asked, model)
    if blocks is not None and in_blocks:
        model = fit_inside_fittings(trial, known.insured(_pull_sd(blocks)), values, INSURED_MINUTES)
        found.update(dict.fromkeys(in_blocks, model))
    return found


def _pull_sd(model: Model) -> np.ndarray:
    """Residual SD of a fit with one variance, shape (days,); 1 where nothing scatters."""
    return np.sqrt(model.theta[:, 0])


def _insured(again: Mapping[int, Model], changes: int, weights: np.ndarray) -> Insured | None:
    if not again:
        return None
    insured = np.isin(np.arange(changes), list(again))
    return Insured(insured, _correlation(again[min(again)], weights))


def _fits(
    trial: Trial, change: int, route: str, main: Model, pulls: Model | None, blocks: Model | None, values: np.ndarray
) -> list[Model]:
    if route == r.NONE:
        return []
    if route == r.WITHIN:
        return [main if blocks is None else blocks]
    if route in (r.STUDY, r.CROSSED, r.KENWARD_ROGER):
        return [main]
    means = fit(trial, KnownNoise(), values, over=trial.means_for(change))
    return [means] if pulls is None else [means, pulls]


def gain_weights(gain: np.ndarray, baseline: np.ndarray, functions: int, *, percent: bool) -> np.ndarray:
    """Contrasts of the functions that the gains are: g, or 100 (g - (g/b) b)/b by the delta method.

    Means and blocks that don't determine the baseline have their level in its place: it counts with g/b only.

    Parameters
    ----------
    gain : ndarray, shape (days, changes)
    baseline : ndarray, shape (days,)
    functions : int
        How many: the gains, the baseline, and whatever else is asked of the coefficients.
    percent : bool

    Returns
    -------
    ndarray, shape (days, changes, functions)
    """
    days, changes = gain.shape
    weights = np.zeros((days, changes, functions))
    weights[:, :, :changes] = np.eye(changes)
    if percent:
        weights[:, :, changes] = -gain / baseline[:, None]
        weights *= 100.0 / baseline[:, None, None]
    return weights
