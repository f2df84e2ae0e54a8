"""The fixed part of the model: day intercepts, one column per change, a drift polynomial common to all days."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

DRIFT_DEGREE = {"none": 0, "linear": 1, "quadratic": 2, "wander": 0}
RANK_TOLERANCE = 1e-9
ROW_TOLERANCE = 1e-6  # of the function: singular values just above RANK_TOLERANCE leave the row space known to 1e-7


@dataclass(frozen=True)
class FixedEffects:
    """The matrix of the fixed effects, and the rows that pick the answers out of its coefficients.

    Attributes
    ----------
    matrix : ndarray, shape (pulls, terms)
        First the intercept, then the changes, the drift powers, the days but the first, and what stands beside them.
    gains : ndarray, shape (changes, terms)
        Picks the gain of each change.
    baseline : ndarray, shape (terms,)
        Picks the all-baseline prediction at the mean covariates of all pulls (days weighted by their pulls).
    slope : ndarray or None, shape (terms,)
        Picks the drift per hour at the mean minute; None without a drift polynomial.
    degree : int
        Of the drift polynomial.
    cells : Cells or None
        Pulls that are alike in all that matters here.
    """

    matrix: np.ndarray
    gains: np.ndarray
    baseline: np.ndarray
    slope: np.ndarray | None
    degree: int = 0
    cells: Cells | None = None

    def condensed(self, cells: Cells | None) -> FixedEffects:
        """The same, with pulls that are alike taken together."""
        return replace(self, cells=cells)

    @property
    def drift_columns(self) -> np.ndarray:
        """Powers of the hours, shape (pulls, degree)."""
        first = 1 + len(self.gains)
        return self.matrix[:, first : first + self.degree]

    @cached_property
    def space(self) -> ColumnSpace:
        """The matrix taken apart."""
        return column_space(self.matrix if self.cells is None else self.matrix[self.cells.first], cells=self.cells)

    @cached_property
    def tells_baseline(self) -> bool:
        """Whether the pulls determine the all-baseline prediction."""
        return bool(self.space.determines(self.baseline[None])[0])

    def answers_in(self, space: ColumnSpace, further: np.ndarray | None = None) -> np.ndarray:
        """As `answers`, for a model that may determine less: means over groups, blocks beside them, parts never apart.

        Parameters
        ----------
        space : ColumnSpace
            Of the averaged matrix, or of the matrix with further columns.
        further : ndarray, shape (terms more,), optional
            Means of the further columns over the pulls.

        Returns
        -------
        ndarray, shape (functions, terms of the space)
            In the place of the baseline the level of the pulls with every gain taken out that the space determines:
            always determined itself.
        """
        more = np.zeros(0) if further is None else further
        found = np.hstack([self.answers, np.zeros((len(self.answers), len(more)))])
        changes = len(self.gains)
        told = space.determines(found[:changes])
        found[changes, len(self.baseline) :] = more
        found[changes, 1 : changes + 1] = np.where(told, 0.0, self.matrix[:, 1 : changes + 1].mean(axis=0))
        return found

    @cached_property
    def answers(self) -> np.ndarray:
        """Rows that pick the gains, the baseline and, where there is one, the slope; shape (functions, terms)."""
        return np.vstack([self.gains, self.baseline, *([] if self.slope is None else [self.slope])])


def fixed_effects(
    changes: np.ndarray,
    minute: np.ndarray | None = None,
    degree: int = 0,
    day: np.ndarray | None = None,
    beside: np.ndarray | None = None,
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
    beside : ndarray, shape (pulls, columns), optional
        Further columns, of which no question is asked.

    Returns
    -------
    FixedEffects
    """
    changes = np.asarray(changes, float)
    n, c = changes.shape
    columns = [np.ones((n, 1)), changes]
    if degree:
        assert minute is not None
        hours = centred_hours(np.asarray(minute, float))
        columns.append(hours[:, None] ** np.arange(1, degree + 1))
    if day is not None:
        columns.append(np.asarray(day)[:, None] == np.unique(day)[None, 1:])
    if beside is not None:
        columns.append(beside)
    matrix = np.concatenate(columns, axis=1)
    gains = np.zeros((c, matrix.shape[1]))
    gains[:, 1 : c + 1] = np.eye(c)
    baseline = matrix.mean(axis=0)
    baseline[1 : c + 1] = 0.0
    slope = None
    if degree:
        slope = np.zeros(matrix.shape[1])
        slope[c + 1] = 1.0  # hours are centred, so the derivative at the mean minute is the first power's coefficient
    return FixedEffects(matrix, gains, baseline, slope, degree)


