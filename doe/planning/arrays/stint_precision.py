"""Expected precision of many plans at once, on the means of their stints.

Within a stint the pulls differ by their own scatter and a little wander; between stints the means carry everything
else. That leaves matrices of the size of the number of stints, and figures within about 1 % of those pull by pull.
"""

from __future__ import annotations

from functools import lru_cache
from math import comb

import numpy as np

from doe.planning.arrays.crossed_stints import HUGE, MeansOfPlans, crossed_stints, same_fitting
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.stint_rows import Rows
from doe.stats.generalised import of_many, ridged_inverse, total_covariance
from doe.stats.kenward_roger import of_fit
from doe.stats.precision import satterthwaite_df

_DAYS_APART = 30.0  # time constants: wander of one day knows nothing of the next


def stint_precision(arrays: DayArrays, rows: Rows, degree: int) -> tuple[np.ndarray, np.ndarray]:
    """Expected SE and df of each gain, shape (plans, questions) each; df 0 where there is none."""
    matrix = _matrix(rows, degree)
    each = len(rows.fittings) > 1 and not arrays.noise.install_df  # the judge takes one refit SD for each part
    components, variance, numbers = _components(arrays, rows, each)
    fit = of_many(matrix, components, variance)
    information = fit.information + _within_stints(arrays, rows.pulls, components, variance, numbers)
    questions = slice(1, 1 + arrays.on.shape[1])
    variance_of = np.einsum("dtt->dt", fit.covariance)[:, questions]
    if each:
        se, df = of_fit(fit, components, information, questions)
        df = np.where(np.isfinite(se), np.maximum(df, 1.0), 0.0)
        se = np.where(se > 0, se, np.sqrt(variance_of))
    else:
        se = np.sqrt(variance_of)
        df = satterthwaite_df(variance_of, fit.parts[:, :, questions], information, variance)
    if not arrays.noise.install_df and any(owner is not None for owner in arrays.owner):
        crossed = crossed_stints(arrays.owner, rows, matrix) if each else np.zeros(se.shape, bool)
        _judge_by_means(arrays, rows, matrix, total_covariance(components, variance), crossed, se, df)
    return se, np.where(variance_of > HUGE * variance.sum(), 0.0, df)


def _matrix(rows: Rows, degree: int) -> np.ndarray:
    """Fixed effects on stint means, rows of padding all 0, shape (plans, stints, terms)."""
    used = (rows.pulls > 0)[..., None].astype(float)
    weight = rows.pulls / np.maximum(rows.pulls.sum(axis=1, keepdims=True), 1)
    hours = (rows.mean - (weight * rows.mean).sum(axis=1, keepdims=True)) / 60.0
    half = np.sqrt(3.0 * rows.spread) / 60.0  # of an even spread with this variance
    drift = [_mean_power(hours, half, power)[..., None] for power in range(1, degree + 1)]
    days = [used * (rows.day == day)[:, None] for day in np.unique(rows.day)[1:]]
    return np.concatenate([np.ones_like(used), rows.on, *drift, *days], axis=2) * used


def _mean_power(middle: np.ndarray, half: np.ndarray, power: int) -> np.ndarray:
    """Mean of x^power over an even spread from middle - half to middle + half."""
    even = range(0, power + 1, 2)
    return np.asarray(sum(comb(power, j) * middle ** (power - j) * half**j / (j + 1) for j in even))


def _components(arrays: DayArrays, rows: Rows, each: bool) -> tuple[list[np.ndarray], np.ndarray, list[int]]:
    """Covariance structures of the stint means, their variances, and which of pull, install, wander they are."""
    used = rows.pulls > 0
    found, numbers = [1.0 / np.maximum(rows.pulls, 1)], [0]
    both = used[:, :, None] & used[:, None, :]
    shared = [same_fitting(rows, place) for place in range(len(rows.fittings))]
    if each:
        found += shared
        numbers += [1] * len(shared)
    elif arrays.noise.install_sd and arrays.refit_factors:
        found.append(sum(shared[1:], shared[0]))
        numbers.append(1)
    if arrays.noise.wander_sd:
        kernels = [_stint_wander(rows, arrays.day.cell.pull_minutes, tau) for tau in arrays.noise.wander_minutes]
        found.append(sum(kernels[1:], kernels[0]) / len(kernels) * both)
        numbers.append(2)
    return found, arrays.noise.variance[numbers], numbers


