"""Does the correction correct? What the engine gave in its baseline, against the factor of the air it was made in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.analysis.judging.estimates import estimate
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.student import upper_quantile
from doe.words.judgements import judge_notes
from doe.words.notes import Note
from doe.words.significance import CONFIDENCE, risk_of

KNOWN_TO = 0.25  #: standard error of the slope, above which a day can't tell
_PERCENT = 100.0  # logarithms are taken in percent, so that their scatter has an ordinary size


@dataclass(frozen=True, slots=True)
class CorrectionSlope:
    """Slope of ln(observed) on -ln(factor) over the baseline pulls; 1: the correction leaves nothing over."""

    slope: float
    se: float
    df: float
    low: float  #: 95 %
    high: float
    pulls: int  #: of the baseline

    @property
    def note(self) -> Note:
        """What it says of the day's correction."""
        if self.se >= KNOWN_TO:
            return judge_notes.correction_untold(self.se)
        if self.low <= 1 <= self.high:
            return judge_notes.correction_corrects(self.slope, self.low, self.high, self.pulls)
        return judge_notes.correction_leaves_over(self.slope, self.low, self.high, self.pulls)


def correction_slope(trial: Trial, observed: np.ndarray, factors: np.ndarray) -> CorrectionSlope | None:
    """Regress what the baseline gave on the air, with the drift, the days and the fittings of the day's own model.

    Parameters
    ----------
    trial : Trial
    observed : ndarray, shape (pulls,)
        The metric before the correction.
    factors : ndarray, shape (pulls,)
        What it was multiplied with. They stay the standard's: nothing is fitted back.

    Returns
    -------
    CorrectionSlope or None
        None where the baseline pulls don't determine it: too few, or air that moved with the clock.
    """
    base = np.flatnonzero(~trial.changes.any(axis=1))
    air = -_PERCENT * np.log(factors[base])
    if len(base) < 3 or np.ptp(air) <= 1e-9 * _PERCENT:
        return None
    part = trial.take(base)
    of_air = Trial(
        ("air",),
        ("factor",),
        (air - air.mean())[:, None],
        part.fittings,
        part.install,
        part.minute,
        part.day,
        part.drift,
        part.beside,
    )
    if not of_air.determined.all():
        return None
    found = estimate(of_air, _PERCENT * np.log(observed[base])[None], KnownNoise.of(None))
    risk = risk_of(CONFIDENCE)
    longer = found.governing(risk)[0, 0]
    slope, se, df = float(found.gain[0, 0]), float(found.se[0, 0, longer]), float(found.df[0, 0, longer])
    if not np.isfinite([slope, se]).all():
        return None
    half = float(upper_quantile(risk / 2, df)) * se
    return CorrectionSlope(slope, se, df, slope - half, slope + half, len(base))