def centred_hours(minute: np.ndarray) -> np.ndarray:
    """Hours from the mean minute, exactly 0 where all minutes are equal; shape (pulls,)."""
    hours = (minute - minute[:1]) / 60.0
    return np.asarray(hours - hours.mean()) if len(hours) else hours


@dataclass(frozen=True, slots=True)
class Cells:
    """Pulls with one and the same row in every matrix of the model, taken together.

    Their root-count times mean, and what is left of them around it, are all that they say: turned so, a hundred
    thousand pulls with a thousand different rows are a thousand readings, and many that are scatter alone.

    Attributes
    ----------
    labels : ndarray of int, shape (pulls,)
        Which cell each pull belongs to.
    first : ndarray of int, shape (cells,)
        One pull of each.
    root : ndarray, shape (cells,)
        Square root of their number.
    """

    labels: np.ndarray
    first: np.ndarray
    root: np.ndarray

    @classmethod
    def of(cls, rows: np.ndarray) -> Cells:
        """Cells of equal rows, shape (pulls, anything)."""
        _, first, labels, count = np.unique(rows, axis=0, return_index=True, return_inverse=True, return_counts=True)
        return cls(labels.ravel(), first, np.sqrt(count))

    def condense(self, values: np.ndarray) -> np.ndarray:
        """Root-count times mean of each cell, shape (..., pulls) in, (..., cells) out."""
        flat = values.reshape(-1, values.shape[-1])
        sums = [np.bincount(self.labels, one, len(self.first)) for one in flat]
        return np.reshape(sums, (*values.shape[:-1], len(self.first))) / self.root

    def spread(self, condensed: np.ndarray) -> np.ndarray:
        """Give every pull its share of its cell, shape (..., cells) in, (..., pulls) out."""
        return np.asarray((condensed / self.root)[..., self.labels])


@dataclass(frozen=True, slots=True)
class ColumnSpace:
    """A matrix taken apart once: its rank, what it spans and what it determines.

    Everything that is read from its coefficients goes through `weights`, so that no pseudo-inverse can share out what
    the matrix doesn't determine.

    Attributes
    ----------
    own : ndarray, shape (rows, rank), or (cells, rank)
        Orthonormal basis of the column space, of the condensed rows where there are cells.
    scale : ndarray, shape (terms,)
        Size of each column: minutes of a long campaign and the indicator of one pull count alike.
    row_basis : ndarray, shape (rank, terms)
        Orthonormal basis of the row space of the scaled matrix.
    singular : ndarray, shape (rank,)
        Singular values of the scaled matrix.
    cells : Cells or None
        Rows that are alike.
    """

    own: np.ndarray
    scale: np.ndarray
    row_basis: np.ndarray
    singular: np.ndarray
    cells: Cells | None = None

    @property
    def rows(self) -> int:
        """Number of rows, those that are alike counted each."""
        return len(self.own) if self.cells is None else len(self.cells.labels)

    @property
    def basis(self) -> np.ndarray:
        """Orthonormal basis of the column space, shape (rows, rank)."""
        return self.own if self.cells is None else self.cells.spread(self.own.T).T

    @property
    def leverage(self) -> np.ndarray:
        """Diagonal of the projection, shape (rows,)."""
        found = (self.own**2).sum(axis=1)
        return found if self.cells is None else (found / self.cells.root**2)[self.cells.labels]

    def hat(self, row: int) -> np.ndarray:
        """One column of the projection, shape (rows,)."""
        if self.cells is None:
            return np.asarray(self.own @ self.own[row])
        at = self.cells.labels[row]
        return self.cells.spread(self.own @ self.own[at] / self.cells.root[at])

    def hats(self, a: np.ndarray, b: np.ndarray) -> np.ndarray:
        """Elements of the projection, rows a against rows b; each shape (pairs,)."""
        if self.cells is None:
            return np.asarray(np.einsum("ij,ij->i", self.own[a], self.own[b]))
        at, root = self.cells.labels, self.cells.root
        (left, right), same = np.unique(np.stack([at[a], at[b]]), axis=1, return_inverse=True)
        found = np.einsum("ij,ij->i", self.own[left], self.own[right]) / (root[left] * root[right])
        return np.asarray(found[same.ravel()])

    def residual(self, values: np.ndarray) -> np.ndarray:
        """What the matrix leaves of readings, shape (..., rows) in and out."""
        return without(values, self.own, self.cells)

    @property
    def rank(self) -> int:
        """Number of independent columns."""
        return self.own.shape[1]

    @property
    def left(self) -> int:
        """Rows minus rank: what is left to see scatter with."""
        return self.rows - self.rank

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
        scaled = functions / self.scale
        gap = np.linalg.norm(scaled - scaled @ self.row_basis.T @ self.row_basis, axis=-1)
        return np.asarray(gap <= ROW_TOLERANCE * np.linalg.norm(scaled, axis=-1))

    def weights(self, functions: np.ndarray) -> np.ndarray:
        """Weights of the rows with which least squares reads linear functions of the coefficients.

        Parameters
        ----------
        functions : ndarray, shape (functions, terms)

        Returns
        -------
        ndarray, shape (functions, rows)
            nan where the matrix doesn't determine the function.
        """
        found = self.condensed_weights(functions)
        return found if self.cells is None else self.cells.spread(found)

    def condensed_weights(self, functions: np.ndarray) -> np.ndarray:
        """As `weights`, of the condensed rows where there are cells."""
        found = (functions / self.scale) @ self.row_basis.T / self.singular @ self.own.T
        return np.where(self.determines(functions)[:, None], found, np.nan)


