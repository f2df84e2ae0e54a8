"""Gains with their standard errors and degrees of freedom, route by route, for many outcomes of one trial at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.fits import Model, random_days
from doe.analysis.judging.route_fits import RouteFits, fit_routes
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.size import refuse_beyond_memory
from doe.analysis.trials.trial import Trial
from doe.stats.student import two_sided_p, upper_quantile

LEAST_CROSSED_DF = 1.0  # Kenward and Roger's may be far below it at the boundary: an interval beyond all readings
_MEANS, _PULLS, _CROSSED = 0, 1, 2  # places among the rivals of "shortened by crossed"; the last may be insured


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
    se, df : ndarray, shape (days, changes, 2 or 4)
        Of the route; the second is the rival: of "longer of two", or the fit that is insured against wander. The others
        are the crossed fits that shorten the interval by means, plain and insured. nan where there is none.
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
        """Half-widths of two-sided intervals, of several the one that counts, shape (days, changes).

        Parameters
        ----------
        risk : float or ndarray, as `se`
            Two-sided risk of each single interval.
        """
        half = self.rivals(risk)
        return _taken(half, self._counts(half))

    def rivals(self, risk: float | np.ndarray) -> np.ndarray:
        """As `half_width`, all of them, shape as `se`."""
        return np.asarray(self.se * upper_quantile(np.asarray(risk, float) / 2, self.df))

    def governing(self, risk: float) -> np.ndarray:
        """Which of them gives the single interval that counts, shape (days, changes)."""
        return self._counts(self.rivals(risk))

    def p_value(self, risk: float) -> np.ndarray:
        """Two-sided p of each single gain, shape (days, changes): as intervals are chosen, else the longer's."""
        every = two_sided_p(self.gain[..., None] / self.se, self.df)
        chosen = _taken(every, self._counts(every))
        if self.insured is None:
            return chosen
        return np.where(self.insured.changes, _taken(every, self.governing(risk)), chosen)

    def shortens(self, change: int, *, insured: bool = False) -> bool:
        """Whether a crossed fit (or a crossed and insured one) may shorten the interval of a change on day one."""
        place = _CROSSED + insured
        return place < self.se.shape[-1] and bool(np.isfinite(self.se[0, change, place]))

    def _counts(self, size: np.ndarray) -> np.ndarray:
        """Place of the largest; of the means and what shortens them first the smaller. Sizes as `se`, or their p."""
        size = np.where(np.isnan(size), -np.inf, size)
        place = size[..., : _PULLS + 1].argmax(axis=-1)
        shortened = np.array([route == r.SHORTENED for route in self.routes])
        if not shortened.any():
            return place
        crossed = size[..., _CROSSED:].max(axis=-1)
        shorter = np.isfinite(crossed) & (np.maximum(crossed, size[..., _PULLS]) < size[..., _MEANS])
        instead = np.where(crossed > size[..., _PULLS], _CROSSED + size[..., _CROSSED:].argmax(axis=-1), _PULLS)
        return np.where(shortened & shorter, instead, place)


def _taken(sizes: np.ndarray, place: np.ndarray) -> np.ndarray:
    return np.take_along_axis(sizes, place[..., None], axis=-1)[..., 0]


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
    fits = fit_routes(trial, known, values, method, starts, left_out, percent=percent)
    main, changes = fits.main, len(trial.factors)
    gain = _gains(trial, fits)
    baseline = main.inference.estimate[:, changes]
    weights = gain_weights(gain, baseline, main.inference.estimate.shape[1], percent=percent)
    se, df = _precision(trial, fits, weights)
    pretended_se, pretended_df = np.full((2, len(values), changes), np.nan)
    if fits.pulls is not None:
        pretended_se, pretended_df = fits.pulls.inference.contrast(weights)
    for i, route in enumerate(fits.routes):
        unseen = fits.pulls.still if route in r.BY_MEANS and fits.pulls is not None else main.still
        for numbers in (se, df, pretended_se, pretended_df):
            numbers[unseen, i] = np.nan
    lost = _lost(se, main.still)
    if method == r.KENWARD_ROGER:
        gain[:, lost] = np.nan  # weighed by variances that nothing tells
    # to reproduce other software, the means' own correlation; else the mixed model's, whatever the route
    together = next((own[0] for own in fits.of if own), main) if method == r.INSTALL_MEANS else main
    baseline_se = np.sqrt(np.maximum(main.inference.adjusted[:, changes, changes], 0.0))
    slope = trial.fixed(random_days=random_days(trial, method)).slope
    return Estimates(
        routes=tuple(r.NONE if lost else route for lost, route in zip(lost, fits.routes, strict=True)),
        gain=gain / baseline[:, None] * 100.0 if percent else gain,
        se=se,
        df=df,
        correlation=_correlation(together, weights),
        variances={name: main.theta[:, k] for k, name in enumerate(main.components)},
        baseline=baseline,
        baseline_se=np.where(main.still, np.nan, baseline_se),
        slope=None if slope is None else main.inference.estimate[:, changes + 1],
        pretended_se=pretended_se,
        pretended_df=pretended_df,
        main=main,
        fits=tuple(map(tuple, fits.of)),
        insured=_insured(fits.again, changes, weights),
        percent=percent,
    )


