"""What a design will show before a pull is made: expected standard errors and degrees of freedom of its gains.

Everything is at assumed SDs. `expected_precision` does one design, pull by pull, with the routes by which the day will
be judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.stats.fixed_effects import ColumnSpace, FixedEffects, column_sizes, column_space, fixed_effects
from doe.stats.generalised import of_one, total_covariance
from doe.stats.mixed_model import indicator
from doe.stats.wander import STATED_DF, STATED_MINUTES, wander_kernel

_NO_INFORMATION = 1e-9


@dataclass(frozen=True, slots=True)
class AssumedNoise:
    """The noise that a plan is made for; an SD without df is a guess, no SD means that there is none of its kind.

    Attributes
    ----------
    pull_sd, install_sd, wander_sd : float
        In the unit of the gains.
    pull_df, install_df, wander_df : float
        Degrees of freedom of the study that found them, 0 for a guess.
    wander_minutes : tuple of float
        Time constants of the wander.
    """

    pull_sd: float
    install_sd: float = 0.0
    wander_sd: float = 0.0
    pull_df: float = 0.0
    install_df: float = 0.0
    wander_df: float = STATED_DF
    wander_minutes: tuple[float, ...] = STATED_MINUTES

    @property
    def variance(self) -> np.ndarray:
        """Variances of pull, install and wander, shape (3,)."""
        return np.array([self.pull_sd, self.install_sd, self.wander_sd]) ** 2

    @property
    def information(self) -> np.ndarray:
        """What the studies know of the three variances: df / (2 variance^2), shape (3,)."""
        df = np.array([self.pull_df, self.install_df, self.wander_df])
        variance = self.variance
        return np.divide(df, 2 * variance**2, out=np.zeros(3), where=variance > 0)


@dataclass(frozen=True, slots=True)
class Precision:
    """Expected precision of the gains of one design.

    Attributes
    ----------
    se : ndarray, shape (changes,)
        Infinite where the gain can't be told from something else.
    df : ndarray, shape (changes,)
        0 where no interval is possible.
    covariance : ndarray, shape (changes, changes)
        Of the gains by generalised least squares; nan where a gain can't be told.
    weights : ndarray, shape (changes, pulls)
        With which each gain is read from the pulls (generalised least squares); nan where it can't be told.
    """

    se: np.ndarray
    df: np.ndarray
    covariance: np.ndarray
    weights: np.ndarray


def satterthwaite_df(
    variance_of: np.ndarray, parts: np.ndarray, information: np.ndarray, variance: np.ndarray
) -> np.ndarray:
    """Degrees of freedom of each coefficient: 2 var^2 / (g'Wg), W the inverse of the information; at least 1.

    Parameters
    ----------
    variance_of : ndarray, shape (designs, terms)
    parts : ndarray, shape (designs, components, terms)
    information : ndarray, shape (designs, components, components)
        Of day and studies together.
    variance : ndarray, shape (components,)

    Returns
    -------
    ndarray, shape (designs, terms)
        0 where the variance rests on a component of which nothing is known.

    References
    ----------
    Kenward & Roger (1997), Biometrics 53, 983-997: what their df come to for one contrast.
    """
    scale = variance  # so that the components' sizes don't decide what counts as no information
    scaled = information * scale[:, None] * scale
    known = np.einsum("dkk->dk", scaled) > _NO_INFORMATION
    usable = np.where(known[:, :, None] & known[:, None, :], scaled, np.eye(len(scale)))
    # One pull a fitting: only the sum of two components can be known, and their information is singular.
    usable = usable + 1e-9 * np.einsum("dkk->d", usable)[:, None, None] * np.eye(len(scale))
    share = parts * scale[:, None] / np.maximum(variance_of, 1e-300)[:, None, :]
    share_known = np.where(known[:, :, None], share, 0.0)
    spread = np.einsum("dkt,dkt->dt", share_known, np.linalg.solve(usable, share_known))
    df = np.maximum(1.0, 2.0 / np.maximum(spread, 1e-12))
    rests_on_nothing = (~known[:, :, None] & (share > 1e-9)).any(axis=1)
    return np.where(rests_on_nothing, 0.0, df)


def expected_precision(
    minute: np.ndarray,
    changes: np.ndarray,
    fittings: Sequence[np.ndarray],
    owner: Sequence[int | None],
    noise: AssumedNoise,
    degree: int,
    day: np.ndarray | None = None,
) -> Precision:
    """Expected standard errors and degrees of freedom of each gain, by the route by which it will be judged.

    Parameters
    ----------
    minute : ndarray, shape (pulls,)
        Middle of each counted pull.
    changes : ndarray, shape (pulls, changes)
        1 where the change is on.
    fittings : sequence of ndarray, each of shape (pulls,)
        For each refit factor, the number of its fitting.
    owner : sequence of int or None, one per change
        Which of the fittings the change is switched by; None for a quick one.
    noise : AssumedNoise
    degree : int
        Of the drift polynomial.
    day : ndarray, shape (pulls,), optional
        Label of the day; minutes count from each day's own start.

    Returns
    -------
    Precision
    """
    effects = fixed_effects(changes, minute, degree, day)
    groups = [indicator(labels) for labels in fittings]
    pulls = len(effects.matrix)
    install = sum((z @ z.T for z in groups), np.zeros((pulls, pulls)))
    kinds = [np.ones(pulls), install, wander_kernel(minute, day, noise.wander_minutes)]
    used = [0, *(k for k in (1, 2) if noise.variance[k] > 0 and kinds[k].any())]
    variance = noise.variance[used]
    fit = of_one(effects.matrix, effects.gains, [kinds[k] for k in used], variance)
    information = fit.information + np.diag(noise.information[used])
    variance_of = np.diag(fit.covariance[0])
    df = satterthwaite_df(variance_of[None], fit.parts, information, variance)[0]
    told_apart = np.isfinite(variance_of)
    se, df = np.where(told_apart, np.sqrt(variance_of), np.inf), np.where(told_apart, df, 0.0)
    if not noise.install_df and groups:
        _without_study(effects, groups, owner, kinds, used, noise, se, df)
    return Precision(se, df, fit.covariance[0], fit.weights[0])


def _without_study(
    effects: FixedEffects,
    groups: list[np.ndarray],
    owner: Sequence[int | None],
    kinds: list[np.ndarray],
    used: list[int],
    noise: AssumedNoise,
    se: np.ndarray,
    df: np.ndarray,
) -> None:
    """Put SE and df in place as a day without a study of the refit scatter is judged.

    A refit part by the means over its fittings; a quick one inside the fittings where they leave nothing over.
    """
    v = total_covariance([kinds[k][None] for k in used], noise.variance[used])[0]
    averages = [group.T / group.sum(axis=0)[:, None] for group in groups]
    sizes = column_sizes(effects.matrix)
    means = [column_space(average @ effects.matrix, sizes) for average in averages]
    nothing_left = all(space.left < 1 for space in means)
    inside = [k for k in used if k != 1]
    for change, factor in enumerate(owner):
        gain = effects.gains[change]
        if factor is not None:
            scatter = averages[factor] @ v @ averages[factor].T
            se[change], df[change] = _least_squares(means[factor], scatter, gain, 0.0, 0.0)
        elif nothing_left:
            space = column_space(np.hstack([effects.matrix, *groups]))
            v_inside = total_covariance([kinds[k][None] for k in inside], noise.variance[inside])[0]
            padded = np.pad(gain, (0, sum(group.shape[1] for group in groups)))
            se[change], df[change] = _least_squares(space, v_inside, padded, noise.pull_sd**2, noise.pull_df)


def _least_squares(
    space: ColumnSpace, v: np.ndarray, gain: np.ndarray, study: float, study_df: float
) -> tuple[float, float]:
    """Expected SE and df of ordinary least squares, its scatter pooled with a study's; df 0 where there is none.

    se^2 = [tr(M_X V) + nu s^2] / (n - r + nu) x l'(X'X)^+ l, df = n - r + nu; infinite where the gain isn't seen.
    """
    weights = space.weights(gain[None])[0]
    if not np.isfinite(weights).all():
        return np.inf, 0.0
    df = space.left + study_df
    residual = np.eye(len(v)) - space.basis @ space.basis.T
    scale = (np.trace(residual @ v) + study_df * study) / df if df else np.trace(v) / len(v)
    return float(np.sqrt(scale * np.sum(weights**2))), float(df)