def without(values: np.ndarray, basis: np.ndarray, cells: Cells | None = None) -> np.ndarray:
    """Readings less their projection on a basis (of condensed rows where there are cells), shape (..., rows)."""
    if cells is None:
        return np.asarray(values - (values @ basis) @ basis.T)
    return np.asarray(values - cells.spread((cells.condense(values) @ basis) @ basis.T))


def column_space(matrix: np.ndarray, scale: np.ndarray | None = None, cells: Cells | None = None) -> ColumnSpace:
    """Take a matrix apart, its columns scaled; singular values below 1e-9 of the largest count as zero.

    Parameters
    ----------
    matrix : ndarray, shape (rows, terms)
        One row of each cell where there are cells.
    scale : ndarray, shape (terms,), optional
        Sizes of the columns; else their own (`column_sizes`). A matrix of means needs the sizes of what was averaged:
        a drift that cancels in every mean leaves a column of rounding, which its own size would make a real one.
    cells : Cells, optional

    Returns
    -------
    ColumnSpace
    """
    if cells is not None:
        matrix = matrix * cells.root[:, None]
    rows = len(matrix) if cells is None else len(cells.labels)
    scale = column_sizes(matrix, rows) if scale is None else scale
    return _independent(scale, np.linalg.svd(matrix / scale, full_matrices=False), cells)


def column_spaces(matrices: np.ndarray) -> list[ColumnSpace]:
    """Take many matrices apart, each as `column_space` does; shape (matrices, rows, terms)."""
    scale = column_sizes(matrices)
    taken = np.linalg.svd(matrices / scale[:, None, :], full_matrices=False)
    return [_independent(*one) for one in zip(scale, zip(*taken, strict=True), strict=True)]


def _independent(
    scale: np.ndarray, taken: tuple[np.ndarray, np.ndarray, np.ndarray], cells: Cells | None = None
) -> ColumnSpace:
    """What counts of a singular value decomposition."""
    u, s, vt = taken
    keep = int((s > RANK_TOLERANCE * s[:1]).sum())  # in falling order
    return ColumnSpace(u[:, :keep], scale, vt[:keep], s[:keep], cells)


def column_sizes(matrix: np.ndarray, rows: int | None = None) -> np.ndarray:
    """Root mean square of each column, 1 where all are 0; shape (..., terms). `rows`: of how many, else its own."""
    sizes = np.sqrt((matrix**2).sum(axis=-2) / max(rows or matrix.shape[-2], 1))
    return np.where(sizes > 0, sizes, 1.0)
