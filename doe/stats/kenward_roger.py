"""Small-sample inference for contrasts of a mixed model: Kenward & Roger's covariance and degrees of freedom.

Written in the error contrasts of `mixed_model`: with b = V^-1 X Phi l (the weights with which b'y estimates a
contrast) and P = V^-1 - V^-1 X Phi X' V^-1,
l'Phi P_i Phi l = -b'G_i b and l'Phi (Q_ij - P_i Phi P_j) Phi l = b'G_i P G_j b.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.stats.mixed_model import Decomposition, Outcomes, Studies


@dataclass(frozen=True, slots=True)
class Inference:
    """Estimates and everything that a contrast of them needs, for many days at once.

    Attributes
    ----------
    estimate : ndarray, shape (days, functions)
        Generalised least squares at the given variances.
    covariance : ndarray, shape (days, functions, functions)
        Phi, the covariance as if the variances were known.
    adjusted : ndarray, shape (days, functions, functions)
        Kenward & Roger's covariance, which allows for their being estimated.
    parts : ndarray, shape (days, components, functions, functions)
        b'G_k b, so that covariance = sum_k theta_k parts_k.
    variance_covariance : ndarray, shape (days, components, components)
        W, asymptotic covariance of the variance components.
    """

    estimate: np.ndarray
    covariance: np.ndarray
    adjusted: np.ndarray
    parts: np.ndarray
    variance_covariance: np.ndarray

    def contrast(self, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Standard errors and degrees of freedom of contrasts of the functions.

        Parameters
        ----------
        weights : ndarray, shape (contrasts, functions) or (days, contrasts, functions)

        Returns
        -------
        se : ndarray, shape (days, contrasts)
            From the adjusted covariance.
        df : ndarray, shape (days, contrasts)
            2 (l'Phi l)^2 / (g'Wg): what Kenward & Roger's df come to for one contrast.
        correlation : ndarray, shape (days, contrasts, contrasts)

        References
        ----------
        Kenward & Roger (1997), Biometrics 53, 983-997, eqs. 1 to 8 and sec. 3.
        """
        shape = (len(self.estimate), *weights.shape[-2:])
        weights = np.broadcast_to(weights, shape)
        phi = np.einsum("dcf,dfg,dcg->dc", weights, self.covariance, weights)
        full = np.einsum("dcf,dfg,deg->dce", weights, self.adjusted, weights)
        g = np.einsum("dcf,dkfg,dcg->dck", weights, self.parts, weights)
        spread = np.einsum("dck,dkl,dcl->dc", g, self.variance_covariance, g)
        se = np.sqrt(np.maximum(np.einsum("dcc->dc", full), 0.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            df = np.where(spread > 0, 2.0 * phi**2 / spread, np.inf)
            correlation = full / (se[:, :, None] * se[:, None, :])
        return se, df, correlation


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
    inverse = np.linalg.inv(np.einsum("dk,kij->dij", theta, design.inner))
    lean = np.einsum("dij,djf->dif", inverse, np.einsum("dk,kjf->djf", theta, design.cross))
    estimate = outcomes.least_squares - np.einsum("dif,di->df", lean, outcomes.reached)
    inner_lean = np.einsum("kij,djf->dkif", design.inner, lean)
    seen = design.cross - inner_lean  # reach' G_k b
    both = np.einsum("kif,dig->dkfg", design.cross, lean)
    parts = design.outer - both - np.swapaxes(both, -1, -2) + np.einsum("dif,dkig->dkfg", lean, inner_lean)
    covariance = np.einsum("dk,dkfg->dfg", theta, parts)
    w = np.linalg.pinv(information(design, inverse, theta, studies), rcond=1e-12, hermitian=True)
    half = np.einsum("dij,dkjf->dkif", inverse, seen)
    correction = np.einsum("dkl,dkif,dlig->dfg", w, seen, half)
    return Inference(estimate, covariance, covariance + 2.0 * correction, parts, w)


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
    via = np.einsum("dij,kjl->dkil", inverse, design.inner)
    found = 0.5 * np.einsum("dkij,dlji->dkl", via, via)
    found[:, 0, 0] += 0.5 * design.left_over / theta[:, 0] ** 2
    k = np.arange(design.components)
    safe = np.where(theta > 0, theta, 1.0)
    found[:, k, k] += 0.5 * studies.df / safe**2
    return found
