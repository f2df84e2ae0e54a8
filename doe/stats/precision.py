"""What a design will show before a pull is made: expected standard errors and degrees of freedom of its gains.

Everything is at assumed SDs. `expected_precision` does one design, pull by pull, with the routes by which the day will
be judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from doe.stats.fixed_effects import ColumnSpace, FixedEffects, column_sizes, column_space, fixed_effects
from doe.stats.generalised import of_one, total_covariance
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import Outcomes, Studies, decompose, first_alike, indicator
from doe.stats.student import upper_quantile
from doe.stats.wander import STATED_DF, STATED_MINUTES, wander_factor, wander_kernel
from doe.words.significance import CONFIDENCE, risk_of

_NO_INFORMATION = 1e-9
NO_SCATTER, QUIET_PART, ALIKE = (0.0, 0.0), (0.1, 1.0), (1.0, 1.0)
"""Refit SDs of a change's own part and of the others, in pull SDs, at which its design is weighed."""
LONGEST_CROSSED = 4.0  # half-widths of one who knows the variances, at most, in the last of them
SCATTERING = (ALIKE, (0.5, 0.5), (2.0, 2.0), (1.0, 0.1), (2.0, 0.2))
LONGEST_BY_MEANS = 1.4  # such half-widths, at most, in each of these: beyond it crossed fittings shorten an interval
HALF_RISK = risk_of(CONFIDENCE) / 2


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
        inside = _without_study(effects, groups, owner, kinds, used, noise, se, df)
        alike = first_alike(fittings)
        apart = [place for place in dict.fromkeys(alike) if groups[place].shape[1] < pulls]
        places = [apart.index(alike[f]) if f is not None and alike[f] in apart else None for f in owner]
        random = [groups[place] for place in apart]
        crossed, _ = weighed_by_design(effects, random, places)  # what these shorten is promised as if they didn't
        if len(apart) > 1:
            quick = np.array([f is None for f in owner]) & (not inside)
            wander = wander_factor(minute, day, noise.wander_minutes) if 2 in used else None
            _one_sd_each(effects, random, wander, noise, crossed | quick, se, df)
    return Precision(se, df, fit.covariance[0], fit.weights[0])


def weighed_by_design(
    effects: FixedEffects, groups: Sequence[np.ndarray], owner: Sequence[int | None]
) -> tuple[np.ndarray, np.ndarray]:
    """Where the fittings of every refit part are taken as random, one SD each, and where they shorten an interval.

    The rule looks at the design only. Expected half-widths of 95 % intervals are compared with those by fitting means
    at refit SDs that leave crossed fittings the least of their advantage: none at all, and a quiet part among others.
    Where the means give none, the interval must be worth showing where all parts scatter as the pulls do. Where the
    means keep the word but are expected to be long for a part that scatters, crossed fittings shorten them.

    Parameters
    ----------
    effects : FixedEffects
    groups : sequence of ndarray, each of shape (pulls or cells, fittings)
        Z of each refit part; no two alike, none of one pull a fitting.
    owner : sequence of int or None, one per change
        Which of the groups the change is switched by; None for any other.

    Returns
    -------
    crossed, shortened : ndarray of bool, shape (changes,) each
        Routes "crossed" and "shortened by crossed"; never both.
    """
    found = np.zeros((2, len(owner)), bool)
    if len(groups) < 2 or not effects.space.left:
        return found[0], found[1]
    design = decompose(effects.space, effects.gains, groups)
    settings = (NO_SCATTER, QUIET_PART, *SCATTERING)
    for own in {place for place in owner if place is not None}:
        theta = np.ones((len(settings), 1 + len(groups)))
        theta[:, 1:] = [[sd[k != own] ** 2 for k in range(len(groups))] for sd in settings]
        inference = infer(design, Outcomes.of_nothing(design, len(theta)), theta)
        crossed = half_width(*inference.contrast(np.eye(len(owner))))
        known = np.sqrt(np.einsum("dff->df", inference.covariance)) * upper_quantile(HALF_RISK, np.inf)
        means = _by_means(effects, groups, own, theta)
        of_this, told = np.array([place == own for place in owner]), np.isfinite(means).all(axis=0)
        instead = told | worth_crossing(crossed[2], known[2])
        found[0] |= of_this & shorter_crossed(crossed[:2], means[:2]).all(axis=0) & instead
        found[1] |= of_this & told & (means[2:] > LONGEST_BY_MEANS * known[2:]).any(axis=0)
    return found[0], found[1] & ~found[0]


