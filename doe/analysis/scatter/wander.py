"""Wander: slow, random change through the day. Its SD where the readings tell it from none, and its time constant."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from doe.analysis.scatter.wander_evidence import time_constants, wander_test
from doe.analysis.trials.trial import Trial
from doe.stats import reml
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import Decomposition, Outcomes, Studies, decompose, reduce
from doe.stats.wander import STATED_MINUTES, wander_factor
from doe.words.significance import NOTABLE

_FALL = 1.9207  # of the log-likelihood at the ends of a 95 % profile interval: half of chi-square's 3.8415 on 1 df
_POINTS = 13  # time constants on the profile, before it is refined
_CLOSE = 0.005  # of the logarithm of a time constant: half a per cent
MOST_PULLS = 200  # the test simulates the study: it would take minutes beyond


@dataclass(frozen=True, slots=True)
class TimeConstant:
    """How long the wander remembers: the correlation of two moments is exp(-minutes apart / this)."""

    minutes: float
    low: float  #: 95 % profile interval
    high: float


@dataclass(frozen=True, slots=True)
class Wander:
    """Slow, random change beside fittings and pulls."""

    p: float  #: of wander against none, by simulation of this study
    sd: float  #: by REML at a time constant of 60 minutes, as verdicts take it; may be 0
    df: float  #: 2 theta^2 / Var(theta), from the expected information
    seen_from: float | None  #: SD (at 60 minutes) that this study tells from none with 80 % power; None: not even 8
    at_most: float | None  #: SD (at 60 minutes) beyond which 5 studies in 100 show as little; None: not even bounded
    time: TimeConstant | None  #: None where its interval is not closed, or no wander is shown

    @property
    def shown(self) -> bool:
        """Whether the readings tell it from none."""
        return self.p < NOTABLE and self.sd > 0


def wander(trial: Trial, values: np.ndarray, pull_sd: float) -> Wander | None:
    """Look for wander in one outcome.

    Parameters
    ----------
    trial : Trial
        Changes, drift and days are taken out; fittings and wander are random.
    values : ndarray, shape (pulls,)
    pull_sd : float
        In whose multiples the study's power is known.

    Returns
    -------
    Wander or None
        None without times, with too few pulls to tell two time constants apart, or with more than 200.

    References
    ----------
    y = fixed + install + Gaussian process exp(-|dt|/tau) + pull by REML: Patterson & Thompson (1971), Biometrika 58,
    545-554; Diggle, Heagerty, Liang & Zeger (2002), Analysis of Longitudinal Data, sec. 5.2.
    """
    if trial.minute is None or trial.pulls > MOST_PULLS:
        return None
    found = wander_test(trial, values)
    if found is None:
        return None
    sd, df = _usual(trial, values)
    seen, most = (None if share is None else share * pull_sd for share in (found.seen_from, found.at_most))
    time = time_constant(trial, values) if found.p < NOTABLE else None
    return Wander(found.p, sd, df, seen, most, time)


def _usual(trial: Trial, values: np.ndarray) -> tuple[float, float]:
    """Wander SD at 60 minutes, and its degrees of freedom."""
    design, outcomes = _taken_apart(trial, values, *STATED_MINUTES)
    theta = reml.fit(design, outcomes)
    variance = float(theta[0, -1])
    spread = float(infer(design, outcomes, theta).spread(-1)[0])
    return variance**0.5, 2 * variance**2 / spread if spread > 0 else 0.0


def _taken_apart(trial: Trial, values: np.ndarray, minutes: float) -> tuple[Decomposition, Outcomes]:
    """The mixed model with fittings (if any) and wander, and one outcome in it; the wander is the last component."""
    assert trial.minute is not None
    z = trial.install_factor()
    factors = [*([] if z is None else [z]), wander_factor(trial.minute, trial.day, (minutes,))]
    fixed = trial.fixed()
    design = decompose(fixed.space, fixed.baseline[None], factors)
    return design, reduce(design, values[None])


def time_constant(trial: Trial, values: np.ndarray) -> TimeConstant | None:
    """Time constant by profile likelihood.

    Parameters
    ----------
    trial : Trial
        With minutes.
    values : ndarray, shape (pulls,)

    Returns
    -------
    TimeConstant or None
        None where the 95 % profile interval reaches the gap between two pulls or the length of the day, or where the
        wander leaves nothing to the pulls: then it can't be told.
    """
    try:
        with np.errstate(invalid="raise", divide="raise"):
            return _time_constant(trial, values)
    except (FloatingPointError, np.linalg.LinAlgError):  # the likelihood has no end towards a pull SD of 0
        return None


def _time_constant(trial: Trial, values: np.ndarray) -> TimeConstant | None:
    log = np.log(time_constants(trial, _POINTS))

    def likely(at: float) -> float:
        return _likelihood(trial, values, float(np.exp(at)))

    profile = np.array([likely(at) for at in log])
    inside = np.flatnonzero(profile >= profile.max(initial=-np.inf) - _FALL)
    if not len(inside) or inside[0] == 0 or inside[-1] == len(log) - 1:
        return None
    top = int(profile.argmax())
    best = minimize_scalar(lambda at: -likely(at), bounds=(log[top - 1], log[top + 1]), options={"xatol": _CLOSE})
    peak = max((-float(best.fun), float(best.x)), (float(profile[top]), float(log[top])))
    line = peak[0] - _FALL
    low, high = (
        _crossing(lambda at: likely(at) - line, log[out], log[out + step])
        for out, step in ((inside[0] - 1, 1), (inside[-1] + 1, -1))
    )
    return TimeConstant(float(np.exp(peak[1])), float(np.exp(low)), float(np.exp(high)))


def _crossing(above: Callable[[float], float], outside: float, inside: float) -> float:
    """Where the profile crosses the line; the inner point itself where the refined top leaves it just outside."""
    return float(brentq(above, outside, inside, xtol=_CLOSE)) if above(inside) > 0 else inside


def _likelihood(trial: Trial, values: np.ndarray, minutes: float) -> float:
    design, outcomes = _taken_apart(trial, values, minutes)
    theta = reml.fit(design, outcomes)
    return float(reml.log_likelihood(design, outcomes, Studies.none(design.components), theta)[0])
