"""The same pulls fitted by statsmodels: MixedLM or OLS, and RLM with Huber weights as the robust reading."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.estimates import Estimates
from doe.analysis.judging.judgement import Gain, OtherGain, SecondOpinion
from doe.analysis.judging.opinions.plain_design import PlainDesign, plain_design
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.judgements import second_opinion_words as words

_ALIKE = 0.01  # of a standard error: below it nothing needs a reason
_AT_ZERO = 1e-4  # of the pull variance: statsmodels' search ends short of a boundary


@dataclass(frozen=True, slots=True)
class _Fit:
    """Coefficients, their covariance, and the SD of each grouping."""

    model: str
    coefficients: np.ndarray
    covariance: np.ndarray
    at_zero: tuple[str, ...] = ()
    converged: bool = True


def second_opinion(
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    found: Estimates,
    method: str,
    gains: Sequence[Gain],
) -> SecondOpinion:
    """Fit the same pulls with statsmodels, and say why gains and standard errors differ where they do.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    found : Estimates
    method : {"auto", "kenward-roger", "install-means"}
    gains : sequence of Gain, one per change
        Ours.

    Returns
    -------
    SecondOpinion
    """
    import statsmodels.regression.mixed_linear_model  # before its warnings are turned off: on loading it turns them on
    import statsmodels.robust.robust_linear_model

    design = plain_design(trial, known, method)
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")  # statsmodels warns of the boundary and of its search: both are told in words
        fit, robust = _likely(design, values), _robust(design, values)
    others = [
        OtherGain(
            gain.factor,
            gain.level,
            *_gain(design, fit, i, found.percent),
            *_gain(design, robust, i, found.percent),
            why=(),
        )
        for i, gain in enumerate(gains)
    ]
    return SecondOpinion(
        f"statsmodels {statsmodels.__version__}",
        "none" if fit is None else fit.model,
        tuple(
            replace(one, why=_why(trial, known, found, i, ours, one, fit, design))
            for i, (ours, one) in enumerate(zip(gains, others, strict=True))
        ),
    )


def _likely(design: PlainDesign, values: np.ndarray) -> _Fit | None:
    """MixedLM by REML where something is random, else ordinary least squares; None where neither has an answer."""
    from statsmodels.regression.linear_model import OLS

    centred = values - values.mean()
    try:
        if not design.groups:
            if len(values) <= design.matrix.shape[1]:
                return None
            return _moved("OLS", OLS(centred, design.matrix).fit(), values.mean())
        model = _mixed_model(centred, design)
        result = model.fit(reml=True)
    except (np.linalg.LinAlgError, ValueError):
        return None
    terms = design.matrix.shape[1]
    variances = [float(np.asarray(result.cov_re)[0, 0])] if len(design.groups) == 1 else result.vcomp.tolist()
    names = sorted(design.groups)
    zero = tuple(name for name, v in zip(names, variances, strict=True) if v < _AT_ZERO * float(result.scale))
    covariance = np.asarray(result.cov_params())[:terms, :terms]
    found = _Fit("MixedLM", np.asarray(result.fe_params), covariance, zero, bool(result.converged))
    return _shifted(found, values.mean())


def _mixed_model(centred: np.ndarray, design: PlainDesign) -> Any:
    from statsmodels.regression.mixed_linear_model import MixedLM, VCSpec

    if len(design.groups) == 1:
        (labels,) = design.groups.values()
        return MixedLM(centred, design.matrix, groups=labels)
    names = sorted(design.groups)
    parts = [np.asarray(design.groups[name])[:, None] == np.unique(design.groups[name]) for name in names]
    columns = [[[f"{name} {k}" for k in range(part.shape[1])]] for name, part in zip(names, parts, strict=True)]
    spec = VCSpec(names, columns, [[part.astype(float)] for part in parts])
    return MixedLM(centred, design.matrix, groups=np.zeros(len(centred)), exog_vc=spec)


def _robust(design: PlainDesign, values: np.ndarray) -> _Fit | None:
    """Huber's M estimate on pulls; None where half of the residuals are nothing, so that its scale is 0."""
    from statsmodels.robust.norms import HuberT
    from statsmodels.robust.robust_linear_model import RLM

    if len(values) <= design.matrix.shape[1]:
        return None
    try:
        result = RLM(values - values.mean(), design.matrix, M=HuberT()).fit()
    except (np.linalg.LinAlgError, ValueError, ZeroDivisionError):
        return None
    if not (np.isfinite(result.params).all() and result.scale > 0):
        return None
    return _moved("RLM", result, values.mean())


def _moved(model: str, result: Any, mean: float) -> _Fit:
    return _shifted(_Fit(model, np.asarray(result.params), np.asarray(result.cov_params())), mean)


def _shifted(fit: _Fit, mean: float) -> _Fit:
    """The fit of the readings themselves: the first column is ones."""
    coefficients = fit.coefficients.copy()
    coefficients[0] += mean
    return _Fit(fit.model, coefficients, fit.covariance, fit.at_zero, fit.converged)


def _gain(design: PlainDesign, fit: _Fit | None, change: int, percent: bool) -> tuple[float | None, float | None]:
    """Gain and standard error of a change, in percent by the delta method; None where there is none."""
    column = design.gains[change]
    if fit is None or column is None:
        return None, None
    gain, baseline = float(fit.coefficients[column]), float(design.level @ fit.coefficients)
    weights = design.contrast(change, (gain, baseline) if percent else None)
    assert weights is not None
    variance = float(weights @ fit.covariance @ weights)
    shown = 100.0 * gain / baseline if percent else gain
    return shown, math.sqrt(variance) if variance > 0 else None


def _why(
    trial: Trial,
    known: KnownNoise,
    found: Estimates,
    change: int,
    ours: Gain,
    other: OtherGain,
    fit: _Fit | None,
    design: PlainDesign,
) -> tuple[str, ...]:
    """Why gain or standard error differ; empty where they don't."""
    if other.gain is None:
        return (words.NO_ANSWER,) if fit is None else (words.NOT_TOLD,)
    if ours.gain is None:
        return (words.NOT_OURS,)
    if ours.se is None:
        return (words.NO_SE_OURS,)
    if other.se is not None and abs(other.gain - ours.gain) <= _ALIKE * ours.se and _alike(other.se, ours.se):
        return ()
    assert fit is not None
    route = found.routes[change]
    reasons = []
    if known.pull is not None or known.install is not None or known.wander is not None:
        reasons.append(words.STUDY_LEFT_OUT)
    if route == r.LONGER:
        reasons.append(words.LONGER_OF_TWO)
    elif route == r.SHORTENED:
        reasons.append(words.SHORTENED)
    elif design.groups and route != r.INSTALL_MEANS:
        reasons.append(words.NO_KENWARD_ROGER)
    if found.insured is not None and found.insured.changes[change]:
        reasons.append(words.NOT_INSURED)
    if fit.at_zero:
        reasons.append(words.at_boundary(fit.at_zero))
    if not fit.converged:
        reasons.append(words.NOT_CONVERGED)
    if trial.fittings and not design.groups and not design.blocks:
        reasons.append(words.FITTINGS_LUMPED)
    return tuple(reasons) or (words.SEARCH,)


def _alike(one: float, other: float) -> bool:
    return abs(one - other) <= _ALIKE * other
