"""How much of the risk an early look may spend."""

from __future__ import annotations

import numpy as np
from scipy import special

from doe.words.significance import NOTABLE


def cumulative_risk(information: float, risk: float = NOTABLE) -> float:
    """Two-sided risk that may be spent by the time a share of the information is in.

    Parameters
    ----------
    information : float
        Share of the planned information, 0 to 1.
    risk : float
        What may be spent in all.

    Returns
    -------
    float
        2 (1 - Phi(z / sqrt(information))), z = Phi^-1(1 - risk/2): next to nothing early, all of it at 1.

    References
    ----------
    Lan & DeMets (1983), Biometrika 70, 659-663, eq. for alpha_1*, the O'Brien-Fleming-type function.
    """
    if information <= 0:
        return 0.0
    z = -special.ndtri(risk / 2)
    return float(2 * special.ndtr(-z / np.sqrt(min(information, 1.0))))


def increment(information: float, spent: float, risk: float = NOTABLE) -> float:
    """Risk that a look takes: what may be spent by now, less what earlier looks spent.

    Used as the nominal level of the look itself (the levels of all looks add up to `risk`, so no correlation between
    looks is assumed: the usual correlated boundaries gave up to 6 % on so few degrees of freedom).

    Parameters
    ----------
    information : float
    spent : float
        By earlier looks.
    risk : float

    Returns
    -------
    float
        0 or more.
    """
    return max(0.0, cumulative_risk(information, risk) - spent)
