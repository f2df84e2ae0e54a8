"""What goes with the scatter of the pulls: oil temperature, rest, air. Shown, never corrected for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from doe.analysis.scatter.noise_checks import residuals
from doe.analysis.trials.trial import Trial
from doe.stats.rounding import only_rounding
from doe.stats.student import two_sided_p
from doe.words.significance import NOTABLE

_FEWEST_DF = 3


@dataclass(frozen=True, slots=True)
class Covariate:
    """One covariate beside the scatter of one metric; None where it can't be told, with the reason."""

    name: str
    pulls: int  #: for which it was noted
    df: int = 0  #: of the correlation
    correlation: float | None = None  #: given changes, drift, days and fittings
    p: float | None = None
    holm_p: float | None = None  #: over all covariates that were asked for
    takes_out: float | None = None  #: share of the pull variance that it would take out; 0 where it takes none
    reason: str = ""

    def to_dict(self) -> dict[str, Any]:
        """As in ``doe noise --json``."""
        return {
            "n": self.pulls,
            "correlation": self.correlation,
            "p": self.p,
            "holm_p": self.holm_p,
            "takes_out": self.takes_out,
            "reason": self.reason or None,
        }


def covariates(trial: Trial, values: np.ndarray, columns: Mapping[str, np.ndarray]) -> tuple[Covariate, ...]:
    """Look at covariates one by one.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    columns : mapping of str to ndarray, shape (pulls,)
        NaN where a covariate was not noted: those pulls are left out for it.

    Returns
    -------
    tuple of Covariate
        In the order asked. Partial correlation within the fittings, its p by Student's t; Holm (1979), Scand. J.
        Stat. 6, 65-70, over all of them.
    """
    found = [_one(trial, values, name, column) for name, column in columns.items()]
    return _with_holm(found)


def _one(trial: Trial, values: np.ndarray, name: str, column: np.ndarray) -> Covariate:
    rows = np.flatnonzero(np.isfinite(column))
    if not len(rows):
        return Covariate(name, 0, reason="not noted with any counted pull")
    part = trial.take(rows)
    own, other = (residuals(part, series) for series in (values[rows], column[rows] - column[rows].mean()))
    df = own.df - 1
    if df < _FEWEST_DF:
        return Covariate(name, len(rows), max(df, 0), reason="noted with too few pulls")
    if only_rounding(other.values, column[rows]):
        return Covariate(name, len(rows), df, reason="the same throughout each fitting, or changing like the drift")
    if only_rounding(own.values, values[rows]):
        return Covariate(name, len(rows), df, reason="the pulls do not scatter")
    sizes = np.linalg.norm(own.values) * np.linalg.norm(other.values)
    r = float(np.clip(own.values @ other.values / sizes, -1.0, 1.0))
    left = 1 - r**2
    p = float(two_sided_p(r * np.sqrt(df / left), df)) if left > 0 else 0.0
    return Covariate(name, len(rows), df, r, p, takes_out=max(0.0, 1 - left * (df + 1) / df))


def _with_holm(found: list[Covariate]) -> tuple[Covariate, ...]:
    """Step-down p over the covariates that could be looked at."""
    told = sorted((c.p, i) for i, c in enumerate(found) if c.p is not None)
    reached = 0.0
    for rank, (p, i) in enumerate(told):
        reached = max(reached, min(1.0, (len(told) - rank) * p))
        found[i] = replace(found[i], holm_p=reached)
    return tuple(found)


def by_chance(looked_at: int) -> float:
    """Share of studies of pure chance in which at least one of so many covariates shows a p below 5 %."""
    return float(1 - (1 - NOTABLE) ** looked_at)
