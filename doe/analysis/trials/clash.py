"""Does the day contradict its noise study? A study that is too small makes every interval too short."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.fixed_effects import ColumnSpace, column_space
from doe.stats.rounding import only_rounding
from doe.stats.student import two_sided_f_p


@dataclass(frozen=True, slots=True)
class SumsOfSquares:
    """Scatter between and inside fittings, changes and drift taken out.

    ``between`` has expectation (m install^2 + pull^2), ``within`` has pull^2, per degree of freedom.
    """

    between: float
    between_df: int
    within: float
    within_df: int
    pulls_a_fitting: float  #: m = tr(Z' M_X Z) / between_df

    def without_rounding(self, readings: np.ndarray) -> SumsOfSquares:
        """Take a scatter that is no more than the arithmetic's rounding for none."""
        within, between = (
            0.0 if only_rounding(np.sqrt(max(square, 0.0) / max(df, 1)), readings) else square
            for square, df in ((self.within, self.within_df), (self.between, self.between_df))
        )
        return replace(self, within=within, between=between)


def sums_of_squares(trial: Trial, values: np.ndarray) -> SumsOfSquares:
    """Split the residual scatter of one outcome.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)

    Returns
    -------
    SumsOfSquares
        SSW = RSS[X, Z], SSB = RSS[X] - RSS[X, Z] (Searle, Casella & McCulloch 1992, Variance Components, ch. 5).
    """
    return _split(trial, trial.fixed().space, trial.condensed_install_factor, values)


def sums_of_each_part(trial: Trial, values: np.ndarray) -> dict[str, SumsOfSquares]:
    """Split the residual scatter of one outcome for each refit part whose fittings are its own, the others' taken out.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)

    Returns
    -------
    dict of str to SumsOfSquares
        By part, its fittings last behind those of all others (Henderson 1953, Biometrics 9, 226-252, method 3; m as in
        `sums_of_squares`); empty where fewer than two parts have fittings of their own.
    """
    apart = trial.fittings_apart
    if len(apart) < 2:
        return {}
    matrix = trial.fixed().matrix
    rows = matrix if trial.cells is None else matrix[trial.cells.first]
    found = {}
    for part, z in apart.items():
        others = [other for name, other in apart.items() if name != part]
        found[part] = _split(trial, column_space(np.hstack([rows, *others]), cells=trial.cells), z, values)
    return found


def _split(trial: Trial, before: ColumnSpace, z: np.ndarray | None, values: np.ndarray) -> SumsOfSquares:
    """What fittings with indicator `z` take of what is left before them, and what is left within all fittings."""
    within = trial.within
    rss_before, rss_within = (_residual_square(space, values) for space in (before, within))
    between_df = within.rank - before.rank
    m = float("nan")
    if z is not None and between_df:
        z = z if before.cells is None else z * before.cells.root[:, None]
        projected = z - before.own @ (before.own.T @ z)
        m = float((projected**2).sum() / between_df)
    return SumsOfSquares(rss_before - rss_within, between_df, rss_within, within.left, m)


def _residual_square(space: ColumnSpace, values: np.ndarray) -> float:
    residual = space.residual(values)
    return float(residual @ residual)


@dataclass(frozen=True, slots=True)
class StudyTest:
    """The day's scatter of one component against its study's."""

    component: str  #: "pull" or "install"
    f: float
    df: float
    study_df: float
    p: float  #: two-sided

    @property
    def too_small(self) -> bool:
        """Whether the study says less than the day shows."""
        return self.f > 1


def study_tests(trial: Trial, values: np.ndarray, known: KnownNoise) -> list[StudyTest]:
    """Compare the day's own scatter with its studies'.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
        In the metric's unit.

    Returns
    -------
    list of StudyTest
        F = MSW/s_e^2 for the pulls, F = MSB/(m s_u^2 + s_e^2) with Satterthwaite's df for the install scatter, which
        needs a study of both.
    """
    found = sums_of_squares(trial, values)
    tests = []
    if known.pull is None:
        return []
    pull, pull_df = (float(np.asarray(x)) for x in known.pull)
    if found.within_df:
        tests.append(_test("pull", found.within / found.within_df / pull**2, found.within_df, pull_df))
    if known.install is not None and found.between_df:
        install, install_df = (float(np.asarray(x)) for x in known.install)
        part, expected = found.pulls_a_fitting * install**2, found.pulls_a_fitting * install**2 + pull**2
        df = expected**2 / (part**2 / install_df + pull**4 / pull_df)
        tests.append(_test("install", found.between / found.between_df / expected, found.between_df, df))
    return tests


def guess_test(trial: Trial, values: np.ndarray, guess: float) -> StudyTest | None:
    """Compare the day's refit scatter with a guess, taken as if it were the truth.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    guess : float
        SD in the metric's unit.

    Returns
    -------
    StudyTest or None
        F = MSB/(m guess^2 + MSW), with Satterthwaite's df of its denominator; None where the day can't show it.
    """
    found = sums_of_squares(trial, values).without_rounding(values)
    if not (found.between_df and found.within_df and found.within):
        return None
    pull = found.within / found.within_df
    expected = found.pulls_a_fitting * guess**2 + pull
    f, df = found.between / found.between_df / expected, expected**2 / (pull**2 / found.within_df)
    return _test("install", f, found.between_df, df)


def _test(component: str, f: float, df: float, study_df: float) -> StudyTest:
    return StudyTest(component, f, df, study_df, two_sided_f_p(f, df, study_df))
