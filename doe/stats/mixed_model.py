"""A linear mixed model taken apart once, so that thousands of outcomes of one design can be fitted at once.

The model is y ~ N(X beta, V), V = sum_k theta_k G_k, component 0 being the pull-to-pull scatter (G_0 = I). Everything
that REML and Kenward-Roger need lives in the space of the error contrasts K'y (K orthonormal, K'X = 0; Harville 1974).
Of that space only the part that a random component reaches (the span of (I - H) F_k, G_k = F_k F_k') needs more than a
residual sum of squares: a basis of it, `reach`, is all that is kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.stats.fixed_effects import RANK_TOLERANCE, Cells, ColumnSpace, without
from doe.stats.generalised import expected_information
from doe.stats.left_out import LeftOut, further


@dataclass(frozen=True, slots=True)
class Decomposition:
    """A design, taken apart once; pulls that are alike in all of it condensed to one reading a cell.

    Attributes
    ----------
    determined : ndarray of bool, shape (functions,)
        Whether X determines the function. What is not is 0 in the arrays below, and nan in whatever is inferred.
    least_squares : ndarray, shape (pulls, functions)
        Column f gives the ordinary-least-squares estimate of function f of the coefficients.
    fitted : ndarray, shape (pulls, rank)
        Orthonormal basis of the column space of X.
    reach : ndarray, shape (pulls, reached)
        Orthonormal basis of the error contrasts that a random component reaches.
    left_over : int
        Dimension of the error contrasts that only the pull scatter reaches.
    inner : ndarray, shape (components, reached, reached)
        reach' G_k reach.
    cross : ndarray, shape (components, reached, functions)
        reach' G_k least_squares.
    outer : ndarray, shape (components, functions, functions)
        least_squares' G_k least_squares.
    cells : Cells or None
        Where there are, "pulls" above are cells.
    """

    determined: np.ndarray
    least_squares: np.ndarray
    fitted: np.ndarray
    reach: np.ndarray
    left_over: int
    inner: np.ndarray
    cross: np.ndarray
    outer: np.ndarray
    cells: Cells | None = None

    @property
    def components(self) -> int:
        """Number of variance components, the pull scatter included."""
        return len(self.inner)

    @property
    def error_df(self) -> int:
        """Pulls minus the rank of X."""
        return self.reach.shape[1] + self.left_over

    def covariance(self, theta: np.ndarray) -> np.ndarray:
        """Covariance of the contrasts, reach' V reach, at each day's variances; shape (days, reached, reached)."""
        return weighted(theta, self.inner)

    def residual(self, values: np.ndarray, left_out: LeftOut | None = None) -> np.ndarray:
        """What X leaves of readings, shape (days, pulls) in and out."""
        left = without(values, self.fitted, self.cells)
        return left if left_out is None else left_out.residual(left, self.fitted)


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Outcomes of one design, reduced to what the fit needs.

    Attributes
    ----------
    least_squares : ndarray, shape (days, functions)
        Ordinary-least-squares estimates.
    reached : ndarray, shape (days, reached)
        reach' y.
    left_over : ndarray, shape (days,)
        Residual sum of squares in the contrasts that no random component reaches.
    left_out : LeftOut or None
        What each day does without.
    """

    least_squares: np.ndarray
    reached: np.ndarray
    left_over: np.ndarray
    left_out: LeftOut | None = None

    @classmethod
    def of_nothing(cls, design: Decomposition, days: int) -> Outcomes:
        """Readings of 0, for what depends on the design and its variances only."""
        functions, reached = design.least_squares.shape[1], design.reach.shape[1]
        return cls(np.zeros((days, functions)), np.zeros((days, reached)), np.zeros(days))

    @property
    def missing(self) -> int:
        """How many pulls each day does without."""
        return 0 if self.left_out is None else self.left_out.rows.shape[1]

    def solved(self, v: np.ndarray) -> tuple[np.ndarray, np.ndarray | float]:
        """P reached, shape (days, reached), and what is to be added to log det V; see `projection`."""
        if self.left_out is None:
            return np.linalg.solve(v, self.reached[..., None])[..., 0], 0.0
        return self.left_out.solved(v, self.reached)

    def on_grid(self, v: np.ndarray) -> tuple[np.ndarray, np.ndarray | float]:
        """At several V alike for all days reached' P reached, shape (grid, days); and as `solved`."""
        if self.left_out is not None:
            return self.left_out.on_grid(v, self.reached)
        return np.einsum("dj,gjd->gd", self.reached, np.linalg.solve(v, self.reached.T[None])), 0.0

    def projection(self, v: np.ndarray) -> tuple[np.ndarray, np.ndarray | float]:
        """P, the inverse of the contrasts' covariance V, and what is to be added to V^-1 reach' V least_squares.

        Of what each day does without, see `LeftOut.projection`.
        """
        inverse = np.linalg.inv(v)
        return (inverse, 0.0) if self.left_out is None else self.left_out.projection(inverse)

    def of_days(self, days: np.ndarray) -> Outcomes:
        """Pick some of the days."""
        left_out = None if self.left_out is None else self.left_out.of_days(days)
        return Outcomes(self.least_squares[days], self.reached[days], self.left_over[days], left_out)


