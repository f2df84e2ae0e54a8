"""What would settle an open question: the fewest further minutes of back-to-back pairs, at this day's noise.

With half-widths h95 and h90 every estimate is settled exactly when h95 + h90 <= smallest gain. Days vary, so the target
is the *expected* simultaneous h95 <= share x smallest gain, which gives 80 % chance to be settled at the worst true
gain (about half the smallest). Never power at the observed gain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.estimates import Estimates
from doe.analysis.judging.fits import WANDER, Model, fit
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Means, Trial
from doe.stats.kenward_roger import df_of_variance
from doe.stats.student import upper_quantile
from doe.stats.wander import INSURED_MINUTES, STATED_MINUTES, wander_kernel
from doe.words.significance import NOTABLE

_DF = np.array([1.0, 2.0, 4.0, 6.0, 10.0, 20.0, np.inf])
_RISK = np.array([0.2, 0.1, 0.05, 0.025, 0.0125, 0.00625, 0.003125, 0.0015625])  # two-sided, of the family
_SHARE_OF_ONE = np.array([  # a row a risk; tests/benchmarks/settle_study.py makes these and the next
    [0.574, 0.666, 0.723, 0.742, 0.755, 0.762, 0.760],
    [0.480, 0.546, 0.609, 0.634, 0.656, 0.671, 0.676],
    [0.446, 0.493, 0.552, 0.579, 0.603, 0.622, 0.632],
    [0.429, 0.464, 0.518, 0.546, 0.571, 0.592, 0.607],
    [0.423, 0.446, 0.496, 0.523, 0.550, 0.573, 0.590],
    [0.420, 0.435, 0.481, 0.507, 0.534, 0.558, 0.579],
    [0.420, 0.428, 0.468, 0.495, 0.522, 0.547, 0.570],
    [0.419, 0.423, 0.459, 0.485, 0.513, 0.539, 0.564],
])  # fmt: skip
_SHARE_OF_FOUR = np.array([
    [0.497, 0.549, 0.599, 0.621, 0.640, 0.655, 0.661],
    [0.451, 0.492, 0.542, 0.566, 0.589, 0.607, 0.619],
    [0.432, 0.463, 0.510, 0.535, 0.560, 0.581, 0.596],
    [0.424, 0.445, 0.490, 0.515, 0.541, 0.563, 0.582],
    [0.421, 0.434, 0.475, 0.500, 0.527, 0.551, 0.572],
    [0.420, 0.427, 0.464, 0.489, 0.516, 0.541, 0.565],
    [0.419, 0.423, 0.456, 0.480, 0.507, 0.533, 0.559],
    [0.418, 0.420, 0.449, 0.473, 0.500, 0.527, 0.555],
])  # fmt: skip
_PAIRS = np.arange(1, 61)
_PULLS = np.arange(1, 11)
_LEAST_REFIT_SHARE = 0.3  # of the pull SD: as in the rule for a noise study, an install SD of 0 is never planned for


@dataclass(frozen=True, slots=True)
class Costs:
    """What a back-to-back pair costs on this day's clock."""

    changeover_minutes: float  #: on and off together
    settling_pulls: int  #: after each of the two changeovers
    pull_minutes: float


@dataclass(frozen=True, slots=True)
class More:
    """Further testing that would settle a question."""

    pulls: int
    installs: int
    minutes: float | None


def target_share(df: np.ndarray, questions: int, risk: float = NOTABLE) -> np.ndarray:
    """Share of the smallest gain that the expected half-width must not exceed.

    Parameters
    ----------
    df : ndarray
        After the addition.
    questions : int
        In the family.
    risk : float
        Two-sided, of the family: what the next verdict has.

    Returns
    -------
    ndarray
        Worked out for one question and for four that correlate by a half, at risks each half of the one before; linear
        in 1/df, in log2(questions) and in log(risk) between, level beyond four and beyond the first and last risk.
    """
    at = 1.0 / np.maximum(df, 1.0)
    one, four = (
        np.interp(at, 1.0 / _DF[::-1], _at_risk(share, risk)[::-1]) for share in (_SHARE_OF_ONE, _SHARE_OF_FOUR)
    )
    return one + (four - one) * min(np.log2(max(questions, 1)) / 2.0, 1.0)


def _at_risk(shares: np.ndarray, risk: float) -> np.ndarray:
    """Shares at one risk, shape (df,)."""
    place = np.interp(-np.log(risk), -np.log(_RISK), np.arange(len(_RISK)))
    low = min(int(place), len(_RISK) - 2)
    return np.asarray(shares[low] + (place - low) * (shares[low + 1] - shares[low]))


