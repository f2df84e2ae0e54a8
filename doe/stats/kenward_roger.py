"""Small-sample inference for contrasts of a mixed model: Kenward & Roger's covariance and degrees of freedom.

Written in the error contrasts of `mixed_model`: with b = V^-1 X Phi l (the weights with which b'y estimates a
contrast) and P = V^-1 - V^-1 X Phi X' V^-1,
l'Phi P_i Phi l = -b'G_i b and l'Phi (Q_ij - P_i Phi P_j) Phi l = b'G_i P G_j b.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.stats.fixed_effects import RANK_TOLERANCE, ROW_TOLERANCE
from doe.stats.generalised import Fit, reached
from doe.stats.mixed_model import Decomposition, Outcomes, Studies, information, weighted


@dataclass(frozen=True, slots=True)
class Inference:
    """Estimates and everything that a contrast of them needs, for many days at once.

    What the design doesn't determine is nan, in every array: of a function that X doesn't determine all numbers, of a
    contrast whose variance rests on a component that neither day nor study knows its standard error and df.

    Attributes
    ----------
    estimate : ndarray, shape (days, functions)
        Generalised least squares at the given variances.
    covariance : ndarray, shape (days, functions, functions)
        Phi, the covariance as if the variances were known.
    adjusted : ndarray, shape (days, functions, functions)
        Kenward & Roger's covariance, which allows for their being estimated.
    parts : ndarray, shape (days or 1, components, functions, functions)
        b'G_k b, so that covariance = sum_k theta_k parts_k.
    variance_covariance : ndarray, shape (days, components, components)
        W, asymptotic covariance of the variance components, on the combinations of them that are known.
    unknown : ndarray, shape (days, components, components)
        Takes what a contrast's variance is made of, b'G_k b over k, to what is not known of it.
    determined : ndarray of bool, shape (functions,)
    """

    estimate: np.ndarray
    covariance: np.ndarray
    adjusted: np.ndarray
    parts: np.ndarray
    variance_covariance: np.ndarray
    unknown: np.ndarray
    determined: np.ndarray

    def contrast(self, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Standard errors and degrees of freedom of contrasts of the functions.

        Parameters
        ----------
        weights : ndarray, shape (contrasts, functions) or (days, contrasts, functions)

        Returns
        -------
        se : ndarray, shape (days, contrasts)
            From the adjusted covariance; nan where the contrast or its variance isn't determined.
        df : ndarray, shape (days, contrasts)
            2 (l'Phi l)^2 / (g'Wg): what Kenward & Roger's df come to for one contrast.

        References
        ----------
        Kenward & Roger (1997), Biometrics 53, 983-997, eqs. 1 to 8 and sec. 3.
        """
        weights = weights if weights.ndim == 3 else weights[None]
        phi, variance = (((weights @ self._told(m)) * weights).sum(axis=-1) for m in (self.covariance, self.adjusted))
        g = ((weights[:, None] @ self._told(self.parts)) * weights[:, None]).sum(axis=-1)  # days, parts, contrasts
        df = df_of_variance(phi, np.swapaxes(g, 1, 2), self.variance_covariance)
        missing = self._untold(weights) | self._unknown_variance(g)
        se = np.sqrt(np.maximum(variance, 0.0))
        return np.where(missing, np.nan, se), np.where(missing, np.nan, df)

    def correlation(self, weights: np.ndarray) -> np.ndarray:
        """Correlation of contrasts of the functions, shape (days, contrasts, contrasts); see `contrast`."""
        weights = weights if weights.ndim == 3 else weights[None]
        full = weights @ self._told(self.adjusted) @ np.swapaxes(weights, -1, -2)
        se = np.sqrt(np.maximum(np.diagonal(full, axis1=1, axis2=2), 0.0))
        se = np.where(self._untold(weights), np.nan, se)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(full / (se[:, :, None] * se[:, None, :]))

    def spread(self, component: int) -> np.ndarray:
        """Variance of one variance component, infinite where neither day nor study knows it; shape (days,)."""
        lost = np.linalg.norm(self.unknown[:, :, component], axis=1) > ROW_TOLERANCE
        return np.where(lost, np.inf, self.variance_covariance[:, component, component])

    def _told(self, covariance: np.ndarray) -> np.ndarray:
        """A covariance of the functions with 0 for nan: what has no weight must not spoil a contrast."""
        return covariance if self.determined.all() else np.nan_to_num(covariance, nan=0.0)

    def _untold(self, weights: np.ndarray) -> np.ndarray:
        """Where a contrast weighs a function that isn't determined, shape (days or 1, contrasts)."""
        return np.asarray(((weights != 0) & ~self.determined).any(axis=-1))

    def _unknown_variance(self, g: np.ndarray) -> np.ndarray:
        """Where a variance rests on what neither day nor study knows, shape (days, contrasts)."""
        lost = np.linalg.norm(self.unknown @ g, axis=1)
        return np.asarray(lost > ROW_TOLERANCE * np.abs(g).sum(axis=1))


