"""Designs that lack a few pulls each, fitted as outcomes of the one design that has them all.

A pull that gets a fixed effect of its own says nothing any more: the error contrasts are those of the other pulls, and
with them the likelihood, the estimates and all inference (Cook & Weisberg 1982, Residuals and Influence in Regression,
sec. 2.2.2: the mean shift that takes out a case).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.stats.fixed_effects import RANK_TOLERANCE, without


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Pulls that each day does without, as many on each.

    Attributes
    ----------
    rows : ndarray of int, shape (days, left out)
        Which pulls.
    columns : ndarray, shape (days, reached, left out)
        A = reach' E, E the columns that pick these pulls.
    weighed : ndarray, shape (days, left out, functions)
        E' least_squares.
    """

    rows: np.ndarray
    columns: np.ndarray
    weighed: np.ndarray

    def of_days(self, days: np.ndarray) -> LeftOut:
        """Pick some of the days."""
        return LeftOut(self.rows[days], self.columns[days], self.weighed[days])

    def solved(self, v: np.ndarray, reached: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """P reached, shape (days, reached), for P of `projection`; and log det A'V^-1 A, shape (days,)."""
        via = np.linalg.solve(v, self._beside(reached))
        gram = np.swapaxes(self.columns, 1, 2) @ via
        off = np.linalg.solve(gram[..., :-1], gram[..., -1:])
        return via[..., -1] - (via[..., :-1] @ off)[..., 0], np.linalg.slogdet(gram[..., :-1])[1]

    def on_grid(self, v: np.ndarray, reached: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """At several V alike for all days reached' P reached, and log det A'V^-1 A; shape (grid, days) each."""
        both = self._beside(reached)
        days, size, columns = both.shape
        flat = np.swapaxes(both, 0, 1).reshape(size, days * columns)
        via = np.linalg.solve(v, flat[None]).reshape(len(v), size, days, columns)
        gram = np.swapaxes(both, 1, 2) @ np.swapaxes(via, 1, 2)  # grid, days, columns, columns
        own, cross = gram[..., :-1, :-1], gram[..., :-1, -1:]
        off = (cross * np.linalg.solve(own, cross)).sum(axis=(-1, -2))
        return gram[..., -1, -1] - off, np.linalg.slogdet(own)[1]

    def _beside(self, reached: np.ndarray) -> np.ndarray:
        return np.concatenate([self.columns, reached[..., None]], axis=2)

    def projection(self, inverse: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Take from the inverse of the contrasts' covariance what the columns of these pulls take up.

        Parameters
        ----------
        inverse : ndarray, shape (days, reached, reached)
            V^-1.

        Returns
        -------
        projection : ndarray, shape (days, reached, reached)
            P = V^-1 - V^-1 A (A'V^-1 A)^-1 A'V^-1.
        off : ndarray, shape (days, reached, functions)
            V^-1 A (A'V^-1 A)^-1 E' least_squares: keeps the weights of an estimate off these pulls.
        """
        via = inverse @ self.columns
        share = np.linalg.solve(np.swapaxes(self.columns, 1, 2) @ via, np.swapaxes(via, 1, 2))
        return inverse - via @ share, np.swapaxes(share, 1, 2) @ self.weighed

    def residual(self, left: np.ndarray, fitted: np.ndarray) -> np.ndarray:
        """What is left of readings, shape (days, pulls) in and out; `fitted` is a basis of what was taken off them."""
        own = fitted[self.rows]
        off = np.linalg.solve(beyond(own), np.take_along_axis(left, self.rows, 1)[..., None])
        left = left + (np.swapaxes(own, 1, 2) @ off)[..., 0] @ fitted.T
        np.put_along_axis(left, self.rows, 0.0, 1)
        return left


def beyond(rows: np.ndarray) -> np.ndarray:
    """I - R R', shape (days, rows, rows): what a basis leaves of the pulls of these of its rows R."""
    return np.asarray(np.eye(rows.shape[1]) - rows @ np.swapaxes(rows, 1, 2))


def further(
    basis: np.ndarray, values: np.ndarray, rows: np.ndarray, most: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Directions beyond a basis in which some pulls lie, on each day its own.

    Parameters
    ----------
    basis : ndarray, shape (pulls, anything)
        Orthonormal.
    values : ndarray, shape (days, pulls)
    rows : ndarray of int, shape (days, some)
    most : int
        Directions that there are beyond the basis; at least 1.

    Returns
    -------
    columns : ndarray, shape (days, directions, some)
        Coordinates of these pulls.
    seen : ndarray, shape (days, directions)
        Coordinates of the readings.
    rest : ndarray, shape (days,)
        Sum of squares of what neither basis nor directions hold of the readings.
    """
    share, turned = np.linalg.eigh(beyond(basis[rows]))
    share, turned = share[:, -most:], np.swapaxes(turned[..., -most:], 1, 2)
    told = share > RANK_TOLERANCE
    root = np.sqrt(np.where(told, share, 0.0))
    left = without(values, basis)
    own = (turned @ np.take_along_axis(left, rows, 1)[..., None])[..., 0]
    seen = np.divide(own, root, out=np.zeros_like(own), where=told)
    rest = np.maximum(np.einsum("dn,dn->d", left, left) - (seen**2).sum(axis=1), 0.0)
    if seen.shape[1] == most:  # a direction in which none of these pulls lies may be any: the first is that of the rest
        seen[:, 0] = np.where(told[:, 0], seen[:, 0], np.sqrt(rest))
        rest = np.zeros_like(rest)
    return root[..., None] * turned, seen, rest