def _gains(trial: Trial, fits: RouteFits) -> np.ndarray:
    """The gain of each change from the fit that its route goes by, shape (days, changes)."""
    main, blocks = fits.main, fits.blocks
    gain = main.inference.estimate[:, : len(fits.routes)].copy()
    for i, route in enumerate(fits.routes):
        if route == r.INSTALL_MEANS or i in fits.again:
            gain[:, i] = fits.of[i][-1].inference.estimate[:, i]
        elif blocks is not None and i in fits.within:
            gain[:, i] = blocks.inference.estimate[:, i]
        if route in r.BY_MEANS:  # where the readings' rounding hides the pull scatter, the fittings' means still speak
            gain[main.still, i] = fits.of[i][0].inference.estimate[main.still, i]
    gain[:, ~trial.determined] = np.nan  # days taken as random would tell some of them from the days' levels alone
    return gain


def _precision(trial: Trial, fits: RouteFits, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Standard errors and degrees of freedom from each change's fits, shape (days, changes, 2 or 4) each."""
    se, df = np.full((2, *weights.shape[:2], 4 if r.SHORTENED in fits.routes else 2), np.nan)
    contrasts = {id(model): model.inference.contrast(weights) for own in fits.of for model in own}
    for i, (route, own) in enumerate(zip(fits.routes, fits.of, strict=True)):
        for rival, model in enumerate(own):
            s, d = contrasts[id(model)]
            se[:, i, rival] = s[:, i]
            shortens = route == r.SHORTENED and rival >= _CROSSED
            df[:, i, rival] = np.maximum(d[:, i], LEAST_CROSSED_DF) if shortens or route == r.CROSSED else d[:, i]
            if shortens:
                se[:, i, rival] *= crossed_stretch(trial, i)
                se[_own_at_zero(trial, fits.main, i), i, rival] = np.nan
            if shortens or route not in r.BY_MEANS:  # there means that agree to the last digit leave it to the pulls
                se[model.still, i, rival] = np.nan
    for i in fits.again:
        se[np.isnan(se[:, i, 0]), i] = np.nan  # the insurance lengthens an interval and never gives one
    return se, df


def crossed_stretch(trial: Trial, change: int) -> float:
    """By how much the crossed interval is made longer before it shortens that by the means of a change.

    The shorter of two intervals covers a little less than either. Found by simulation: 1 + 1/(5 (J - r)).
    """
    return 1.0 + 0.2 / trial.means_for(change).space.left


def _own_at_zero(trial: Trial, main: Model, change: int) -> np.ndarray:
    """Days on which the refit scatter of the change's own part is estimated as 0: nothing shortens there."""
    place = main.install_of(trial, trial.factors[change])
    return np.ones(len(main.theta), bool) if place is None else np.asarray(main.theta[:, place] == 0)


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


def _insured(again: Mapping[int, Model], changes: int, weights: np.ndarray) -> Insured | None:
    if not again:
        return None
    insured = np.isin(np.arange(changes), list(again))
    return Insured(insured, _correlation(again[min(again)], weights))


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
