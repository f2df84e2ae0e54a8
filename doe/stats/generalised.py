"""Generalised least squares at known variances, with its information on them: of one design, or of many at once.

V = sum_k theta_k G_k, b = V^-1 X (X'V^-1 X)^- l the weights with which b'y estimates l'beta, and
P = V^-1 - V^-1 X (X'V^-1 X)^- X'V^-1. `of_one` takes a design apart and says what it doesn't determine; `of_many` is
for searches, on matrices of one size. What is fitted to readings, at one design and many variances, lives in the error
contrasts of `mixed_model`, where the inverse of reach' V reach stands for P: its information is the same function.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.stats.fixed_effects import column_space

_RIDGE = 1e-9  # of the pull variance's inverse: a term that can't be told from others gets a variance of 1e9


@dataclass(frozen=True, slots=True)
class Fit:
    """Generalised least squares, for many designs at once (leading axis: designs).

    Attributes
    ----------
    covariance : ndarray, shape (designs, functions, functions)
        Of the coefficients, or of the functions of them that were asked for.
    weights : ndarray, shape (designs, functions, rows)
    parts : ndarray, shape (designs, components, functions)
        b'G_k b of each function's weights b, so that its variance = sum_k theta_k parts_k.
    information : ndarray, shape (designs, components, components)
        tr(P G_k P G_l) / 2.
    projection : ndarray, shape (designs, rows, rows)
        P = V^-1 - V^-1 X (X' V^-1 X)^- X' V^-1.
    """

    covariance: np.ndarray
    weights: np.ndarray
    parts: np.ndarray
    information: np.ndarray
    projection: np.ndarray


def of_one(matrix: np.ndarray, functions: np.ndarray, components: Sequence[np.ndarray], variance: np.ndarray) -> Fit:
    """Fit of one design, on a leading axis of 1.

    Parameters
    ----------
    matrix : ndarray, shape (rows, terms)
        X, of any rank.
    functions : ndarray, shape (functions, terms)
        Of the coefficients.
    components : sequence of ndarray, each of shape (rows, rows)
        G_k; of a diagonal one its diagonal will do, shape (rows,).
    variance : ndarray, shape (components,)
        theta_k, the first one positive.

    Returns
    -------
    Fit
        nan in every number of a function that X doesn't determine.

    References
    ----------
    Aitken (1935), Proc. R. Soc. Edinburgh 55, 42-48: whiten, then ordinary least squares.
    """
    kinds = [g[None] for g in components]
    whiten = np.linalg.inv(np.linalg.cholesky(total_covariance(kinds, variance)[0]))
    space = column_space(whiten @ matrix)
    plain = space.weights(functions)
    weights = (plain @ whiten)[None]
    outside = whiten - space.basis @ (space.basis.T @ whiten)
    p = (outside.T @ outside)[None]
    return Fit((plain @ plain.T)[None], weights, _parts(weights, kinds), expected_information(p, kinds), p)


def of_many(matrix: np.ndarray, components: Sequence[np.ndarray], variance: np.ndarray) -> Fit:
    """Fit of many designs of one size; the functions are the coefficients.

    Parameters
    ----------
    matrix : ndarray, shape (designs, rows, terms)
        X. A term that can't be told from others gets a huge variance (of the order of 1e9 in units of the pull
        variance).
    components : sequence of ndarray, each of shape (designs, rows, rows)
        G_k; of a diagonal one its diagonal will do, shape (designs, rows).
    variance : ndarray, shape (components,)
        theta_k, V = sum_k theta_k G_k.

    Returns
    -------
    Fit

    References
    ----------
    Kenward & Roger (1997), Biometrics 53, 983-997, sec. 2 and 3, with the expected information.
    """
    inverse = _inverse(components, variance)
    lean = inverse @ matrix
    covariance = ridged_inverse(np.swapaxes(matrix, -1, -2) @ lean, _RIDGE / variance[0])
    weights = covariance @ np.swapaxes(lean, -1, -2)
    projection = inverse - lean @ weights
    information = expected_information(projection, components)
    return Fit(covariance, weights, _parts(weights, components), information, projection)


def _inverse(components: Sequence[np.ndarray], variance: np.ndarray) -> np.ndarray:
    """V^-1, shape (designs, rows, rows); of scatter that is independent from row to row without an inversion."""
    first = components[0]
    if variance[1:].any() or first.ndim == 3:
        return np.linalg.inv(total_covariance(components, variance))
    return np.asarray(np.eye(first.shape[1]) / (variance[0] * first)[:, None, :])


def ridged_inverse(normal: np.ndarray, ridge: float = _RIDGE) -> np.ndarray:
    """Inverses of many normal matrices X'X, huge where a term can't be told from others; shape as `normal`."""
    return np.linalg.inv(normal + ridge * np.eye(normal.shape[-1]))


def total_covariance(components: Sequence[np.ndarray], variance: np.ndarray) -> np.ndarray:
    """V = sum_k theta_k G_k, shape (designs, rows, rows); arguments as in `of_many`."""
    full = [theta * g for theta, g in zip(variance, components, strict=True) if g.ndim == 3]
    rows = np.arange(components[0].shape[1])
    v = sum(full[1:], full[0]) if full else np.zeros((*components[0].shape, len(rows)))
    for theta, g in zip(variance, components, strict=True):
        if g.ndim == 2:
            v[:, rows, rows] += theta * g
    return v


def expected_information(p: np.ndarray, components: Sequence[np.ndarray] | np.ndarray) -> np.ndarray:
    """tr(P G_k P G_l) / 2 for every two components.

    Parameters
    ----------
    p : ndarray, shape (designs, rows, rows)
        Symmetric, so that a diagonal component needs no product of matrices.
    components : sequence of ndarray, each of shape (designs or 1, rows, rows)
        Of a diagonal one its diagonal will do, shape (designs or 1, rows). One array of them all, none as its diagonal,
        is taken in one product: the traces of many pairs are inner products of rows of numbers.

    Returns
    -------
    ndarray, shape (designs, components, components)

    References
    ----------
    Searle, Casella & McCulloch (1992), Variance Components, sec. 6.6.
    """
    if isinstance(components, np.ndarray):
        products = p[:, None] @ np.swapaxes(components, 0, 1)  # designs, components, rows, rows
        shape = (len(p), len(components), p[0].size)
        turned = np.swapaxes(products, -1, -2).reshape(shape)
        return np.asarray(0.5 * products.reshape(shape) @ np.swapaxes(turned, -1, -2))
    found = np.empty((len(p), len(components), len(components)))
    via = [p @ g if g.ndim == 3 else None for g in components]
    for k, left in enumerate(components):
        for m, right in enumerate(components[: k + 1]):
            a, b = via[k], via[m]
            if a is not None and b is not None:
                trace = np.einsum("dij,dji->d", a, b)
            elif a is not None:
                trace = (np.einsum("dij,dij->di", a, p) * right).sum(axis=1)
            elif b is not None:
                trace = (np.einsum("dij,dij->di", b, p) * left).sum(axis=1)
            else:
                trace = (((p * p) @ right[..., None])[..., 0] * left).sum(axis=1)
            found[:, k, m] = found[:, m, k] = 0.5 * trace
    return found


def _parts(weights: np.ndarray, components: Sequence[np.ndarray]) -> np.ndarray:
    """b'G_k b, shape (designs, components, functions)."""
    return np.stack([(one * weights).sum(axis=2) for one in reached(weights, components)], axis=1)


def reached(weights: np.ndarray, components: Sequence[np.ndarray]) -> list[np.ndarray]:
    """b'G_k of each component, each of shape (designs, functions, rows)."""
    return [weights @ g if g.ndim == 3 else weights * g[:, None, :] for g in components]