@dataclass(frozen=True, slots=True)
class Studies:
    """What earlier studies say of each component: `variance` on `df` degrees of freedom; df 0 is no study.

    Attributes
    ----------
    variance : ndarray, shape (days or 1, components)
        Squared SD found by the study; 0 where there is none.
    df : ndarray, shape (days or 1, components)
    """

    variance: np.ndarray
    df: np.ndarray

    @classmethod
    def none(cls, components: int) -> Studies:
        """No study of any component."""
        return cls(np.zeros((1, components)), np.zeros((1, components)))


def weighted(theta: np.ndarray, parts: np.ndarray) -> np.ndarray:
    """Sum over k of theta_k parts_k, shape (days, *parts.shape[1:])."""
    return (theta @ parts.reshape(len(parts), parts[0].size)).reshape(len(theta), *parts.shape[1:])


def information(design: Decomposition, inverse: np.ndarray, theta: np.ndarray, studies: Studies) -> np.ndarray:
    """Expected information on the variance components, of day and studies together.

    Parameters
    ----------
    design : Decomposition
    inverse : ndarray, shape (days, reached, reached)
        Inverse of reach' V reach.
    theta : ndarray, shape (days, components)
    studies : Studies

    Returns
    -------
    ndarray, shape (days, components, components)
        I_E[i, j] = tr(P G_i P G_j) / 2, plus nu_k / (2 theta_k^2) on the diagonal.
    """
    found = expected_information(inverse, design.inner[:, None])
    found[:, 0, 0] += 0.5 * design.left_over / theta[:, 0] ** 2
    if studies.df.any():
        k = np.arange(design.components)
        safe = np.where(theta > 0, theta, 1.0)
        found[:, k, k] += 0.5 * studies.df / safe**2
    return found


def decompose(space: ColumnSpace, functions: np.ndarray, factors: Sequence[np.ndarray] = ()) -> Decomposition:
    """Take a design apart.

    Parameters
    ----------
    space : ColumnSpace
        Of X, shape (pulls, terms), which need not have full rank.
    functions : ndarray, shape (functions, terms)
        Of the coefficients; those that X doesn't determine are marked, and never estimated.
    factors : sequence of ndarray, each of shape (pulls or cells, anything)
        F_k with G_k = F_k F_k', one for each component beside the pull scatter; alike within the cells of X.

    Returns
    -------
    Decomposition
    """
    fitted, cells = space.own, space.cells
    n = len(fitted)
    if cells is not None:
        factors = [cells.root[:, None] * (f if len(f) == n else f[cells.first]) for f in factors]
    weights = space.condensed_weights(functions)
    determined = np.isfinite(weights).all(axis=1)
    least_squares = np.where(determined, weights.T, 0.0)
    reach = _span([f - fitted @ (fitted.T @ f) for f in factors], _largest_column(factors), n)
    k, r, c = 1 + len(factors), reach.shape[1], len(functions)
    inner, cross, outer = np.zeros((k, r, r)), np.zeros((k, r, c)), np.empty((k, c, c))
    inner[0], outer[0] = np.eye(r), least_squares.T @ least_squares
    for i, factor in enumerate(factors, start=1):
        projected, seen = reach.T @ factor, least_squares.T @ factor
        if np.linalg.norm(projected) <= RANK_TOLERANCE * np.linalg.norm(factor):
            projected = np.zeros_like(projected)  # X spans it: rounding would pass for information on its variance
        inner[i], cross[i], outer[i] = projected @ projected.T, projected @ seen.T, seen @ seen.T
    return Decomposition(determined, least_squares, fitted, reach, space.left - r, inner, cross, outer, cells)