def _stint_wander(rows: Rows, pull_minutes: float, tau: float) -> np.ndarray:
    """Correlation of stint means under wander with one time constant, shape (plans, stints, stints).

    In closed form, each stint an unbroken row of pulls.
    """
    step = pull_minutes / tau
    pulls = np.maximum(rows.pulls, 1)
    half = np.sqrt(rows.spread * 3.0) / tau  # half the width of an even spread with this variance
    damp = np.sinh(np.maximum(half, 1e-6)) / np.maximum(half, 1e-6)
    late = np.exp(rows.mean / tau + rows.day * (rows.mean.max(initial=0.0) / tau + _DAYS_APART))
    forward = (damp / late)[:, :, None] * (damp * late)[:, None, :]
    kernel = np.minimum(forward, np.swapaxes(forward, 1, 2))
    diagonal = np.arange(pulls.shape[1])
    kernel[:, diagonal, diagonal] = _mean_correlation(int(pulls.max(initial=1)), step)[pulls]
    return kernel


@lru_cache(maxsize=256)
def _mean_correlation(most: int, step: float) -> np.ndarray:
    """Mean of exp(-|i - j| step) over all pairs of n pulls in a row, for n = 0 to `most`."""
    found = np.ones(most + 1)
    for n in range(2, most + 1):
        apart = np.arange(1, n)
        found[n] = (n + 2 * ((n - apart) * np.exp(-apart * step)).sum()) / n**2
    return found


def _within_stints(
    arrays: DayArrays, pulls: np.ndarray, components: list[np.ndarray], variance: np.ndarray, numbers: list[int]
) -> np.ndarray:
    """Information on the variances from the differences within stints, and from the studies; padding taken off.

    Within a stint of n pulls the expected square per degree of freedom is theta_pull + c theta_wander,
    c = n (1 - mean correlation)/(n - 1).
    """
    n = pulls.astype(float)
    left = np.maximum(n - 1, 0.0)
    found = np.zeros((len(n), len(variance), len(variance)))
    if numbers[-1] == 2:
        held = np.einsum("pss->ps", components[-1])
        c = np.divide(n * (1 - held), left, out=np.zeros_like(n), where=left > 0)
        square = 2 * (variance[0] + c * variance[-1]) ** 2
        found[:, 0, 0] = (left / square).sum(axis=1)
        found[:, 0, -1] = found[:, -1, 0] = (left * c / square).sum(axis=1)
        found[:, -1, -1] = (left * c**2 / square).sum(axis=1)
    else:
        found[:, 0, 0] = left.sum(axis=1) / (2 * variance[0] ** 2)
    found[:, 0, 0] -= (n == 0).sum(axis=1) / (2 * variance[0] ** 2)
    return found + np.diag(arrays.noise.information[numbers])


def _judge_by_means(
    arrays: DayArrays,
    rows: Rows,
    matrix: np.ndarray,
    v: np.ndarray,
    crossed: np.ndarray,
    se: np.ndarray,
    df: np.ndarray,
) -> None:
    """Put SE and df of the means over the fittings in place, for the changes of refit factors without a study."""
    nothing_left = np.ones(len(se), bool)
    for place in range(len(rows.fittings)):
        of_this = [question for question, owner in enumerate(arrays.owner) if owner == place]
        means = MeansOfPlans.over(rows, matrix, place)
        nothing_left &= means.left < 1
        own_se, own_df = means.se_and_df(v, [1 + question for question in of_this])
        se[:, of_this] = np.where(crossed[:, of_this], se[:, of_this], own_se)
        df[:, of_this] = np.where(crossed[:, of_this], df[:, of_this], own_df)
    quick = np.array([owner is None for owner in arrays.owner])
    plans = np.flatnonzero(nothing_left)
    if quick.any() and len(plans):
        df[plans] = np.where(_told_inside(rows, matrix, plans) | ~quick, df[plans], 0.0)


def _told_inside(rows: Rows, matrix: np.ndarray, plans: np.ndarray) -> np.ndarray:
    """Which gains some plans determine inside their fittings, where the judge will read them; (plans, questions)."""
    used = (rows.pulls[plans] > 0)[..., None]
    blocks = [
        (labels[plans][..., None] == np.arange(labels.max(initial=0) + 1)).astype(float) * used
        for labels in rows.fittings
    ]
    inside = np.concatenate([matrix[plans], *blocks], axis=2)
    normal = np.swapaxes(inside, 1, 2) @ inside
    inverse = ridged_inverse(normal)
    questions = slice(1, 1 + rows.on.shape[2])
    return np.asarray(np.einsum("ptt->pt", inverse)[:, questions] < HUGE)
