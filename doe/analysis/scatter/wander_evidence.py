"""Is there wander at all? A likelihood-ratio test whose critical value comes from simulating the very study."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.analysis.trials.trial import Trial
from doe.stats.wander import STATED_MINUTES, wander_factor
from doe.words.significance import NOTABLE

_INSTALL_RATIOS = np.array([0.0, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0])  # variances, in pull variances
_WANDER_RATIOS = np.array([0.0, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0])
_TIMES = 6  # time constants looked at
_SIMULATED = 999  # studies; 50 of them lie above the 5 % point
_SEED = 20  # the same study gets the same p
_POWER = 0.8
_ROUNDING = 1e-12
LOUDEST = 8.0  # pull SDs: the largest wander that is asked for when telling what would have been seen


@dataclass(frozen=True, slots=True)
class WanderTest:
    """Whether slow, random change can be told from none."""

    p: float  #: from simulated studies without wander
    seen_from: float | None  #: wander SD in pull SDs that this study finds with 80 % power; None beyond 8
    at_most: float | None  #: wander SD in pull SDs that the readings leave possible at 95 %; None beyond 8


@dataclass(frozen=True, slots=True)
class AgainstNone:
    """One outcome beside simulated studies without wander."""

    p: float
    install: float  #: variance ratio at which they were simulated: the likeliest without wander
    critical: float  #: value of the statistic that 5 % of them exceed
    statistic: float  #: of the outcome


def time_constants(trial: Trial, count: int = _TIMES) -> np.ndarray:
    """Time constants that a study can tell something of, in minutes.

    Parameters
    ----------
    trial : Trial
        With minutes.
    count : int

    Returns
    -------
    ndarray, shape (count,)
        Evenly spaced in their logarithm, from the usual gap between two pulls to the length of the longest day; empty
        where no two pulls lie apart.
    """
    assert trial.minute is not None
    days = [np.sort(trial.minute[trial.day == day]) for day in np.unique(trial.day)]
    gaps = np.concatenate([np.diff(minutes) for minutes in days])
    gaps = gaps[gaps > 0]
    longest = max(float(np.ptp(minutes)) for minutes in days)
    return np.geomspace(np.median(gaps), longest, count) if len(gaps) > 1 else np.empty(0)


class WanderLikelihood:
    """REML log-likelihood of a design over a grid of install, wander and time constant; the scale is profiled out.

    Everything lives in the error contrasts K'y (K orthonormal, K'X = 0), whitened for each install ratio and time
    constant, so that many outcomes are evaluated at once.
    """

    def __init__(self, trial: Trial, minutes: np.ndarray) -> None:
        basis = trial.fixed().space.basis
        self.contrasts = np.linalg.svd(basis, full_matrices=True)[0][:, basis.shape[1] :]
        z = trial.install_factor()
        seen = self.contrasts.T @ (np.zeros((trial.pulls, 0)) if z is None else z)
        self.install = seen @ seen.T
        self.usual = self._kernel(trial, *STATED_MINUTES)
        self.ratios = _INSTALL_RATIOS if seen.any() else _INSTALL_RATIOS[:1]
        lower = np.linalg.cholesky(np.stack([self.covariance(a, 0.0) for a in self.ratios]))
        whiten = np.linalg.inv(lower)[:, None]
        self.log_det = 2 * np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
        kernels = np.stack([self._kernel(trial, tau) for tau in minutes])
        values, vectors = np.linalg.eigh(whiten @ kernels @ np.swapaxes(whiten, -1, -2))
        self.wander = np.maximum(values, 0.0)  # shape (install ratios, time constants, contrasts)
        self.turn = np.swapaxes(whiten, -1, -2) @ vectors  # whitens the contrasts and makes the wander diagonal

    def _kernel(self, trial: Trial, tau: float) -> np.ndarray:
        assert trial.minute is not None
        seen = self.contrasts.T @ wander_factor(trial.minute, trial.day, (tau,))
        return np.asarray(seen @ seen.T)

    def covariance(self, install: float, wander: float) -> np.ndarray:
        """Covariance of the contrasts at these ratios, the wander at 60 minutes; shape (contrasts, contrasts)."""
        return np.asarray(np.eye(len(self.install)) + install * self.install + wander * self.usual)

    def profile(self, outcomes: np.ndarray) -> np.ndarray:
        """Log-likelihood of the contrasts, largest over wander ratio and time constant.

        Parameters
        ----------
        outcomes : ndarray, shape (outcomes, contrasts)

        Returns
        -------
        ndarray, shape (2, outcomes, install ratios)
            First without wander, then with (or without, where that is likelier).
        """
        n = len(self.install)
        found = np.full((2, len(outcomes), len(self.ratios)), -np.inf)
        for at, log_det in enumerate(self.log_det):
            for wander, turn in zip(self.wander[at], self.turn[at], strict=True):
                weights = 1.0 / (1.0 + _WANDER_RATIOS * wander[:, None])
                size = (outcomes @ turn) ** 2 @ weights
                likely = -0.5 * (log_det - np.log(weights).sum(axis=0) + n * np.log(size))
                found[0, :, at] = likely[:, 0]
                found[1, :, at] = np.maximum(found[1, :, at], likely.max(axis=1))
        return found

    def statistic(self, outcomes: np.ndarray) -> np.ndarray:
        """Twice the log-likelihood ratio of wander against none, shape (outcomes,)."""
        without, with_wander = self.profile(outcomes).max(axis=2)
        return np.asarray(2 * (with_wander - without))

    def against_none(self, outcome: np.ndarray) -> AgainstNone:
        """Compare the contrasts of one outcome, shape (contrasts,), with simulated studies that do not wander."""
        install = float(self.ratios[self.profile(outcome[None])[0, 0].argmax()])
        still = self.statistic(self.simulated(install, 0.0))
        own = float(self.statistic(outcome[None])[0])
        above = int((still >= own - _ROUNDING).sum())
        critical = float(np.sort(still)[-round(NOTABLE * (_SIMULATED + 1))])
        return AgainstNone((1 + above) / (1 + _SIMULATED), install, critical, own)

    def simulated(self, install: float, wander: float) -> np.ndarray:
        """Contrasts of simulated studies at these ratios, the same draws every time; shape (studies, contrasts)."""
        normal = np.random.default_rng(_SEED).standard_normal((_SIMULATED, len(self.install)))
        return np.asarray(normal @ np.linalg.cholesky(self.covariance(install, wander)).T)


def wander_test(trial: Trial, values: np.ndarray) -> WanderTest | None:
    """Test whether the readings wander.

    Parameters
    ----------
    trial : Trial
        Changes, drift and days are taken out; fittings are random.
    values : ndarray, shape (pulls,)

    Returns
    -------
    WanderTest or None
        None where no two time constants can be told apart, or nothing is left of the readings.

    References
    ----------
    Likelihood ratio of REML with the time constant free. At the boundary, and with a time constant that exists under
    one hypothesis only, it follows no chi-square (Davies 1987, Biometrika 74, 33-43); its distribution is simulated for
    this design at the install scatter that is likeliest without wander (Dwass 1957, Ann. Math. Stat. 28, 181-187).
    The largest wander that is possible is found by the same test turned over: at it only 5 studies in 100 show as
    little as these readings do.
    """
    minutes = time_constants(trial)
    if not len(minutes) or trial.error_df < 2:
        return None
    likelihood = WanderLikelihood(trial, minutes)
    found = likelihood.against_none(values @ likelihood.contrasts)
    seen_from = _least_wander(likelihood, found.install, found.critical, _POWER)
    at_most = _least_wander(likelihood, found.install, max(found.statistic, 0.0), 1 - NOTABLE)
    return WanderTest(found.p, seen_from, at_most)


def _least_wander(likelihood: WanderLikelihood, install: float, statistic: float, chance: float) -> float | None:
    """Wander SD, in pull SDs, whose statistic exceeds this one with this chance; None beyond the loudest."""

    def exceeds(sd: float) -> bool:
        simulated = likelihood.statistic(likelihood.simulated(install, sd**2))
        return bool((simulated > statistic + _ROUNDING).mean() >= chance)

    low, high = 0.0, LOUDEST
    if not exceeds(high):
        return None
    while high - low > 0.05 * high:
        middle = (low + high) / 2
        low, high = (low, middle) if exceeds(middle) else (middle, high)
    return high
