"""Restricted maximum likelihood with noise studies in the likelihood, bounded at zero, for many outcomes at once.

Maximises l_REML(theta) + sum_k [-nu_k/2 log theta_k - nu_k s_k^2 / (2 theta_k)]: exactly the likelihood of nu_k further
error contrasts N(0, theta_k) (a study's SD s_k on nu_k degrees of freedom).
"""

from __future__ import annotations

import itertools

import numpy as np

from doe.stats.mixed_model import Decomposition, Outcomes, Studies, information

_GRID_STEP = 10.0**0.25
_RATIOS = np.concatenate([[0.0], 1e-4 * _GRID_STEP ** np.arange(41)])
_NEWTON_STEP, _BRACKET = 1e-6, 1e-9  # relative changes of the ratio at which its climb ends
_HELD_AT_ONCE = 2_000_000  # numbers
_LAST_DECREMENT = 1e-9  # of the log-likelihood: Newton squares the error, and a step of 1e-5 leaves 1e-10
_LEAST_DECREMENT = 1e-20  # where only Fisher scoring goes
_COARSE_RATIOS = (0.0, 0.05, 0.3, 1.0, 4.0, 20.0, 200.0)
_COARSER_RATIOS = {3: (0.0, 0.3, 3.0, 50.0), 4: (0.0, 0.5, 10.0), 5: (0.0, 0.5, 10.0)}  # by the number of ratios


def fit(
    design: Decomposition, outcomes: Outcomes, studies: Studies | None = None, start: np.ndarray | None = None
) -> np.ndarray:
    """Variance components by (penalised) REML.

    Parameters
    ----------
    design : Decomposition
    outcomes : Outcomes
    studies : Studies, optional
    start : ndarray, shape (days, components), optional
        Variances of nearly the same readings, to climb from; else the best point of a coarse grid of ratios.

    Returns
    -------
    ndarray, shape (days, components)
        Variances, the pull scatter first; a component without a study may be exactly 0.

    References
    ----------
    Patterson & Thompson (1971), Biometrika 58, 545-554.
    """
    studies = studies or Studies.none(design.components)
    if design.components == 1:
        return _residual_variance(design, outcomes, studies)[:, None]
    if design.components == 2 and outcomes.left_out is None:
        return _fit_one_ratio(design, outcomes, studies)
    if design.components == 2:
        start = None  # of one ratio the best point of a fine grid: no climb may end on a lower top beside it
    return _fit_several(design, outcomes, studies, start)


def _residual_variance(design: Decomposition, outcomes: Outcomes, studies: Studies) -> np.ndarray:
    total, df = outcomes.left_over, design.error_df - outcomes.missing + studies.df[:, 0]
    if outcomes.left_out is not None:
        seen, _ = outcomes.solved(np.broadcast_to(design.inner[0], (len(total), *design.inner[0].shape)))
        total = total + np.einsum("dj,dj->d", outcomes.reached, seen)
    elif outcomes.reached.size:
        total = total + np.einsum("dj,dj->d", outcomes.reached, outcomes.reached)
    return (total + studies.df[:, 0] * studies.variance[:, 0]) / df


# --- one ratio of variances: a one-dimensional search on diagonal arrays ------------------------------------------


