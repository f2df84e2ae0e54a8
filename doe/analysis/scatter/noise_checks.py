"""Do the readings of a study look like the noise that it assumes? Outliers, neighbours, normality, equal spread."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from doe.analysis.trials.trial import Trial
from doe.stats.fixed_effects import ColumnSpace
from doe.stats.outliers import (
    cochran_c,
    cochran_critical,
    mandel_h,
    mandel_h_critical,
    mandel_k,
    mandel_k_critical,
    studentised_critical,
)
from doe.stats.rounding import only_rounding

_MOST_FOR_SHAPIRO = 5000  # scipy's p is not accurate beyond
_FEWEST_DF = 8  # below, a test for normality finds next to nothing, or an artefact of the fit
FEWEST_NEIGHBOURS = 4
"""Pairs of pulls, below which nothing is said of neighbours."""
NO_FREEDOM = 1e-9
"""1 - leverage of a pull that is a fitting of its own."""
_AT_ONCE = 50  # outliers: each is held as a column of all pulls


@dataclass(frozen=True, slots=True)
class Outlier:
    """A pull further from the rest of its fitting than chance explains."""

    row: int  #: index of the pull in the trial
    residual: float  #: distance from what its fitting, drift and changes say; with the outliers before it left out
    statistic: float  #: studentised residual
    critical: float  #: at 5 %
    critical_1: float  #: at 1 %


@dataclass(frozen=True, slots=True)
class FittingSpread:
    """One install beside the others (Mandel); None where it has too few pulls."""

    install: int
    pulls: int
    h: float | None
    k: float | None


@dataclass(frozen=True, slots=True)
class Consistency:
    """Whether the installs agree in level and in scatter. Exact without drift and changes and with equal numbers."""

    installs: tuple[FittingSpread, ...]
    cochran: float | None
    cochran_critical: float | None  #: at 5 %
    h_critical: float | None  #: at 1 %, for each install
    k_critical: float | None  #: at 1 %, for each install


@dataclass(frozen=True, slots=True)
class Residuals:
    """What is left of the readings within the fittings, changes and drift taken out."""

    values: np.ndarray  #: shape (pulls,)
    space: ColumnSpace  #: what was taken out

    @property
    def basis(self) -> np.ndarray:
        """Orthonormal basis of what was taken out, shape (pulls, rank)."""
        return self.space.basis

    @property
    def df(self) -> int:
        """Degrees of freedom of the scatter."""
        return self.space.left

    @property
    def freedom(self) -> np.ndarray:
        """1 - leverage of each pull: its share of the degrees of freedom."""
        return 1.0 - self.space.leverage


def residuals(trial: Trial, values: np.ndarray, *, fittings: bool = True) -> Residuals:
    """Take changes, drift, days and (if asked) fittings out of the readings."""
    space = trial.within if fittings else trial.fixed().space
    return Residuals(space.residual(values), space)


def outliers(trial: Trial, values: np.ndarray) -> tuple[Outlier, ...]:
    """Grubbs' test within the fittings, again after each find with that pull left out.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)

    Returns
    -------
    tuple of Outlier
        At 5 % two-sided; the largest first. For a mean alone the test is Grubbs' (1969), for residuals it is
        Stefansky's (1972) with Bonferroni's bound.
    """
    found: list[Outlier] = []
    keep = np.arange(trial.pulls)
    while True:
        part = trial if len(keep) == trial.pulls else trial.take(keep)  # the whole is taken apart already
        new = _some_outliers(part, values[keep])
        found += [replace(out, row=int(keep[out.row])) for out in new]
        if len(new) < _AT_ONCE:
            return tuple(found)
        keep = np.delete(keep, [out.row for out in new])


def _some_outliers(trial: Trial, values: np.ndarray) -> list[Outlier]:
    """The first of them, as many as are left out without taking the rest apart anew."""
    found: list[Outlier] = []
    left = residuals(trial, values)
    residual, freedom, df = left.values, left.freedom, left.df
    gone: list[np.ndarray] = []  # a pull that is left out has a column of its own: these are orthonormal
    while len(found) < _AT_ONCE and df >= 2 and not only_rounding(residual, values):
        worst = _worst(residual, freedom, df)
        if worst is None:
            break
        found.append(worst)
        column = -left.space.hat(worst.row) - sum(q * q[worst.row] for q in gone)
        column[worst.row] += 1.0
        column /= np.sqrt(freedom[worst.row])
        gone.append(column)
        residual, freedom, df = residual - column * (column @ residual), freedom - column**2, df - 1
    return found


def _worst(residual: np.ndarray, freedom: np.ndarray, df: int) -> Outlier | None:
    """The pull furthest out, if it is too far."""
    can = freedom > NO_FREEDOM  # a fitting of one pull has no residual
    scale = np.sqrt(residual @ residual / df)
    studentised = np.divide(
        np.abs(residual), scale * np.sqrt(np.maximum(freedom, 0.0)), out=np.zeros_like(residual), where=can
    )
    at, n = int(studentised.argmax()), int(can.sum())
    five, one = (studentised_critical(n, df, risk) for risk in (0.05, 0.01))
    if studentised[at] <= five:
        return None
    return Outlier(at, float(residual[at]), float(studentised[at]), five, one)


def lag1(trial: Trial, left: Residuals) -> float | None:
    """Correlation of neighbouring pulls of one fitting; 0 expected without wander.

    Parameters
    ----------
    trial : Trial
    left : Residuals
        Within the fittings.

    Returns
    -------
    float or None
        Mean product of neighbours over the variance. Residuals of independent pulls are not independent; the product
        that the fitted terms alone give them, s^2 (I - H)_ij, is taken off. None with fewer than four pairs of
        neighbours, or without scatter.
    """
    order = trial.in_time
    a, b = order[:-1], order[1:]
    near = (trial.day[a] == trial.day[b]) & (trial.install[a] == trial.install[b])
    a, b = a[near], b[near]
    variance = float(left.values @ left.values) / left.df
    if len(a) < FEWEST_NEIGHBOURS or variance <= 0:
        return None
    given = -left.space.hats(a, b).mean()
    return float(np.clip((left.values[a] * left.values[b]).mean() / variance - given, -1.0, 1.0))


def normal_p(left: Residuals) -> float | None:
    """Shapiro & Wilk's p, normality of the residuals, each over the square root of its share of the df."""
    can = left.freedom > NO_FREEDOM
    if left.df < _FEWEST_DF or can.sum() > _MOST_FOR_SHAPIRO or np.ptp(left.values[can]) == 0:
        return None
    from scipy import stats  # a second to load, and a day's report asks nothing of it

    return float(stats.shapiro(left.values[can] / np.sqrt(left.freedom[can])).pvalue)


