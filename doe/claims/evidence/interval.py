"""What the printed numbers of one claim are worth as evidence: gain, selection bias, variance, interval.

A claim is a sum of printed values with weights: 1/n on each of the n steps that it leads to, -1/n on those that it
starts from. Three kinds of noise reach it through these weights: each step's own pulls, each install's fitting, and
the wander of the engine from one step to the next.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from scipy import optimize

from doe.claims.evidence.order_statistics import best_of
from doe.claims.reading.schema import Claim, ClaimsFile, NoiseTable, Step
from doe.day.names import name_key
from doe.stats.student import two_sided_p, upper_quantile
from doe.words.significance import CONFIDENCE, inner_level

INNER_CONFIDENCE = inner_level(CONFIDENCE)
_Z = NormalDist().inv_cdf(1 - (1 - CONFIDENCE) / 2)
_ROUNDING = 1e-12
_FAR = 1e6  # gains: a pull SD beside which nothing else counts
_STEP, _STEPS = 0.9, 300  # down to 1e-13 of where the search begins


@dataclass(frozen=True, slots=True)
class Layout:
    """How a test's steps share their noise.

    Attributes
    ----------
    pull, install, drift, day : ndarray, shape (steps, steps)
        Covariance of the printed values per unit of pull, install, drift and day-to-day variance.
    bias : ndarray, shape (steps,)
        What showing the best pull adds, in pull SDs.
    """

    pull: np.ndarray
    install: np.ndarray
    drift: np.ndarray
    day: np.ndarray
    bias: np.ndarray


def layout(file: ClaimsFile) -> Layout:
    """Return how the steps of a test share their noise.

    An install lasts from a step with ``refit = true`` to the next; the drift is a random walk with one increment in
    each gap between steps.
    """
    count = len(file.step)
    bias, variance = np.array([_shown(step) for step in file.step]).T
    installs = np.cumsum([step.refit and place > 0 for place, step in enumerate(file.step)])
    walk = np.minimum.outer(np.arange(count), np.arange(count))
    same = np.equal.outer(installs, installs)
    return Layout(np.diag(variance), same.astype(float), walk.astype(float), _same_day(file), bias)


def _same_day(file: ClaimsFile) -> np.ndarray:
    """Which steps are of one day, shape (steps, steps); one that says nothing is taken to be of the first's."""
    days = np.array([name_key(step.day or file.step[0].day or "") for step in file.step])
    return np.equal.outer(days, days).astype(float)


def _shown(step: Step) -> tuple[float, float]:
    """Bias in pull SDs and variance in pull variances of a printed value."""
    if step.selection == "best":
        return best_of(step.numbers)
    return 0.0, 1.0 / step.numbers if step.selection == "mean" else 1.0


def weights(file: ClaimsFile, claim: Claim) -> np.ndarray:
    """Weight of each step in a claim's gain, shape (steps,); they add up to 0."""
    found = np.zeros(len(file.step))
    for places, share in ((file.to_places(claim), 1.0), (file.from_places(claim), -1.0)):
        for place in set(places):
            found[place] = share / len(set(places))
    return found


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """How strongly each kind of noise reaches one claim."""

    bias: float  #: in pull SDs
    pull: float  #: variance of the gain per unit of pull variance
    install: float
    drift: float
    day: float = 0.0  #: where the claim compares days

    def parts(self, noise: NoiseTable) -> tuple[float, float, float]:
        """Variance of the gain from pulls, fittings and drift."""
        pull_sd, install_sd, drift_sd = sds_of(noise)
        return self.pull * pull_sd**2, self.install * install_sd**2, self.drift * drift_sd**2


def sds_of(noise: NoiseTable) -> tuple[float, float, float]:
    """SDs of pull, install and drift; one that nobody gives is taken as 0."""
    return noise.pull_sd or 0.0, noise.install_sd or 0.0, noise.drift_sd or 0.0


def sensitivity(file: ClaimsFile, claim: Claim) -> Sensitivity:
    """Return how strongly each kind of noise reaches a claim."""
    w, shared = weights(file, claim), layout(file)
    pull, install, drift, day = (float(part[0, 0]) for part in _by_claim(shared, w[None]))
    return Sensitivity(float(w @ shared.bias), pull, install, drift, day)


def _by_claim(shared: Layout, w: np.ndarray) -> list[np.ndarray]:
    """Covariance of claims with weights w, shape (claims, steps), per unit of each variance: pull, install, drift, day.

    Weights that cancel leave 1e-17 in place of 0, which a large SD would blow up: set to 0.
    """
    parts = [w @ part @ w.T for part in (shared.pull, shared.install, shared.drift, shared.day)]
    return [np.where(np.abs(part) < _ROUNDING, 0.0, part) for part in parts]