def what_would_settle(
    trial: Trial,
    values: np.ndarray,
    found: Estimates,
    change: int,
    *,
    smallest_gain: float,
    risk: float,
    family_risk: float,
    questions: int,
    costs: Costs | None,
) -> More | None:
    """Fewest minutes over k back-to-back pairs x n pulls a slot, for this change alone.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    found : Estimates
        Of these readings.
    change : int
    smallest_gain : float
        In the metric's unit.
    risk : float
        Two-sided risk of the single interval at the family level that the next verdict has.
    family_risk : float
        The risk of the family at that level.
    questions : int
        In the family.
    costs : Costs, optional
        Without a clock the fewest pulls and fittings are taken.

    Returns
    -------
    More or None
        None where no more than 60 pairs would do, or where the day can't say.
    """
    k, n = _PAIRS[:, None], _PULLS[None, :]
    grouping = trial.grouping(change)
    if found.routes[change] in (*r.BY_MEANS, r.INSTALL_MEANS):
        pull = float(found.main.theta[0, 0])
        variance, df = _after_by_means(trial, values, pull, change, trial.means_for(change), k, n)
    else:
        fits = found.fits[change]
        model = fits[int(found.governing(risk)[0, change])] if len(fits) > 1 else fits[0]
        refitted = None if grouping is None else model.install_of(trial, trial.factors[change])
        variance, df = _after(model, change, _slopes(model, trial, found, refitted, costs, n), k, n)
    # t sigma lies a little above the expected half-width: on the safe side, as sigma itself comes from this day
    half = upper_quantile(risk / 2, df) * np.sqrt(variance)
    enough = half <= target_share(df, questions, family_risk) * smallest_gain
    if not enough.any():
        return None
    price = 2 * k * n + 6 * k * (grouping is not None) if costs is None else _minutes(costs, k, n)
    price = np.where(enough, price + 1e-6 * 2 * k * n, np.inf)
    i, j = np.unravel_index(int(price.argmin()), price.shape)
    pairs, slot = int(_PAIRS[i]), int(_PULLS[j])
    return More(
        pulls=2 * pairs * slot,
        installs=2 * pairs if grouping is not None else 0,
        minutes=None if costs is None else float(_minutes(costs, pairs, slot)),
    )


def _minutes(costs: Costs, pairs: np.ndarray | int, pulls: np.ndarray | int) -> np.ndarray:
    slot = (costs.settling_pulls + pulls) * costs.pull_minutes
    return np.asarray(pairs * (costs.changeover_minutes + 2 * slot))


def _slopes(
    model: Model, trial: Trial, found: Estimates, u: int | None, costs: Costs | None, n: np.ndarray
) -> np.ndarray:
    """What each component adds to the scatter of a slot of n pulls beside its neighbour, shape (..., components).

    Pull-to-pull scatter by 1/n, the component `u` that each fitting draws anew as it is, and a wander by what it
    changes from the middle of one slot to the middle of the next.
    """
    slopes = np.zeros((*n.shape, len(model.components)))
    slopes[..., 0] = 1.0 / n
    if u is not None:
        slopes[..., u] = 1.0
    if WANDER in model.components:
        constants = STATED_MINUTES if found.insured is None else INSURED_MINUTES
        apart = np.stack([np.zeros(n.shape), _minutes_apart(trial, costs, n)], axis=-1)
        slopes[..., model.components.index(WANDER)] = 1.0 - wander_kernel(apart, minutes=constants)[..., 0, 1]
    return slopes


def _minutes_apart(trial: Trial, costs: Costs | None, n: np.ndarray) -> np.ndarray:
    """From the middle of a slot of n pulls to that of the next."""
    if costs is not None:
        return costs.changeover_minutes / 2 + (costs.settling_pulls + n) * costs.pull_minutes
    assert trial.minute is not None  # without times nothing wanders in the model
    steps = np.diff(np.sort(trial.minute))
    return n * float(np.median(steps[steps > 0])) if (steps > 0).any() else n * 1.0


def _after(
    model: Model, change: int, slopes: np.ndarray, k: np.ndarray, n: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Variance and df once k pairs are added to what the model knows, in closed form.

    The old gain and the mean of the new differences are weighed by their variances. Each new slot adds one contrast,
    with the variance that its `slopes` make of the components, and n - 1 contrasts with variance pull to the
    information on the components.
    """
    theta, old = model.theta[0], model.inference
    variance = old.adjusted[0, change, change]
    parts = old.parts[0, :, change, change]
    w = old.variance_covariance[0]
    slot = slopes @ theta
    pair = 2.0 * slot / k
    after = 1.0 / (1.0 / variance + 1.0 / pair)
    share = after / pair  # weight of the new differences
    information = np.broadcast_to(np.linalg.pinv(w, hermitian=True), (*after.shape, *w.shape)).copy()
    g = (1 - share)[..., None] ** 2 * parts
    g += (share**2 * 2.0 / k)[..., None] * slopes
    information[..., 0, 0] += k * (n - 1) / theta[0] ** 2
    information += (k / slot**2)[..., None, None] * slopes[..., :, None] * slopes[..., None, :]
    known = np.linalg.pinv(information, hermitian=True)
    return after, df_of_variance(after[..., None], g[..., None, :], known)[..., 0]


def _after_by_means(
    trial: Trial,
    values: np.ndarray,
    pull: float,
    change: int,
    over: Means,
    k: np.ndarray,
    n: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Variance and df of the route by fitting means once 2 k fittings of n pulls are added."""
    means = fit(trial, KnownNoise(), values[None], over=over)
    old = means.theta[0, 0]
    count = len(over.matrix)
    per_fitting = trial.pulls / count
    install = max(old - pull / per_fitting, _LEAST_REFIT_SHARE**2 * pull)
    leverage = means.inference.parts[0, 0, change, change]
    variance = (count * old + 2 * k * (install + pull / n)) / (count + 2 * k)
    df = over.space.left + 2 * k
    return variance / (1.0 / leverage + k / 2.0), np.broadcast_to(df, variance.shape).astype(float)
