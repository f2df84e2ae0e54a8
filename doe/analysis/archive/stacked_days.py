"""The numerics of many days at once: days with as many pulls, terms and fittings are stacks of arrays.

One call of numpy for a stack instead of one a day; each day's numbers are the same whichever days stand beside it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.scatter import noise_checks as checks
from doe.analysis.trials.trial import Trial
from doe.stats.fixed_effects import ColumnSpace, column_spaces
from doe.stats.mixed_model import indicator
from doe.stats.outliers import studentised_critical
from doe.stats.wander import wander_kernel

_NAN = float("nan")
_NEARLY = 1 - 1e-9  # the check itself says whether a pull is outside
_MOST = 2_000_000  # elements of the stacked matrices between pulls: 16 MB


@dataclass(frozen=True, slots=True)
class LinearEstimate:
    """A weighted sum of the readings, and what its variance is made of."""

    value: float  #: NaN where the day can't tell
    pull_part: float  #: share of the pull variance in its variance
    install_part: float  #: share of the install variance


UNKNOWN = LinearEstimate(_NAN, _NAN, _NAN)


@dataclass(frozen=True, slots=True)
class DayNumbers:
    """What the readings of one day say; changes, drift and the day's own level are taken out."""

    within: float  #: sum of squares inside the fittings
    within_df: int
    between: float  #: between them
    between_df: int
    trace: float  #: tr(Z' M_X Z): how often the install variance is in `between`
    trace_square: float  #: tr((Z' M_X Z)^2): how often its square is in half the variance of `between`
    baseline: LinearEstimate  #: all-baseline prediction at the mean minute, least squares
    slope: LinearEstimate  #: drift per hour
    lag1: float
    wander_score: float  #: r'Kr - pull variance tr(MK), r the residuals within the fittings, K the wander's kernel
    wander_information: float  #: how often the wander variance is in it, and half its variance in pull variances^2
    outliers: tuple[int, ...]  #: places of the pulls outside at 1 % (Grubbs)