def shorter_crossed(crossed: np.ndarray, means: np.ndarray) -> np.ndarray:
    """Whether there is an interval, expected not to be longer than by the means (infinite: they give none)."""
    return np.asarray(np.isfinite(crossed) & (crossed <= means))


def worth_crossing(crossed: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Whether an interval is worth showing where the means give none: not many times that of one who knows the SDs."""
    return np.asarray(crossed <= LONGEST_CROSSED * known)


def half_width(se: np.ndarray, df: np.ndarray) -> np.ndarray:
    """Half-width of a 95 % interval, infinite where there is none."""
    known = np.isfinite(se) & (df > 0)
    return np.where(known, upper_quantile(HALF_RISK, np.where(known, df, 1.0)) * np.where(known, se, 1.0), np.inf)


def root_mean(df: float | np.ndarray) -> np.ndarray:
    """Expected SD on some degrees of freedom as a share of the true one: E sqrt(chi-squared / df)."""
    half = np.maximum(np.asarray(df, float), 1.0) / 2
    return np.asarray(np.exp(special.gammaln(half + 0.5) - special.gammaln(half)) / np.sqrt(half))


def _by_means(effects: FixedEffects, groups: Sequence[np.ndarray], own: int, theta: np.ndarray) -> np.ndarray:
    """Expected half-widths by the means over the fittings of one part, shape (settings, changes)."""
    matrix, count = effects.matrix, np.ones(len(effects.matrix))
    if effects.cells is not None:
        matrix, count = matrix[effects.cells.first], effects.cells.root**2
    z = groups[own] * count[:, None]
    average = (z / z.sum(axis=0)).T
    space = column_space(average @ matrix, column_sizes(effects.matrix))
    weights = space.weights(effects.gains)
    told = np.isfinite(weights).all(axis=1) & (space.left >= 1)
    factors = (average / np.sqrt(count), *(average @ z for z in groups))
    left_over = [(factor**2).sum() - ((space.basis.T @ factor) ** 2).sum() for factor in factors]
    variance = theta @ np.maximum(left_over, 0.0) / max(space.left, 1)
    se = np.sqrt(variance[:, None] * np.where(told, (weights**2).sum(axis=1), 0.0))
    return half_width(se, np.where(told, space.left, 0)) * root_mean(space.left)


def _without_study(
    effects: FixedEffects,
    groups: list[np.ndarray],
    owner: Sequence[int | None],
    kinds: list[np.ndarray],
    used: list[int],
    noise: AssumedNoise,
    se: np.ndarray,
    df: np.ndarray,
) -> bool:
    """Put SE and df in place as a day without a study of the refit scatter is judged, but for the route "crossed".

    A refit part by the means over its fittings; a quick one inside the fittings where they leave nothing over: returns
    whether that is so.
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
    return nothing_left


def _one_sd_each(
    effects: FixedEffects,
    groups: list[np.ndarray],
    wander: np.ndarray | None,
    noise: AssumedNoise,
    changes: np.ndarray,
    se: np.ndarray,
    df: np.ndarray,
) -> None:
    """Put SE and df of some changes in place as a mixed model gives them that knows one refit SD for each part."""
    factors = groups if wander is None else [*groups, wander]
    design = decompose(effects.space, effects.gains, factors)
    kinds = [0, *(1 for _ in groups), *(() if wander is None else (2,))]
    known = np.array([noise.pull_df, 0.0, noise.wander_df])
    studies = Studies(noise.variance[kinds][None], known[kinds][None])
    inference = infer(design, Outcomes.of_nothing(design, 1), noise.variance[kinds][None], studies)
    adjusted, told = inference.contrast(np.eye(len(changes)))
    known_apart = np.isfinite(adjusted[0])
    se[changes] = np.where(known_apart, adjusted[0], np.inf)[changes]
    df[changes] = np.where(known_apart, np.maximum(told[0], 1.0), 0.0)[changes]


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