def correlations(file: ClaimsFile, noise: NoiseTable) -> np.ndarray | None:
    """Correlation of the claims of one test, shape (claims, claims); None without a pull SD.

    Neighbouring claims share a step: what raises the one lowers the next.
    """
    if noise.pull_sd is None:
        return None
    w = np.array([weights(file, claim) for claim in file.claim])
    covariance = sum(sd**2 * part for sd, part in zip(sds_of(noise), _by_claim(layout(file), w)[:3], strict=True))
    se = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(se, se))


@dataclass(frozen=True, slots=True)
class Evidence:
    """The gain of one claim with its noise, in the unit of the test."""

    gain: float
    bias: float  #: what showing the best pulls adds to it
    se: float
    df: float  #: infinite when no SD comes with degrees of freedom

    @property
    def adjusted(self) -> float:
        """The gain without the selection bias."""
        return self.gain - self.bias

    def half_width(self, confidence: float = CONFIDENCE) -> float:
        """Half the length of an interval."""
        return float(self.se * upper_quantile((1 - confidence) / 2, self.df))

    def interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Interval about the adjusted gain."""
        half = self.half_width(confidence)
        return self.adjusted - half, self.adjusted + half

    @property
    def p_noise(self) -> float:
        """Chance that noise alone shows this much or more, either way."""
        return float(two_sided_p(self.adjusted / self.se, self.df))

    @property
    def drift_to_undo(self) -> float:
        """The uncorrected drift that would take significance away."""
        return max(0.0, abs(self.adjusted) - self.half_width())


def evidence(gain: float, reach: Sensitivity, noise: NoiseTable, day_sd: float = 0.0) -> Evidence | None:
    """Return what a gain is worth under some noise; None without a pull SD. `day_sd`: the scatter from day to day.

    Degrees of freedom by Satterthwaite (1946, Biometrics Bull. 2, 110-114) over the SDs that come with theirs; the
    others count as known.
    """
    if noise.pull_sd is None:
        return None
    pull, install, drift = reach.parts(noise)
    variance = pull + install + drift + reach.day * day_sd**2
    loss = sum(part**2 / df for part, df in ((pull, noise.pull_df), (install, noise.install_df)) if df)
    return Evidence(gain, reach.bias * noise.pull_sd, math.sqrt(variance), variance**2 / loss if loss else math.inf)


def needed_pull_sd(gain: float, reach: Sensitivity, noise: NoiseTable) -> float | None:
    """The pull SD at which the printed gain would just exclude 0 at 95 %; None where no pull SD would do.

    Source: |gain| = 1.96 SE solved for the pull SD, whatever the degrees of freedom.
    """
    _, install, drift = reach.parts(noise)
    left = (gain / _Z) ** 2 - install - drift
    return math.sqrt(left / reach.pull) if left >= 0 else None


def standing_pull_sd(gain: float, reach: Sensitivity, noise: NoiseTable) -> float | None:
    """The largest pull SD at which the 95 % interval of the gain would still leave 0 out; None where none would do.

    It is the interval that `Evidence` gives: with the degrees of freedom that the noise states, and without the
    selection bias, which goes with the pull SD. Where nothing is stated to have degrees of freedom and both sides are
    picked alike this is `needed_pull_sd`.

    Source: |gain| - B s = t sqrt(C s^2 + R) solved for s; B the bias in pull SDs towards the gain, C the variance per
    pull variance, R that of fittings and drift, t on the degrees of freedom at s. The normal quantile in the place of t
    gives the end from which the solution is looked for: it is never smaller.
    """
    most = _standing_where_known(gain, reach, noise)
    if not most or (noise.pull_df is None and noise.install_df is None):
        return most

    def clear(pull_sd: float) -> float:
        found = evidence(gain, reach, noise.model_copy(update={"pull_sd": pull_sd}))
        return 0.0 if found is None else math.copysign(1.0, gain) * found.adjusted - found.half_width()

    if math.isinf(most):
        most = _FAR * abs(gain) / math.sqrt(reach.pull)
        if clear(most) > 0:
            return math.inf
    below = (most * _STEP**place for place in range(_STEPS))
    stands = next((sd for sd in below if clear(sd) > 0), None)
    if stands is None or stands == most:
        return stands
    return float(optimize.brentq(clear, stands, stands / _STEP))


def _standing_where_known(gain: float, reach: Sensitivity, noise: NoiseTable) -> float | None:
    """As `standing_pull_sd`, the scatters taken as exactly known: in closed form."""
    _, install, drift = reach.parts(noise)
    size, bias = abs(gain), math.copysign(reach.bias, reach.bias * gain)
    left = size**2 - _Z**2 * (install + drift)
    if left < 0:
        return None
    half = size * bias
    root = math.sqrt(max(half**2 + (_Z**2 * reach.pull - bias**2) * left, 0.0))
    if half + root > 0:
        return left / (half + root)
    return math.inf if left else 0.0  # picking against the gain: the wider the scatter, the more is hidden
