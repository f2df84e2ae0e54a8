"""Gain over rpm, with a band that holds over the whole range at once: each change on the day's own route.

The design is the metric's; a bin of rpm is one more outcome of it. What the bins share is the variance ratios; each has
its own scale, which pooled over rpm would cover too little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.curves.band import critical_value, effective_bins, roughness
from doe.analysis.judging.curves.pooled_ratios import pooled_ratios, study_information
from doe.analysis.judging.estimates import LEAST_CROSSED_DF, Estimates, gain_weights
from doe.analysis.judging.fits import Model
from doe.analysis.trials.trial import Trial
from doe.stats.fixed_effects import ROW_TOLERANCE
from doe.stats.kenward_roger import Inference, df_of_variance, infer, known_part
from doe.stats.mixed_model import Studies, information, reduce
from doe.stats.rounding import only_rounding
from doe.stats.student import upper_quantile


@dataclass(frozen=True, slots=True)
class CurveOfChange:
    """One change over rpm, in the unit of the curve; arrays of shape (bins,).

    Attributes
    ----------
    gain : ndarray
        nan where the pulls don't determine it.
    se : ndarray or None
        Lengthened by `widened`; None where there is no band.
    df : float
        Of the band.
    critical, single : float
        Factors of the standard error: of the band that holds at all rpm at once, and of one rpm alone.
    widened : float
        How much longer the verdict's interval is than the metric's plain Kenward-Roger one.
    kappa, effective_bins : float
        What the scatter of the curve is like, see `band`.
    """

    gain: np.ndarray
    se: np.ndarray | None = None
    df: float = np.nan
    critical: float = np.nan
    single: float = np.nan
    widened: float = np.nan
    kappa: float = np.nan
    effective_bins: float = np.nan

    def band(self, factor: float) -> tuple[np.ndarray, np.ndarray]:
        """Lower and upper limit, so many standard errors away."""
        assert self.se is not None
        return self.gain - factor * self.se, self.gain + factor * self.se


def gain_curves(trial: Trial, curves: np.ndarray, found: Estimates, risks: Sequence[float]) -> list[CurveOfChange]:
    """The gain of every change at every rpm.

    Parameters
    ----------
    trial : Trial
    curves : ndarray, shape (pulls, bins)
        Power or torque of each pull at each rpm.
    found : Estimates
        Of the metric, of the same pulls.
    risks : sequence of float, shape (changes,)
        Two-sided, that a change's band fails anywhere.

    Returns
    -------
    list of CurveOfChange, one per change
    """
    fits: dict[int, _Fit] = {}
    done = []
    for change, risk in enumerate(risks):
        model = _model(found, change)
        fit = fits.setdefault(id(model), _fit(trial, curves.T, model, percent=found.percent))
        done.append(_curve(trial, found, fit, change, risk))
    return done


@dataclass(frozen=True, slots=True)
class _Fit:
    """One model at every bin."""

    model: Model
    inference: Inference  #: at the pooled ratios; estimates of shape (bins, functions)
    weights: np.ndarray  #: what the gains are of the functions, shape (bins or 1, changes, functions)
    scale: np.ndarray | None  #: residual SD of each bin, shape (bins,); None where nothing is left to see it with
    information: np.ndarray  #: of the day and the studies on the ratios
    kappa: float
    effective_bins: float
    error_df: int


def _model(found: Estimates, change: int) -> Model:
    """The mixed model that the change's curve is fitted with: its own, or the day's where the verdict averages."""
    own = found.routes[change] in (r.STUDY, r.CROSSED, r.WITHIN, r.KENWARD_ROGER) and found.fits[change]
    return found.fits[change][0] if own else found.main


def _fit(trial: Trial, bins: np.ndarray, model: Model, *, percent: bool) -> _Fit:
    """Fit all bins at once; `bins` has shape (bins, pulls)."""
    design, studies = model.design, _studies(trial, model)
    outcomes = reduce(design, bins)
    changes = len(trial.factors)
    seen = design.error_df > 0 and not only_rounding(design.residual(bins), bins).any()
    theta = pooled_ratios(design, outcomes, studies, model.theta[0]) if seen else np.ones(design.components)
    inference = infer(design, outcomes, theta[None])
    estimate = inference.estimate
    weights = gain_weights(estimate[:, :changes], estimate[:, changes], estimate.shape[1], percent=percent)
    if not seen:
        return _Fit(model, inference, weights, None, np.zeros((1, 1)), 0.0, 1.0, design.error_df)
    inverse = np.linalg.inv(design.covariance(theta[None]))
    # What the whitened residuals have in common: those that no random component reaches, then the others, whitened.
    residual, reached = design.residual(bins), outcomes.reached
    products = residual @ residual.T + reached @ (inverse[0] - np.eye(reached.shape[1])) @ reached.T
    squares = np.diagonal(products)
    cosines = products / np.sqrt(squares[:, None] * squares)
    known = information(design, inverse, theta[None], Studies.none(design.components))[0]
    return _Fit(
        model=model,
        inference=inference,
        weights=weights,
        scale=np.sqrt(squares / design.error_df),
        information=known + study_information(studies, theta),
        kappa=roughness(cosines),
        effective_bins=effective_bins(cosines, design.error_df),
        error_df=design.error_df,
    )


def _studies(trial: Trial, model: Model) -> Studies:
    """What is known of the ratios: a study of other components is beside the metric's own pull scatter."""
    studies = Studies(model.studies.variance[:1], model.studies.df[:1])
    if not studies.df[0, 1:].any() or studies.df[0, 0] > 0:
        return studies
    variance, df = studies.variance.copy(), studies.df.copy()
    variance[0, 0], df[0, 0] = model.theta[0, 0], max(trial.within.left, 1)
    return Studies(variance, df)