def _largest_column(factors: Sequence[np.ndarray]) -> float:
    return max((float(np.linalg.norm(f, axis=0).max(initial=0.0)) for f in factors), default=0.0)


def _span(blocks: list[np.ndarray], size: float, n: int) -> np.ndarray:
    """Orthonormal basis of what the blocks span together; with one block it also diagonalises block @ block.T.

    `size` is that of the columns before X was projected out: what is left of one that X spans is rounding.
    """
    if not blocks:
        return np.zeros((n, 0))
    u, s, _ = np.linalg.svd(np.hstack(blocks), full_matrices=False)
    return u[:, s > RANK_TOLERANCE * max(s.max(initial=0.0), size)]


def reduce(design: Decomposition, values: np.ndarray) -> Outcomes:
    """Reduce outcomes to what the fit needs.

    Parameters
    ----------
    design : Decomposition
    values : ndarray, shape (days, pulls)

    Returns
    -------
    Outcomes
    """
    spare = 0.0
    if design.cells is not None:
        condensed = design.cells.condense(values)
        inside = values - design.cells.spread(condensed)
        values, spare = condensed, np.einsum("dn,dn->d", inside, inside)
    # X is projected out before anything is squared: y'y - ... would lose the digits that matter at y = 400, SD 0.5.
    residual = values - (values @ design.fitted) @ design.fitted.T
    reached = residual @ design.reach
    rest = residual - reached @ design.reach.T if design.reach.size else residual
    return Outcomes(values @ design.least_squares, reached, np.einsum("dn,dn->d", rest, rest) + spare)


def leave_out(
    design: Decomposition, outcomes: Outcomes, values: np.ndarray, rows: np.ndarray
) -> tuple[Decomposition, Outcomes]:
    """Let each day do without some pulls of its own.

    Parameters
    ----------
    design : Decomposition
        Without cells.
    outcomes : Outcomes
        Of `values`.
    values : ndarray, shape (days, pulls)
        What stands at the pulls that are left out moves nothing.
    rows : ndarray of int, shape (days, left out)
        Fewer than the error contrasts, and such that the other pulls determine as much as all.

    Returns
    -------
    tuple of Decomposition and Outcomes
        Among the contrasts that are reached are those now that these pulls reach, on each day in directions of its
        own: `reach` can't show them, and is nan there.
    """
    assert design.cells is None
    more = min(rows.shape[1], design.left_over)
    columns, reached, rest = np.swapaxes(design.reach[rows], 1, 2), outcomes.reached, outcomes.left_over
    if more:
        basis = np.hstack([design.fitted, design.reach])
        further_columns, seen, rest = further(basis, values, rows, design.left_over)
        columns, reached = np.hstack([columns, further_columns]), np.hstack([reached, seen])
    left_out = LeftOut(rows, columns, design.least_squares[rows])
    return _widened(design, more), Outcomes(outcomes.least_squares, reached, rest, left_out)


def _widened(design: Decomposition, more: int) -> Decomposition:
    """The same with further contrasts counted as reached, which only the pull scatter reaches."""
    k, r, c = design.cross.shape
    inner, cross = np.zeros((k, r + more, r + more)), np.zeros((k, r + more, c))
    inner[:, :r, :r], cross[:, :r] = design.inner, design.cross
    inner[0] = np.eye(r + more)
    reach = np.hstack([design.reach, np.full((len(design.reach), more), np.nan)])
    return replace(design, reach=reach, left_over=design.left_over - more, inner=inner, cross=cross)


def indicator(labels: np.ndarray) -> np.ndarray:
    """Indicator matrix of a grouping, shape (pulls, groups)."""
    return (np.asarray(labels)[:, None] == np.unique(labels)[None, :]).astype(float)


def first_alike(groupings: Iterable[np.ndarray]) -> list[int]:
    """For each grouping of the pulls, shape (pulls,), the place of the first one that groups them alike."""
    seen: dict[bytes, int] = {}
    found = []
    for place, labels in enumerate(groupings):
        _, first, same = np.unique(labels, return_index=True, return_inverse=True)
        found.append(seen.setdefault(first[same].tobytes(), place))
    return found