def consistency(trial: Trial, values: np.ndarray) -> Consistency | None:
    """Cochran's C and Mandel's h and k over the installs.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)

    Returns
    -------
    Consistency or None
        None with fewer than three installs, or without scatter.
    """
    names, group = np.unique(trial.install, return_inverse=True)
    size = np.bincount(group)
    if len(names) < 3:
        return None
    inside, outside = residuals(trial, values), residuals(trial, values, fittings=False)
    means = np.bincount(group, outside.values) / size
    many = size > 1
    variances = np.bincount(group, inside.values**2)[many] / (size[many] - 1)
    if variances.sum() <= 0 or np.ptp(means) == 0:
        return None
    h = mandel_h(means)
    k = dict(zip(np.flatnonzero(many).tolist(), mandel_k(variances, size[many] - 1).tolist(), strict=True))
    usual, groups = float(size[many].mean()), int(many.sum())
    return Consistency(
        tuple(FittingSpread(int(name), int(size[i]), float(h[i]), k.get(i)) for i, name in enumerate(names.tolist())),
        cochran_c(variances) if groups > 1 else None,
        cochran_critical(groups, usual) if groups > 1 else None,
        mandel_h_critical(len(names), 0.01),
        mandel_k_critical(groups, usual, 0.01) if groups > 1 else None,
    )