class _OneRatio:
    """Profile likelihood of the ratio install variance / pull variance, in the basis that diagonalises it.

    theta_e(ratio) = [sum w_i^2/(1 + ratio d_i) + left over + nu_e s_e^2 + nu_u s_u^2/ratio]/(error df + nu_e + nu_u).
    """

    def __init__(self, design: Decomposition, outcomes: Outcomes, studies: Studies) -> None:
        self.d = np.diagonal(design.inner[1])
        self.w2 = outcomes.reached**2
        self.nu_u = studies.df[:, 1]
        self.prior_u = self.nu_u * studies.variance[:, 1]
        self.rest = outcomes.left_over + studies.df[:, 0] * studies.variance[:, 0]
        self.total_df = design.error_df + studies.df.sum(axis=1)
        self.studied = np.broadcast_to(self.nu_u > 0, self.rest.shape)  # days whose ratio can't be zero
        self.any_study = bool(self.studied.any())

    def residual_variance(self, ratio: np.ndarray) -> np.ndarray:
        """theta_e at each day's ratio."""
        s = self.rest + (self.w2 / (1.0 + ratio[:, None] * self.d)).sum(axis=1)
        prior = np.divide(self.prior_u, ratio, out=np.zeros_like(s), where=self.studied)
        return (s + prior) / self.total_df

    def on_grid(self, ratios: np.ndarray) -> np.ndarray:
        """Profile log-likelihood, shape (days, ratios)."""
        weights = 1.0 / (1.0 + ratios * self.d[:, None])
        s = self.rest[:, None] + self.w2 @ weights
        log_ratio: np.ndarray | float = 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            if self.any_study:
                studied = self.studied[:, None]
                s = s + np.where(studied, self.prior_u[:, None] / ratios, 0.0)
                log_ratio = np.where(studied, self.nu_u[:, None] * np.log(ratios), 0.0)
            value = -0.5 * (-np.log(weights).sum(axis=0) + self.total_df[:, None] * np.log(s) + log_ratio)
        return np.where(np.isfinite(value), value, -np.inf)

    def slope(self, ratio: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """First and second derivative of the profile log-likelihood at each day's ratio."""
        q = 1.0 / (1.0 + ratio[:, None] * self.d)
        dq = self.d * q
        fall = self.w2 * q
        s = self.rest + np.einsum("dj->d", fall)
        s1 = -np.einsum("dj,dj->d", fall, dq)
        s2 = 2.0 * np.einsum("dj,dj,dj->d", fall, dq, dq)
        first, second = np.einsum("dj->d", dq), -np.einsum("dj,dj->d", dq, dq)
        if self.any_study:
            safe = np.where(self.studied, ratio, 1.0)
            prior = np.where(self.studied, self.prior_u / safe, 0.0)
            s, s1, s2 = s + prior, s1 - prior / safe, s2 + 2.0 * prior / safe**2
            first, second = first + self.nu_u / safe, second - self.nu_u / safe**2
        s = np.where(s > 0, s, 1.0)
        steep = s1 / s
        return -0.5 * (first + self.total_df * steep), -0.5 * (second + self.total_df * (s2 / s - steep**2))


def _fit_one_ratio(design: Decomposition, outcomes: Outcomes, studies: Studies) -> np.ndarray:
    profile = _OneRatio(design, outcomes, studies)
    if not len(profile.d) and not profile.any_study:
        return np.column_stack([_residual_variance(design, outcomes, studies), np.zeros(len(outcomes.left_over))])
    ratios = _RATIOS / (profile.d.mean() if len(profile.d) else 1.0)
    value = profile.on_grid(ratios)
    best = value.argmax(axis=1)
    below, above = np.maximum(best - 1, 0), np.minimum(best + 1, len(ratios) - 1)
    start = ratios[best] * _GRID_STEP ** _vertex(value, below, best, above)
    ratio = _climb(profile, start, ratios[below], ratios[above])
    pull = profile.residual_variance(ratio)
    return np.stack([pull, ratio * pull], axis=1)


def _vertex(value: np.ndarray, below: np.ndarray, best: np.ndarray, above: np.ndarray) -> np.ndarray:
    """Top of the parabola through the best point of the grid and its neighbours, in steps of the grid from the best."""
    day = np.arange(len(value))
    left, right = value[day, below] - value[day, best], value[day, above] - value[day, best]
    inside = (below < best) & (best < above) & np.isfinite(left) & (left + right < 0)
    return np.divide(0.5 * (left - right), left + right, out=np.zeros(len(value)), where=inside)


def _climb(profile: _OneRatio, ratio: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Newton on the slope, kept inside a bracket that shrinks at every step."""
    studied = profile.studied
    ratio = np.where(studied & (ratio == 0), high / 2, ratio)
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(60):
            first, second = profile.slope(ratio)
            rising = first > 0
            low, high = np.where(rising, ratio, low), np.where(rising, high, ratio)
            step = ratio - first / second
            newton = (step > low) & (step < high) & (second < 0)
            new = np.where(newton, step, np.where((ratio == 0) & ~rising, 0.0, 0.5 * (low + high)))
            # Newton squares the error: after a step of 1e-6 the next would be about 1e-12
            near = np.where(newton, _NEWTON_STEP, _BRACKET)
            done = np.abs(new - ratio) <= near * np.abs(ratio)
            ratio = new
            if done.all():
                break
    # A climb that has slid down to the edge is at the edge: the likelihood still falls where it leaves zero.
    at_edge = ~studied & (ratio * (profile.d.max() if len(profile.d) else 1.0) < 1e-9)
    if at_edge.any():
        at_zero, _ = profile.slope(np.where(studied, ratio, 0.0))
        ratio = np.where(at_edge & (at_zero <= 0), 0.0, ratio)
    return ratio


# --- several ratios: projected Newton on small dense matrices ------------------------------------------------------


def log_likelihood(design: Decomposition, outcomes: Outcomes, studies: Studies, theta: np.ndarray) -> np.ndarray:
    """(Penalised) REML log-likelihood up to a constant.

    Parameters
    ----------
    design : Decomposition
    outcomes : Outcomes
    studies : Studies
    theta : ndarray, shape (days, components)

    Returns
    -------
    ndarray, shape (days,)
        -inf where `theta` is not admissible.
    """
    v = design.covariance(theta)
    sign, log_det = np.linalg.slogdet(v)
    good = (sign > 0) & (theta[:, 0] > 0) & ((theta > 0) | (studies.df == 0)).all(axis=1)
    v = np.where(good[:, None, None], v, np.eye(v.shape[1]))
    pull = np.where(good, theta[:, 0], 1.0)
    seen, more = outcomes.solved(v)
    quadratic = np.einsum("dj,dj->d", outcomes.reached, seen)
    value = log_det + more + quadratic + design.left_over * np.log(pull) + outcomes.left_over / pull
    safe = np.where(theta > 0, theta, 1.0)
    value = value + (studies.df * (np.log(safe) + studies.variance / safe)).sum(axis=1)
    return np.where(good, -0.5 * value, -np.inf)


def _solve(v: np.ndarray, w: np.ndarray) -> np.ndarray:
    return np.linalg.solve(v, w[..., None])[..., 0]


def _fit_several(design: Decomposition, outcomes: Outcomes, studies: Studies, start: np.ndarray | None) -> np.ndarray:
    theta = _start(design, outcomes, studies) if start is None else start.copy()
    value = log_likelihood(design, outcomes, studies, theta)
    active = np.arange(len(theta))
    for _ in range(200):
        part, known = some_days(outcomes, studies, active)
        at = theta[active]
        step, decrement, newton = _newton_step(design, part, known, at)
        last = newton & (decrement <= _LAST_DECREMENT)
        new, reached = _admissible(at + step, at, known), value[active]
        if not last.all():
            climbing = np.flatnonzero(~last)
            rest = some_days(part, known, climbing)
            new[climbing], reached[climbing] = _backtrack(
                design, *rest, at[climbing], reached[climbing], step[climbing]
            )
        moved = last | (reached > value[active])
        theta[active] = np.where(moved[:, None], new, at)
        value[active] = np.where(moved, reached, value[active])
        active = active[moved & ~last & (decrement > _LEAST_DECREMENT * (1 + np.abs(value[active])))]
        if not len(active):
            break
    return theta


def some_days(outcomes: Outcomes, studies: Studies, days: np.ndarray) -> tuple[Outcomes, Studies]:
    """Pick some of the days.

    Parameters
    ----------
    outcomes : Outcomes
    studies : Studies
    days : ndarray of int

    Returns
    -------
    tuple of Outcomes and Studies
    """
    return outcomes.of_days(days), Studies(*(a if len(a) == 1 else a[days] for a in (studies.variance, studies.df)))


def _start(design: Decomposition, outcomes: Outcomes, studies: Studies) -> np.ndarray:
    """Best point of a coarse grid of ratios, the scale profiled out; its factorisations serve all days."""
    ratios_of = design.components - 1
    each = _RATIOS if ratios_of == 1 else _COARSE_RATIOS if ratios_of == 2 else _COARSER_RATIOS.get(ratios_of, (0.5,))
    grid = np.array(list(itertools.product(each, repeat=ratios_of)))
    seen = np.trace(design.inner[1:], axis1=1, axis2=2) / max(design.inner.shape[1], 1)
    grid = grid / np.where(seen > 0, seen, 1.0)  # of one that the day doesn't see only its study speaks
    grid = np.column_stack([np.ones(len(grid)), grid])
    days, reached = outcomes.reached.shape
    best, theta = np.full(days, -np.inf), np.ones((days, design.components))
    total_df = design.error_df - outcomes.missing + studies.df.sum(axis=1)
    at_once = max(1, _HELD_AT_ONCE // max(reached * (reached + days * (1 + outcomes.missing)), 1))
    for first in range(0, len(grid), at_once):
        shape = grid[first : first + at_once, None]  # ratios, 1, components
        v = design.covariance(shape[:, 0])
        quadratic, more = outcomes.on_grid(v)
        s = outcomes.left_over + quadratic
        studied, safe = studies.df > 0, np.where(shape > 0, shape, 1.0)
        s = s + (studies.df * studies.variance / safe).sum(axis=-1)
        log_det = np.linalg.slogdet(v)[1][:, None] + more + (studies.df * np.log(safe)).sum(axis=-1)
        value = np.where((studied & (shape == 0)).any(axis=-1), -np.inf, -0.5 * (log_det + total_df * np.log(s)))
        top, day = value.argmax(axis=0), np.arange(days)
        better = value[top, day] > best
        best = np.where(better, value[top, day], best)
        theta = np.where(better[:, None], (s[top, day] / total_df)[:, None] * grid[first + top], theta)
    return theta


def _admissible(new: np.ndarray, old: np.ndarray, studies: Studies) -> np.ndarray:
    """Variances after a step, projected on theta >= 0; the likelihood of a studied one is -inf at 0."""
    new = np.maximum(new, 0.0)
    positive = studies.df > 0
    new = np.where(positive & (new <= 0), old / 10.0, new)
    new[:, 0] = np.where(new[:, 0] > 0, new[:, 0], old[:, 0] / 10.0)
    return new


def _newton_step(
    design: Decomposition, outcomes: Outcomes, studies: Studies, theta: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Newton where the observed information is positive definite, Fisher scoring elsewhere; held at zero where due.

    The step, twice what it would raise the likelihood by, and whether it is Newton's.
    """
    v = design.covariance(theta)
    inverse, _ = outcomes.projection(v)
    vw, _ = outcomes.solved(v)
    avw = (design.inner @ vw[:, None, :, None])[..., 0]
    trace = inverse.reshape(len(v), -1) @ design.inner.reshape(design.components, -1).T
    expected = information(design, inverse, theta, studies)
    quadratic = np.einsum("dki,di->dk", avw, vw)
    cross = avw @ inverse @ np.swapaxes(avw, 1, 2)
    pull = theta[:, 0]
    trace[:, 0] += design.left_over / pull
    quadratic[:, 0] += outcomes.left_over / pull**2
    cross[:, 0, 0] += outcomes.left_over / pull**3
    safe = np.where(theta > 0, theta, 1.0)
    score = 0.5 * (quadratic - trace) + 0.5 * studies.df * (studies.variance / safe**2 - 1.0 / safe)
    observed = cross - expected
    k = np.arange(design.components)
    observed[:, k, k] += studies.df * studies.variance / safe**3
    free = (theta > 0) | (score > 0)
    both = free[:, :, None] & free[:, None, :]
    eye = np.eye(design.components)
    scale = np.sqrt(np.einsum("dkk->dk", expected))
    scale = np.where(scale > 0, scale, 1.0)
    unit = scale[:, :, None] * scale[:, None, :]
    observed = np.where(both, observed / unit, eye)
    expected = np.where(both, expected / unit, eye)
    definite = np.linalg.eigvalsh(observed)[:, :1, None] > 1e-6
    curvature = np.where(definite, observed, expected + 1e-12 * eye)
    slope = np.where(free, score / scale, 0.0)
    step = _solve(curvature, slope)
    return step / scale, np.einsum("dk,dk->d", step, slope), definite[:, 0, 0]


def _backtrack(
    design: Decomposition,
    outcomes: Outcomes,
    studies: Studies,
    theta: np.ndarray,
    value: np.ndarray,
    step: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Halve the step, projected on theta >= 0, until the likelihood has risen."""
    new, reached = theta.copy(), value.copy()
    todo = np.arange(len(theta))
    fraction = 1.0
    for _ in range(40):
        part, known = some_days(outcomes, studies, todo)
        trial = _admissible(theta[todo] + fraction * step[todo], theta[todo], known)
        got = log_likelihood(design, part, known, trial)
        take = got > value[todo]
        new[todo[take]], reached[todo[take]] = trial[take], got[take]
        todo = todo[~take]
        if not len(todo):
            break
        fraction /= 2
    return new, reached
