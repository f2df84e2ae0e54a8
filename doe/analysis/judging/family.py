"""The family: simultaneous intervals over the changes that get an interval, for one day or for thousands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.estimates import Estimates
from doe.analysis.judging.fits import Model
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import Outcomes
from doe.stats.multivariate_t import Families, largest_df
from doe.words.significance import inner_level

Risks = tuple[np.ndarray, np.ndarray]
"""Two-sided single risks of the outer and the inner interval, each of shape (days, changes, 2)."""

_MANY = 100  # families from which a table is cheaper than solving each
_RATIO_POINTS, _DF_POINTS = 12, 9


def levels(confidence: float) -> tuple[float, float]:
    """Confidence of the outer and of the inner simultaneous interval."""
    return confidence, inner_level(confidence)


def family_risks(found: Estimates, confidence: float | np.ndarray, *, quick: bool = False) -> Risks:
    """Two-sided single risks of the outer and the inner simultaneous interval.

    The family is the changes that get an interval. Of a change that is judged twice each fit has the critical value of
    the family as that fit sees it.

    Parameters
    ----------
    found : Estimates
    confidence : float or ndarray, shape (changes,)
        Where questions differ in it (the ledger of risk), the family is solved at each and a change takes its own.
    quick : bool
        Critical values within 1e-3, for thousands of outcomes.

    Returns
    -------
    tuple of ndarray, each of shape (days, changes, 2)
        At `confidence` and at 1 - 2 (1 - confidence).
    """

    def solved(view: _View, level: float) -> np.ndarray:
        return view.families.per_contrast_risk(view.df, level, quick=quick)

    return _risks_of_each(found, confidence, solved)


def many_family_risks(found: Estimates, confidence: float | np.ndarray) -> Risks:
    """As `family_risks`, for many outcomes of one design: from a table where the correlation hangs on one ratio only.

    With the pull scatter and one other, and the same study df for all outcomes, the correlation of the gains is a
    function of the ratio of the two variances; the risk of each contrast is then a smooth function of that ratio and
    of the largest df, and is interpolated (critical values within 1e-3 of the exact ones).

    Parameters
    ----------
    found : Estimates
    confidence : float or ndarray, shape (changes,)

    Returns
    -------
    tuple of ndarray, each of shape (days, changes, 2)
    """

    def solved(view: _View, level: float) -> np.ndarray:
        model = view.model
        simple = len(model.components) <= 2 and not found.percent and len(model.studies.df) == 1
        if len(found.gain) < _MANY or not simple:
            return view.families.per_contrast_risk(view.df, level, quick=True)
        return view.table.risk(level)

    return _risks_of_each(found, confidence, solved)


@dataclass(frozen=True)
class _View:
    """The family as one fit sees it."""

    model: Model
    members: list[int]
    correlation: np.ndarray  #: (days, members, members)
    df: np.ndarray  #: (days, 2 members), nan where there is none

    @cached_property
    def families(self) -> Families:
        """One family a day."""
        return Families(self.correlation)

    @cached_property
    def table(self) -> _Table:
        """Of few families, between which those of all days lie."""
        share, inverse_df = _second_share(self.model), 1 / largest_df(self.df)
        shares, inverses = _grid(share, _RATIO_POINTS), _grid(inverse_df, _DF_POINTS)
        families = Families(_correlations(self.model, self.members, shares))
        return _Table(families, inverses, _lagrange(shares, share), _lagrange(inverses, inverse_df))


@dataclass(frozen=True)
class _Table:
    """Risks at a few ratios of the variances and a few df, and what each day takes of each."""

    families: Families  #: one a ratio
    inverse_df: np.ndarray
    of_ratio: np.ndarray  #: (days, ratios)
    of_df: np.ndarray  #: (days, inverse_df)

    def risk(self, level: float) -> np.ndarray:
        """Risk of each contrast, shape (days,)."""
        solved = [
            self.families.per_contrast_risk(np.full((len(self.families), 1), 1 / inverse), level, quick=True)
            for inverse in self.inverse_df
        ]
        # the logarithm: polynomials follow it, where the critical value runs off towards few df
        return np.asarray(np.exp(((self.of_ratio @ np.log(np.stack(solved, axis=1))) * self.of_df).sum(axis=1)))


def _risks_of_each(
    found: Estimates, confidence: float | np.ndarray, solved: Callable[[_View, float], np.ndarray]
) -> Risks:
    """Both levels, each change at its own confidence."""
    own = np.broadcast_to(np.asarray(confidence, float), found.se.shape[1:2])
    outer, inner = np.empty((2, *found.se.shape))
    for level in np.unique(own).tolist():
        for risks, at_level in zip((outer, inner), _risks(found, level, solved), strict=True):
            risks[:, own == level] = at_level[:, own == level]
    return outer, inner


def _risks(found: Estimates, confidence: float, solved: Callable[[_View, float], np.ndarray]) -> Risks:
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


def _second_share(model: Model) -> np.ndarray:
    """Share of the second component, 0 to 1: the ratio of the variances on a scale with two ends."""
    if len(model.components) == 1:
        return np.zeros(len(model.theta))
    return model.theta[:, 1] / (model.theta[:, 0] + model.theta[:, 1])


def _grid(values: np.ndarray, points: int) -> np.ndarray:
    """Chebyshev-spaced points over the values, one where they are all equal."""
    low, high = values.min(), values.max()
    if high - low <= 1e-12:
        return np.array([low])
    return low + (high - low) * 0.5 * (1 - np.cos(np.pi * np.linspace(0, 1, points)))


def _lagrange(grid: np.ndarray, at: np.ndarray) -> np.ndarray:
    """What the polynomial through a grid takes of each of its points, shape (values, points).

    Barycentric, with the weights of Chebyshev points (Berrut & Trefethen 2004, SIAM Review 46, 501-517, sec. 5).
    """
    weight = np.where(np.arange(len(grid)) % 2, -1.0, 1.0)
    weight[[0, -1]] *= 0.5
    apart = at[:, None] - grid
    on = apart == 0
    with np.errstate(divide="ignore", invalid="ignore"):
        share = weight / apart
        share /= share.sum(axis=1, keepdims=True)
    return np.where(on.any(axis=1, keepdims=True), on, share)


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