def df_of_variance(variance: np.ndarray, parts: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    """Degrees of freedom of estimated variances: 2 var^2 / (g'Wg).

    Parameters
    ----------
    variance : ndarray, shape (..., contrasts)
        Of each contrast.
    parts : ndarray, shape (..., contrasts, components)
        g: its derivatives by the variance components.
    covariance : ndarray, shape (..., components, components)
        W: of the estimated components.

    Returns
    -------
    ndarray, shape (..., contrasts)
        Infinite where nothing of the variance is estimated.

    References
    ----------
    Satterthwaite (1946), Biometrics Bulletin 2, 110-114; Kenward & Roger (1997), Biometrics 53, 983-997: what their df
    come to for one contrast.
    """
    spread = ((parts @ covariance) * parts).sum(axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(spread > 0, 2.0 * variance**2 / spread, np.inf))


def infer(design: Decomposition, outcomes: Outcomes, theta: np.ndarray, studies: Studies | None = None) -> Inference:
    """Estimates, Kenward & Roger's covariance and what the df need, at given variances.

    With a noise study the information of study and day is added: W = (I_E + diag(nu_k / (2 theta_k^2)))^-1. A component
    at zero without a study is plugged in as zero and stays in W.

    Parameters
    ----------
    design : Decomposition
    outcomes : Outcomes
    theta : ndarray, shape (days, components)
    studies : Studies, optional

    Returns
    -------
    Inference

    References
    ----------
    Kenward & Roger (1997), Biometrics 53, 983-997; Halekoh & Hojsgaard (2014), J. Stat. Softw. 59(9).
    """
    studies = studies or Studies.none(design.components)
    if design.components == 1 and outcomes.left_out is None:
        return _least_squares(design, outcomes, theta, studies)
    inverse, off = outcomes.projection(design.covariance(theta))
    lean = inverse @ weighted(theta, design.cross) + off
    turned = np.swapaxes(lean, 1, 2)[:, None]
    estimate = outcomes.least_squares - (outcomes.reached[:, None] @ lean)[:, 0]
    inner_lean = design.inner @ lean[:, None]
    seen = design.cross - inner_lean  # reach' G_k b
    both = np.swapaxes(design.cross, 1, 2) @ lean[:, None]
    parts = design.outer - both - np.swapaxes(both, -1, -2) + turned @ inner_lean
    covariance = (theta[:, :, None, None] * parts).sum(axis=1)
    w, unknown = known_part(information(design, inverse, theta, studies))
    half = inverse[:, None] @ seen
    # sum over k, l of w_kl seen_k' V^-1 seen_l
    correction = (np.swapaxes(seen, 2, 3) @ _mixed(w, half)).sum(axis=1)
    return _inference(design, estimate, covariance, covariance + 2.0 * correction, parts, w, unknown)


def of_fit(
    fit: Fit, components: Sequence[np.ndarray], information: np.ndarray, functions: slice
) -> tuple[np.ndarray, np.ndarray]:
    """Standard errors and degrees of freedom of some functions of many designs, as their variances are expected.

    Parameters
    ----------
    fit : Fit
    components : sequence of ndarray
        G_k, as the fit had them.
    information : ndarray, shape (designs, components, components)
        Of day and studies together.
    functions : slice
        Of those of the fit.

    Returns
    -------
    se, df : ndarray, shape (designs, functions)
        nan where a variance rests on a component of which nothing is known.
    """
    w, unknown = known_part(information)
    via = np.stack(reached(fit.weights[:, functions], components), axis=1)  # designs, components, functions, rows
    slack = np.einsum("dkfr,dlfr->dklf", via @ fit.projection[:, None], via)
    g = fit.parts[:, :, functions]
    phi = np.einsum("dff->df", fit.covariance)[:, functions]
    variance = phi + 2.0 * np.einsum("dkl,dklf->df", w, slack)
    df = df_of_variance(phi, np.swapaxes(g, 1, 2), w)
    lost = np.linalg.norm(unknown @ g, axis=1) > ROW_TOLERANCE * np.abs(g).sum(axis=1)
    return np.where(lost, np.nan, np.sqrt(np.maximum(variance, 0.0))), np.where(lost, np.nan, df)


def known_part(information: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Inverse of the information on what it reaches, and the projection on what it doesn't, both (days, k, k).

    Scaled to a diagonal of ones first: the components' sizes don't decide what counts as known.
    """
    own = np.einsum("dkk->dk", information)
    size = np.sqrt(np.where(own > 0, own, np.where(own[:, :1] > 0, own[:, :1], 1.0)))
    values, vectors = np.linalg.eigh(information / (size[:, :, None] * size[:, None, :]))
    kept = values > RANK_TOLERANCE * np.maximum(values[:, -1:], 0.0)
    inverse = np.divide(1.0, values, out=np.zeros_like(values), where=kept)
    found, lost = ((vectors * part[:, None]) @ np.swapaxes(vectors, 1, 2) for part in (inverse, (~kept).astype(float)))
    return found / (size[:, :, None] * size[:, None, :]), size[:, :, None] * lost / size[:, None, :]


def _inference(
    design: Decomposition,
    estimate: np.ndarray,
    covariance: np.ndarray,
    adjusted: np.ndarray,
    parts: np.ndarray,
    w: np.ndarray,
    unknown: np.ndarray,
) -> Inference:
    """The one place where contrasts are formed: nan in every number of what X doesn't determine."""
    told = design.determined
    if told.all():
        return Inference(estimate, covariance, adjusted, parts, w, unknown, told)
    both = told[:, None] & told
    covariance, adjusted, parts = (np.where(both, matrix, np.nan) for matrix in (covariance, adjusted, parts))
    return Inference(np.where(told, estimate, np.nan), covariance, adjusted, parts, w, unknown, told)


def _mixed(w: np.ndarray, half: np.ndarray) -> np.ndarray:
    """Sum over l of w_kl half_l, shape (days, components, reached, functions)."""
    flat = half.reshape(*half.shape[:2], half.shape[2] * half.shape[3])
    return (w @ flat).reshape(half.shape)


def _least_squares(design: Decomposition, outcomes: Outcomes, theta: np.ndarray, studies: Studies) -> Inference:
    """One variance only: Kenward & Roger's covariance is the plain one, their df those of the variance."""
    covariance = theta[:, 0, None, None] * design.outer[0]
    w = 2.0 * theta[:, 0] ** 2 / (design.error_df + studies.df[:, 0])
    known = np.zeros((1, 1, 1))
    estimate = outcomes.least_squares
    return _inference(design, estimate, covariance, covariance, design.outer[None], w[:, None, None], known)