def numbers_of_days(days: Sequence[tuple[Trial, np.ndarray]]) -> list[DayNumbers]:
    """Take the noise of many days.

    Parameters
    ----------
    days : sequence of (Trial, ndarray of shape (pulls,))
        The trial of one day each, and its readings; a level taken off leaves more digits to the squares.

    Returns
    -------
    list of DayNumbers
        In the order of the days.
    """
    alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for at, (trial, _) in enumerate(days):
        fittings = tuple(len(np.unique(labels)) for labels in trial.fittings.values())
        alike[(trial.fixed().matrix.shape, fittings, trial.minute is None)].append(at)
    found: dict[int, DayNumbers] = {}
    for (shape, *_), places in alike.items():
        most = max(1, _MOST // shape[0] ** 2)  # type: ignore[index]
        for first in range(0, len(places), most):
            some = places[first : first + most]
            found |= zip(some, _of_alike([days[at] for at in some]), strict=True)
    return [found[at] for at in range(len(days))]


def _of_alike(days: Sequence[tuple[Trial, np.ndarray]]) -> list[DayNumbers]:
    """Days of one shape; those whose matrices determine as much go through together."""
    trials = [trial for trial, _ in days]
    fixed = np.stack([trial.fixed().matrix for trial in trials])
    z = np.stack([_fittings(trial) for trial in trials])
    spaces = column_spaces(fixed)
    inside = column_spaces(np.concatenate([fixed, z], axis=2)) if z.shape[2] else spaces
    ranks: dict[tuple[int, int], list[int]] = defaultdict(list)
    for at, both in enumerate(zip(spaces, inside, strict=True)):
        ranks[both[0].rank, both[1].rank].append(at)
    found: dict[int, DayNumbers] = {}
    for places in ranks.values():
        stack = _Stack(
            [trials[at] for at in places],
            np.stack([days[at][1] for at in places]),
            [spaces[at] for at in places],
            [inside[at] for at in places],
            z[places],
        )
        found |= zip(places, stack.numbers(), strict=True)
    return [found[at] for at in range(len(days))]


def _fittings(trial: Trial) -> np.ndarray:
    """Fittings of all refit factors side by side, shape (pulls, fittings)."""
    return np.concatenate([np.empty((trial.pulls, 0)), *map(indicator, trial.fittings.values())], axis=1)


class _Stack:
    """Days with as many pulls, fittings and degrees of freedom."""

    def __init__(
        self,
        trials: Sequence[Trial],
        values: np.ndarray,
        spaces: Sequence[ColumnSpace],
        inside: Sequence[ColumnSpace],
        z: np.ndarray,
    ) -> None:
        self.trials, self.values, self.spaces, self.z = trials, values, spaces, z
        self.fixed = np.stack([space.own for space in spaces])
        self.within = np.stack([space.own for space in inside])
        self.within_df, self.between_df = inside[0].left, inside[0].rank - spaces[0].rank
        self.left = _without(values, self.within)
        self.square = (self.left**2).sum(axis=1)

    def numbers(self) -> list[DayNumbers]:
        """What each day says."""
        columns = (
            self.square.tolist(), *self._between(), self._lag1().tolist(), *self._wander(), self._outliers(),
            *([self._estimate(at, pick) for at in range(len(self.trials))] for pick in ("baseline", "slope")),
        )  # fmt: skip
        return [
            DayNumbers(
                within=within, within_df=self.within_df, between=between, between_df=self.between_df, trace=trace,
                trace_square=trace_square, baseline=baseline, slope=slope, lag1=lag1, wander_score=score,
                wander_information=information, outliers=outliers,
            )
            for within, between, trace, trace_square, lag1, score, information, outliers, baseline, slope in zip(
                *columns, strict=True
            )
        ]  # fmt: skip

    def _between(self) -> tuple[list[float], ...]:
        """Sum of squares between the fittings, and its two traces; as `sums_of_squares` says."""
        if not self.between_df:
            return ([0.0] * len(self.trials),) * 3
        all_left = (_without(self.values, self.fixed) ** 2).sum(axis=1)
        projected = self.z - self.fixed @ (_turned(self.fixed) @ self.z)
        crossed = _turned(projected) @ projected
        traces = np.trace(crossed, axis1=1, axis2=2), (crossed**2).sum(axis=(1, 2))
        return (all_left - self.square).tolist(), traces[0].tolist(), traces[1].tolist()

    def _estimate(self, at: int, pick: str) -> LinearEstimate:
        """Least-squares estimate of a combination of the coefficients, with the parts of its variance.

        With weights w of the readings Var = pull^2 w'w + install^2 |Z'w|^2.
        """
        function = getattr(self.trials[at].fixed(), pick)
        weights = np.full(1, _NAN) if function is None else self.spaces[at].weights(function[None])[0]
        if np.isnan(weights[0]):
            return UNKNOWN
        return LinearEstimate(
            float(weights @ self.values[at]), float(weights @ weights), float(((weights @ self.z[at]) ** 2).sum())
        )

    def _lag1(self) -> np.ndarray:
        """Correlation of neighbouring pulls of one fitting; as `noise_checks.lag1` says, NaN for None."""
        order = np.argsort([_moments(trial) for trial in self.trials], axis=1, kind="stable")
        install = np.take_along_axis(np.stack([trial.install for trial in self.trials]), order, axis=1)
        near = install[:, 1:] == install[:, :-1]
        pairs = near.sum(axis=1)
        left = np.take_along_axis(self.left, order, axis=1)
        basis = np.take_along_axis(self.within, order[:, :, None], axis=1)
        products, given = left[:, 1:] * left[:, :-1], -np.einsum("dij,dij->di", basis[:, 1:], basis[:, :-1])
        with np.errstate(divide="ignore", invalid="ignore"):
            seen, expected = ((each * near).sum(axis=1) / pairs for each in (products, given))
            found = np.clip(seen * self.within_df / self.square - expected, -1.0, 1.0)
        return np.where((pairs < checks.FEWEST_NEIGHBOURS) | (self.square <= 0), _NAN, found)

    def _wander(self) -> tuple[list[float], list[float]]:
        """Score of wander at a variance of 0, and its information, with the pull variance of the day itself taken out.

        With M = I - H within the fittings (on nu df) and K the kernel at 60 minutes, r'Kr - r'r tr(MK)/nu has mean 0
        without wander, whatever the pull scatter of the day; with it, wander^2 [tr(MKMK) - tr(MK)^2/nu], which is half
        its variance in units of pull^4 as well.
        """
        if self.trials[0].minute is None or self.within_df < 1:
            return [_NAN] * len(self.trials), [0.0] * len(self.trials)
        kernel = wander_kernel(np.stack([_moments(trial) for trial in self.trials]))
        seen = kernel - self.within @ (_turned(self.within) @ kernel)
        share = np.trace(seen, axis1=1, axis2=2) / self.within_df
        score = (self.left * (kernel @ self.left[:, :, None])[:, :, 0]).sum(axis=1) - share * self.square
        information = (seen * _turned(seen)).sum(axis=(1, 2)) - share**2 * self.within_df
        return score.tolist(), information.tolist()

    def _outliers(self) -> list[tuple[int, ...]]:
        """Looked for one by one where the furthest pull of a day may be one."""
        if self.within_df < 2:
            return [()] * len(self.trials)
        freedom = 1.0 - (self.within**2).sum(axis=2)
        can = freedom > checks.NO_FREEDOM
        scaled = self.left**2 / np.where(can, freedom, np.inf)
        furthest = np.sqrt(scaled.max(axis=1) * self.within_df / np.where(self.square > 0, self.square, np.inf))
        critical = {n: studentised_critical(n, self.within_df) for n in set(can.sum(axis=1).tolist())}
        return [
            _far(trial, values) if far > critical[n] * _NEARLY else ()
            for trial, values, far, n in zip(
                self.trials, self.values, furthest.tolist(), can.sum(axis=1).tolist(), strict=True
            )
        ]


def _far(trial: Trial, values: np.ndarray) -> tuple[int, ...]:
    return tuple(out.row for out in checks.outliers(trial, values) if out.statistic > out.critical_1)


def _moments(trial: Trial) -> np.ndarray:
    """What orders the pulls of a day."""
    return np.arange(trial.pulls) if trial.minute is None else trial.minute


def _without(values: np.ndarray, basis: np.ndarray) -> np.ndarray:
    """Readings of each day less their projection, shape (days, pulls); as `without` of one."""
    return np.asarray(values - (basis @ (_turned(basis) @ values[:, :, None]))[:, :, 0])


def _turned(matrices: np.ndarray) -> np.ndarray:
    """Each matrix of a stack transposed."""
    return matrices.swapaxes(1, 2)
