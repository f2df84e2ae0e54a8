"""What each further refit of a noise study buys: how well the refit scatter is known, what the coming day then sees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from doe.day.clock import clock_text, fits, lay_out
from doe.day.records import Run, Stint
from doe.day.schema import DayFile
from doe.stats.fixed_effects import column_space, fixed_effects
from doe.stats.mixed_model import indicator
from doe.stats.power import detectable_gain
from doe.stats.precision import AssumedNoise, expected_precision

USUAL_RATIO = 2.0  # pull SD / install SD where nothing is known; common practice, no published source
PAIRS, PULLS = 3, 3  # the coming day that it is told for: three back-to-back pairs of three pulls a fitting
_FEWEST = 2
_BEYOND = 3  # further refits that are told
_TAIL = 0.025
_STUDIES, _SEED = 4000, 20


@dataclass(frozen=True, slots=True)
class RefitWorth:
    """A study with so many fittings, and what it is worth on average, at the assumed SDs."""

    fittings: int
    pulls: int
    until: str  #: "HH:MM", end of its last pull
    fits: bool  #: within the hours of the day
    pull_df: int
    install_df: float
    times_larger: float  #: 97.5 % limit of the true install SD over the one that is found, by chi-square on install_df
    detectable_gain: float  #: by one change of a coming day, see `coming_day` [pull SDs, or the gains' unit]


@dataclass(frozen=True, slots=True)
class StudyWorth:
    """The table of a study's worth, and what it was worked out for."""

    rows: tuple[RefitWorth, ...]
    without: float | None  #: detectable gain of the same coming day without any study
    install_ratio: float  #: install SD in pull SDs
    assumed: bool  #: the ratio is the usual one: day.toml gives no SDs

    @property
    def pairs(self) -> int:
        """Back-to-back pairs of the coming day."""
        return PAIRS

    @property
    def pulls(self) -> int:
        """Pulls a fitting of the coming day."""
        return PULLS


def study_worth(day: DayFile, stints: Sequence[Stint]) -> StudyWorth:
    """Work out what fewer and further refits buy.

    Parameters
    ----------
    day : DayFile
        Of a study; [noise] may give the SDs.
    stints : sequence of Stint
        The planned sets, the fittings in turn.

    Returns
    -------
    StudyWorth
        From two fittings to three more than planned.
    """
    noise = day.noise
    given = bool(noise.pull_sd and noise.install_sd)
    pull, install = (noise.pull_sd, noise.install_sd) if given else (noise.pull_sd or 1.0, None)
    assert pull is not None
    truth = AssumedNoise(pull, install or pull / USUAL_RATIO)
    longer = [*stints, *(stints[1 + i % max(len(stints) - 1, 1)] for i in range(_BEYOND))]
    rows = tuple(_row(day, longer[:count], truth) for count in range(_FEWEST, len(longer) + 1))
    return StudyWorth(rows, coming_day(day, truth, 0, 0.0), truth.install_sd / pull, not given)


def _row(day: DayFile, stints: Sequence[Stint], truth: AssumedNoise) -> RefitWorth:
    runs = lay_out(day, list(stints))
    counted = [run for run in runs if run.counts]
    pull_df, install_df = expected_df(counted, truth)
    upper = float(np.sqrt(install_df / special.chdtri(install_df, 1 - _TAIL)))
    gain = coming_day(day, truth, pull_df, install_df)
    assert gain is not None
    return RefitWorth(
        len(stints), len(counted), clock_text(day, runs[-1].minute), fits(day, runs), pull_df, install_df, upper, gain
    )


def expected_df(runs: Sequence[Run], truth: AssumedNoise) -> tuple[int, float]:
    """Degrees of freedom that a study of these pulls will find, a linear drift taken out.

    Parameters
    ----------
    runs : sequence of Run
        Counted ones.
    truth : AssumedNoise

    Returns
    -------
    pull_df : int
    install_df : float
        Mean over simulated studies of what is saved of each: Satterthwaite's (1946, Biometrics Bulletin 2, 110-114),
        not below 1 and not above the df between fittings.
    """
    x = fixed_effects(np.zeros((len(runs), 0)), np.array([run.minute for run in runs]), 1).matrix
    z = indicator(np.array([run.install for run in runs]))
    outer, inner = column_space(x), column_space(np.hstack([x, z]))
    between_df, pull_df = inner.rank - outer.rank, inner.left
    m = float(((z - outer.basis @ (outer.basis.T @ z)) ** 2).sum()) / between_df
    rng = np.random.default_rng(_SEED)
    within = truth.pull_sd**2 * rng.chisquare(pull_df, _STUDIES) / pull_df
    between = (m * truth.install_sd**2 + truth.pull_sd**2) * rng.chisquare(between_df, _STUDIES) / between_df
    excess = np.maximum(between - within, 0.0)
    df = excess**2 / (between**2 / between_df + within**2 / pull_df)
    return pull_df, float(np.clip(df, 1, between_df).mean())


def coming_day(day: DayFile, truth: AssumedNoise, pull_df: float, install_df: float) -> float | None:
    """Gain that a coming day finds 8 times in 10: one part in three back-to-back pairs, three pulls a fitting.

    Parameters
    ----------
    day : DayFile
        For the minutes of a refit and a pull.
    truth : AssumedNoise
    pull_df, install_df : float
        What the study knows of the two SDs; 0 without a study.

    Returns
    -------
    float or None
        [unit of the SDs]; None where the day can show nothing.
    """
    fitting = np.repeat(np.arange(2 * PAIRS), PULLS)
    refit = max((factor.refit_minutes or 0.0 for factor in day.refit_factors), default=0.0)
    minute = day.cell.pull_minutes * (1 + np.arange(len(fitting))) + refit * fitting
    changes = (np.isin(fitting % 4, (1, 2)))[:, None].astype(float)  # B C, C B, B C
    known = AssumedNoise(truth.pull_sd, truth.install_sd, pull_df=pull_df, install_df=install_df)
    found = expected_precision(minute, changes, [fitting], [0], known, 1)
    return detectable_gain(float(found.se[0]), float(found.df[0]))
