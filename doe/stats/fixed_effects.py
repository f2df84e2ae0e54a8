"""The fixed part of the model: day intercepts, one column per change, a drift polynomial common to all days."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

DRIFT_DEGREE = {"none": 0, "linear": 1, "quadratic": 2, "wander": 0}
RANK_TOLERANCE = 1e-9


@dataclass(frozen=True)
class FixedEffects:
    """The matrix of the fixed effects, and the rows that pick the answers out of its coefficients.

    Attributes
    ----------
    matrix : ndarray, shape (pulls, terms)
        First the intercept, then the changes, the drift powers, the days but the first.
    gains : ndarray, shape (changes, terms)
        Picks the gain of each change.
    baseline : ndarray, shape (terms,)
        Picks the all-baseline prediction at the mean covariates of all pulls (days weighted by their pulls).
    slope : ndarray or None, shape (terms,)
        Picks the drift per hour at the mean minute; None without a drift polynomial.
    """

    matrix: np.ndarray
    gains: np.ndarray
    baseline: np.ndarray
    slope: np.ndarray | None

    @cached_property
    def space(self) -> ColumnSpace:
        """The matrix taken apart."""
        return column_space(self.matrix)

    @cached_property
    def answers(self) -> np.ndarray:
        """Rows that pick the gains, the baseline and, where there is one, the slope; shape (functions, terms)."""
        return np.vstack([self.gains, self.baseline, *([] if self.slope is None else [self.slope])])


def fixed_effects(
    changes: np.ndarray, minute: np.ndarray | None = None, degree: int = 0, day: np.ndarray | None = None
) -> FixedEffects:
    """Build the fixed part of the model.

    Parameters
    ----------
    changes : ndarray, shape (pulls, changes)
        1 where the change is on, else 0.
    minute : ndarray, shape (pulls,), optional
        Minutes from each day's own start; needed when `degree` > 0.
    degree : int
        Degree of the drift polynomial, in hours from the mean minute.
    day : ndarray, shape (pulls,), optional
        Label of the day; one fixed intercept a day, a common slope.

    Returns
    -------
    FixedEffects
    """
    changes = np.asarray(changes, float)
    n, c = changes.shape
    columns = [np.ones((n, 1)), changes]
    if degree:
        assert minute is not None
        minute = np.asarray(minute, float)
        hours = (minute - minute.mean()) / 60.0
        columns.append(hours[:, None] ** np.arange(1, degree + 1))
    if day is not None:
        columns.append(np.asarray(day)[:, None] == np.unique(day)[None, 1:])
    matrix = np.concatenate(columns, axis=1)
    gains = np.zeros((c, matrix.shape[1]))
    gains[:, 1 : c + 1] = np.eye(c)
    baseline = matrix.mean(axis=0)
    baseline[1 : c + 1] = 0.0
    slope = None
    if degree:
        slope = np.zeros(matrix.shape[1])
        slope[c + 1] = 1.0  # hours are centred, so the derivative at the mean minute is the first power's coefficient
    return FixedEffects(matrix, gains, baseline, slope)


@dataclass(frozen=True, slots=True)
class ColumnSpace:
    """A matrix taken apart once: its rank, what it spans and what it determines.

    Attributes
    ----------
    basis : ndarray, shape (rows, rank)
        Orthonormal basis of the column space.
    pseudo_inverse : ndarray, shape (terms, rows)
        Moore-Penrose inverse.
    row_basis : ndarray, shape (rank, terms)
        Orthonormal basis of the row space.
    """

    basis: np.ndarray
    pseudo_inverse: np.ndarray
    row_basis: np.ndarray

    @property
    def rank(self) -> int:
        """Number of independent columns."""
        return self.basis.shape[1]

    @property
    def left(self) -> int:
        """Rows minus rank: what is left to see scatter with."""
        return len(self.basis) - self.rank

    def determines(self, functions: np.ndarray) -> np.ndarray:
        """Tell which linear functions of the coefficients the matrix determines.

        Parameters
        ----------
        functions : ndarray, shape (functions, terms)

        Returns
        -------
        ndarray of bool, shape (functions,)
            True where the function lies in the row space of the matrix (Searle 1971, Linear Models, sec. 5.4).
        """
        if self.rank == self.row_basis.shape[1]:
            return np.ones(len(functions), bool)
        gap = np.abs(functions @ self.row_basis.T @ self.row_basis - functions).max(axis=-1)
        return np.asarray(gap <= 1e-6 * np.maximum(1.0, np.abs(functions).max(axis=-1)))


def column_space(matrix: np.ndarray) -> ColumnSpace:
    """Take a matrix apart; singular values below 1e-9 of the largest count as zero.

    Parameters
    ----------
    matrix : ndarray, shape (rows, terms)

    Returns
    -------
    ColumnSpace
    """
    u, s, vt = np.linalg.svd(matrix, full_matrices=False)
    keep = int((s > RANK_TOLERANCE * s[:1]).sum())  # in falling order
    u, s, vt = u[:, :keep], s[:keep], vt[:keep]
    return ColumnSpace(u, (vt.T / s) @ u.T, vt)
