"""Many plans of several refit parts at once, on the means of their stints: which changes will be judged "crossed".

The rule is that of `doe.stats.precision`, and what it weighs is expected here as there, but for what the means of the
stints leave out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.planning.arrays.stint_rows import Rows
from doe.stats import precision as p
from doe.stats.generalised import of_many, ridged_inverse, total_covariance
from doe.stats.kenward_roger import of_fit
from doe.stats.student import upper_quantile

HUGE = 1e3  # a gain known to so many pull variances is not told from something else, or as good as not


def same_fitting(rows: Rows, place: int) -> np.ndarray:
    """Which stints share a fitting of one part, padding with none, shape (plans, stints, stints)."""
    label, used = rows.fittings[place], rows.pulls > 0
    return ((label[:, :, None] == label[:, None, :]) & used[:, :, None] & used[:, None, :]).astype(float)


@dataclass(frozen=True, slots=True)
class MeansOfPlans:
    """The designs of many plans averaged over the fittings of one part.

    Attributes
    ----------
    average : ndarray, shape (plans, fittings, stints)
    residual : ndarray, shape (plans, fittings, fittings)
        I - H on the fittings that there are.
    left : ndarray, shape (plans,)
        J - r.
    leverage : ndarray, shape (plans, terms)
        Diagonal of (X'X)^-1.
    """

    average: np.ndarray
    residual: np.ndarray
    left: np.ndarray
    leverage: np.ndarray

    @classmethod
    def over(cls, rows: Rows, matrix: np.ndarray, place: int) -> MeansOfPlans:
        """Average over the fittings of the part at `place`."""
        labels = rows.fittings[place]
        fitting = labels[:, None, :] == np.arange(labels.max(initial=0) + 1)[None, :, None]
        counts = fitting * rows.pulls[:, None, :]
        total = counts.sum(axis=2)
        average = counts / np.maximum(total, 1)[..., None]
        real = (total > 0).astype(float)
        means = average @ matrix
        inverse = ridged_inverse(np.swapaxes(means, 1, 2) @ means)
        hat = means @ inverse @ np.swapaxes(means, 1, 2)
        left = np.round(real.sum(axis=1) - np.einsum("pjj->p", hat))
        residual = real[:, :, None] * np.eye(real.shape[1]) - hat
        return cls(average, residual, left, np.einsum("ptt->pt", inverse))

    def se_and_df(self, v: np.ndarray, terms: Sequence[int] | slice) -> tuple[np.ndarray, np.ndarray]:
        """Expected SE and df of some terms by ordinary least squares, df 0 where there is none; (plans, terms) each.

        `v` is the covariance of the stint means.
        """
        spread = np.einsum("pij,pji->p", self.residual, self.average @ v @ np.swapaxes(self.average, 1, 2))
        scale = spread / np.maximum(self.left, 1.0)
        leverage = self.leverage[:, terms]
        se = np.sqrt(np.maximum(scale[:, None] * leverage, 1e-18))
        return se, np.where((leverage < HUGE) & (self.left >= 1)[:, None], self.left[:, None], 0.0)


def crossed_stints(owner: Sequence[int | None], rows: Rows, matrix: np.ndarray) -> np.ndarray:
    """The first of `doe.stats.precision.weighed_by_design`, for many plans.

    Parameters
    ----------
    owner : sequence of int or None, one per question
        Which of the fittings the change is switched by.
    rows : Rows
    matrix : ndarray, shape (plans, stints, terms)
        The questions' columns follow the first.

    Returns
    -------
    ndarray of bool, shape (plans, questions)
    """
    parts = [same_fitting(rows, place) for place in range(len(rows.fittings))]
    components = [1.0 / np.maximum(rows.pulls, 1), *parts]
    questions = slice(1, 1 + len(owner))
    inside = (np.maximum(rows.pulls - 1.0, 0.0).sum(axis=1) - (rows.pulls == 0).sum(axis=1)) / 2.0

    def crossed_at(plans: np.ndarray, variance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Expected half-widths of some plans, and those of one who knows the variances."""
        kinds = [one[plans] for one in components]
        fit = of_many(matrix[plans], kinds, variance)
        information = fit.information.copy()
        information[:, 0, 0] += inside[plans]
        known = np.sqrt(np.einsum("dtt->dt", fit.covariance)[:, questions])
        crossed = p.half_width(*of_fit(fit, kinds, information, questions))
        return np.where(known**2 < HUGE, crossed, np.inf), known * upper_quantile(p.HALF_RISK, np.inf)

    def at(sds: tuple[float, float], own: int) -> np.ndarray:
        return np.array([1.0, *(sds[place != own] ** 2 for place in range(len(parts)))])

    everything = np.arange(len(matrix))
    nothing = crossed_at(everything, at(p.NO_SCATTER, 0))[0]
    found = np.zeros(nothing.shape, bool)
    for own in {place for place in owner if place is not None}:
        of_this = np.array([place == own for place in owner])
        over = MeansOfPlans.over(rows, matrix, own)

        def means_at(sds: tuple[float, float], own: int = own, over: MeansOfPlans = over) -> np.ndarray:
            se, df = over.se_and_df(total_covariance(components, at(sds, own)), questions)
            return p.half_width(se, df) * p.root_mean(over.left)[:, None]

        kept = of_this & p.shorter_crossed(nothing, means_at(p.NO_SCATTER))
        plans = np.flatnonzero(kept.any(axis=1))  # the dearer looks at those only that have passed the cheaper
        if len(plans):
            quiet, means = crossed_at(plans, at(p.QUIET_PART, own))[0], means_at(p.QUIET_PART)
            kept[plans] &= p.shorter_crossed(quiet, means[plans])
            plans = np.flatnonzero((kept & np.isinf(means)).any(axis=1))
            if len(plans):
                worth = p.worth_crossing(*crossed_at(plans, at(p.ALIKE, own)))
                kept[plans] &= worth | np.isfinite(means[plans])
        found |= kept
    return found