def _curve(trial: Trial, found: Estimates, fit: _Fit, change: int, risk: float) -> CurveOfChange:
    """One change's gain, and its band where there is one."""
    changes = len(trial.factors)
    estimate = fit.inference.estimate
    gain = estimate[:, change] if np.isfinite(found.gain[0, change]) else np.full(len(estimate), np.nan)
    if found.percent:
        gain = 100.0 * gain / estimate[:, changes]
    if fit.scale is None or found.routes[change] == r.NONE or not np.isfinite(gain).all():
        return CurveOfChange(gain)
    widened = _widened(trial, found, fit.model, change, risk)
    metric_df = _metric_df(fit, found, change)
    if not (np.isfinite(widened) and metric_df > 0):
        return CurveOfChange(gain)
    weights = fit.weights[:, change]
    phi = fit.inference.covariance[0]
    variance = np.einsum("bf,fg,bg->b", weights, np.where(np.isfinite(phi), phi, 0.0), weights)
    df = min(float(fit.error_df), metric_df * (1.0 + fit.effective_bins) / 2)
    return CurveOfChange(
        gain=gain,
        se=widened * fit.scale * np.sqrt(variance),
        df=df,
        critical=critical_value(df, fit.kappa, len(estimate), risk),
        single=float(upper_quantile(risk / 2, df)),
        widened=widened,
        kappa=fit.kappa,
        effective_bins=fit.effective_bins,
    )


def _widened(trial: Trial, found: Estimates, model: Model, change: int, risk: float) -> float:
    """Width of the verdict's interval over that of the metric's plain Kenward-Roger one; nan where it has none."""
    changes, functions = len(trial.factors), model.inference.estimate.shape[1]
    numbers = model.inference.estimate[:, :changes], model.inference.estimate[:, changes]
    weights = gain_weights(*numbers, functions, percent=found.percent)
    se, df = (number[0, change] for number in model.inference.contrast(weights))
    if found.routes[change] == r.CROSSED:
        df = max(df, LEAST_CROSSED_DF)
    plain = se * upper_quantile(risk / 2, df)
    return float(np.maximum(1.0, found.half_width(risk)[0, change] / plain))  # nan stays nan


def _metric_df(fit: _Fit, found: Estimates, change: int) -> float:
    """Kenward and Roger's degrees of freedom of the gain at the pooled ratios; nan where a ratio isn't known."""
    if fit.model.design.components == 1:
        return float(fit.error_df)
    weights = np.zeros(fit.weights.shape[-1])
    weights[change] = 1.0
    w, unknown = known_part(fit.information[None])
    parts = fit.inference.parts[0][:, change, change]
    if np.linalg.norm(unknown[0] @ parts) > ROW_TOLERANCE * np.abs(parts).sum():
        return np.nan
    df = float(df_of_variance(fit.inference.covariance[0, change, change], parts, w[0]))
    return max(df, LEAST_CROSSED_DF) if found.routes[change] == r.CROSSED else df
