"""The family: simultaneous intervals over the changes that get an interval, for one day or for thousands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import interpolate

from doe.analysis.judging import routes as r
from doe.analysis.judging.estimates import Estimates
from doe.analysis.judging.fits import Model
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import Outcomes
from doe.stats.multivariate_t import EXACT, QUICK, Rule, critical_values, per_contrast_risk
from doe.stats.student import two_sided_p
from doe.words.significance import inner_level

_MANY = 100  # families from which a table is cheaper than solving each
_RATIO_POINTS, _DF_POINTS = 9, 9


def levels(confidence: float) -> tuple[float, float]:
    """Confidence of the outer and of the inner simultaneous interval."""
    return confidence, inner_level(confidence)


def family_risks(found: Estimates, confidence: float, rule: Rule = EXACT) -> tuple[np.ndarray, np.ndarray]:
    """Two-sided single risks of the outer and the inner simultaneous interval.

    The family is the changes that get an interval. Of a change that is judged twice each fit has the critical value of
    the family as that fit sees it.

    Parameters
    ----------
    found : Estimates
    confidence : float
    rule : Rule

    Returns
    -------
    tuple of ndarray, each of shape (days, changes, 2)
        At `confidence` and at 1 - 2 (1 - confidence).
    """

    def solved(view: _View, level: float) -> np.ndarray:
        return per_contrast_risk(view.correlation, view.df, level, rule)

    return _risks(found, confidence, solved)


def many_family_risks(found: Estimates, confidence: float) -> tuple[np.ndarray, np.ndarray]:
    """As `family_risks`, for many outcomes of one design: from a table where the correlation hangs on one ratio only.

    With the pull scatter and one other, and the same study df for all outcomes, the correlation of the gains is a
    function of the ratio of the two variances; the critical value is then a smooth function of that ratio and of the
    largest df, and is interpolated (within 1e-3 of the exact one).

    Parameters
    ----------
    found : Estimates
    confidence : float

    Returns
    -------
    tuple of ndarray, each of shape (days, changes, 2)
    """

    def solved(view: _View, level: float) -> np.ndarray:
        model = view.model
        simple = len(model.components) <= 2 and not found.percent and len(model.studies.df) == 1
        if len(found.gain) < _MANY or not simple:
            return per_contrast_risk(view.correlation, view.df, level, QUICK)
        finite = np.where(np.isfinite(view.df), view.df, -np.inf).max(axis=1)
        df = np.where(finite > 0, np.minimum(finite, 1e6), 1e6)
        share = _second_share(model, model.theta)
        return np.asarray(two_sided_p(_interpolated(model, view.members, share, df, level), df))

    return _risks(found, confidence, solved)


@dataclass(frozen=True, slots=True)
class _View:
    """The family as one fit sees it."""

    model: Model
    members: list[int]
    correlation: np.ndarray  #: (days, members, members)
    df: np.ndarray  #: (days, 2 members), nan where there is none


def _risks(
    found: Estimates, confidence: float, solved: Callable[[_View, float], np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """Both levels, for each change and rival, shape (days, changes, 2) each."""
    members = [i for i, route in enumerate(found.routes) if route != r.NONE]
    outer, inner = (np.full(found.se.shape, 1 - level) for level in levels(confidence))
    if len(members) < 2:
        return outer, inner
    plain = _view(found, members, rival=0)
    for risks, level in zip((outer, inner), levels(confidence), strict=True):
        risks[:] = solved(plain, level)[:, None, None]
    if found.insured is not None:
        again = _view(found, members, rival=1)
        for risks, level in zip((outer, inner), levels(confidence), strict=True):
            risks[:, found.insured.changes, 1] = solved(again, level)[:, None]
    return outer, inner


def _view(found: Estimates, members: list[int], rival: int) -> _View:
    """The family in the plain fit (0) or in the insured one (1): of what is judged twice, that fit's df only."""
    model, correlation, df = found.main, found.correlation, found.df
    if found.insured is not None:
        twice = found.insured.changes
        df = df.copy()
        df[:, twice, 1 - rival] = np.nan
        if rival:
            correlation = found.insured.correlation
            model = found.fits[int(np.flatnonzero(twice)[0])][1]
    return _View(model, members, correlation[:, members][:, :, members], df[:, members].reshape(len(df), -1))


def _second_share(model: Model, theta: np.ndarray) -> np.ndarray:
    """Share of the second component, 0 to 1: the ratio of the variances on a scale with two ends."""
    if len(model.components) == 1:
        return np.zeros(len(theta))
    return theta[:, 1] / (theta[:, 0] + theta[:, 1])


def _interpolated(model: Model, members: list[int], share: np.ndarray, df: np.ndarray, level: float) -> np.ndarray:
    shares = _grid(share.min(), share.max(), _RATIO_POINTS)
    inverse_df = _grid(1 / df.max(), 1 / df.min(), _DF_POINTS)
    correlation = _correlations(model, members, shares)
    table = critical_values(
        np.repeat(correlation, len(inverse_df), axis=0), np.tile(1 / inverse_df, len(shares)), level, QUICK
    ).reshape(len(shares), len(inverse_df))
    if len(shares) == 1 and len(inverse_df) == 1:
        return np.full(len(df), table[0, 0])
    if len(shares) == 1:
        return np.asarray(interpolate.CubicSpline(inverse_df, table[0])(1 / df))
    if len(inverse_df) == 1:
        return np.asarray(interpolate.CubicSpline(shares, table[:, 0])(share))
    return np.asarray(interpolate.RectBivariateSpline(shares, inverse_df, table)(share, 1 / df, grid=False))


def _grid(low: float, high: float, points: int) -> np.ndarray:
    """Chebyshev-spaced points, one where the range is empty."""
    if high - low <= 1e-12:
        return np.array([low])
    return low + (high - low) * 0.5 * (1 - np.cos(np.pi * np.linspace(0, 1, points)))


def _correlations(model: Model, members: list[int], shares: np.ndarray) -> np.ndarray:
    """Correlations of the gains at given shares of the second component, shape (shares, members, members)."""
    design = model.design
    theta = np.ones((len(shares), len(model.components)))
    if len(model.components) == 2:
        theta[:, 1] = shares / np.maximum(1 - shares, 1e-9)
    n = len(shares)
    functions = design.least_squares.shape[1]
    nothing = Outcomes(np.zeros((n, functions)), np.zeros((n, design.reach.shape[1])), np.zeros(n))
    pick = np.eye(functions)[members]
    return infer(design, nothing, theta, model.studies).correlation(pick)
