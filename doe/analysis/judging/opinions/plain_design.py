"""A trial as other software takes it: independent columns with names, and columns of labels for what is random."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.fits import random_days
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.fixed_effects import RANK_TOLERANCE


@dataclass(frozen=True)
class PlainDesign:
    """Fixed effects of full rank, and groupings.

    Attributes
    ----------
    names : tuple of str
        Of the columns: "baseline" (ones), "change1" ..., "hours", "hours2", "day2" ..., "block2" ...
    matrix : ndarray, shape (pulls, columns)
    gains : tuple of (int or None), one per change
        Its column; None where the pulls don't determine the gain.
    level : ndarray, shape (columns,)
        Picks the baseline at the mean of everything else.
    groups : dict of str to ndarray, shape (pulls,)
        Labels of what is random, by part; "day" for the days.
    blocks : bool
        Fittings stand as fixed columns.
    """

    names: tuple[str, ...]
    matrix: np.ndarray
    gains: tuple[int | None, ...]
    level: np.ndarray
    groups: dict[str, np.ndarray]
    blocks: bool

    def contrast(self, change: int, percent_of: tuple[float, float] | None = None) -> np.ndarray | None:
        """Weights of the coefficients that give a gain; in percent the delta method's, at this gain and baseline."""
        column = self.gains[change]
        if column is None:
            return None
        picked = np.eye(len(self.names))[column]
        if percent_of is None:
            return np.asarray(picked)
        gain, baseline = percent_of
        return np.asarray(100.0 / baseline * (picked - gain / baseline * self.level))


def plain_design(trial: Trial, known: KnownNoise, method: str) -> PlainDesign:
    """Write a trial as other software takes it.

    Parameters
    ----------
    trial : Trial
    known : KnownNoise
        Only whether there is a study of the refit scatter: other software has no place for it.
    method : {"auto", "kenward-roger", "install-means"}

    Returns
    -------
    PlainDesign
    """
    fixed = trial.fixed(random_days=random_days(trial, method))
    changes = len(trial.factors)
    names = ["baseline", *(f"change{i + 1}" for i in range(changes))]
    names += [f"hours{power if power > 1 else ''}" for power in range(1, fixed.degree + 1)]
    names += [f"day{i + 2}" for i in range(fixed.matrix.shape[1] - len(names))]
    matrix, determined = fixed.matrix, trial.determined
    blocks = method == "auto" and r.fittings_as_blocks(trial) and not r.has_install_study(trial, known)
    install = trial.install_factor()
    if blocks and install is not None:
        matrix = np.hstack([matrix, install])
        names += [f"block{i + 1}" for i in range(install.shape[1])]
        determined = trial.determined_within
    kept = _independent(matrix)
    place = {column: at for at, column in enumerate(kept)}
    level = matrix[:, kept].mean(axis=0)
    told = [place.get(i + 1) if determined[i] else None for i in range(changes)]
    level[[at for at in told if at is not None]] = 0.0
    return PlainDesign(
        tuple(names[i] for i in kept),
        matrix[:, kept],
        tuple(told),
        level,
        _groups(trial, known, method, blocks),
        blocks,
    )


def _groups(trial: Trial, known: KnownNoise, method: str, blocks: bool) -> dict[str, np.ndarray]:
    """Labels of what is random there."""
    found: dict[str, np.ndarray] = {}
    if random_days(trial, method):
        found["day"] = trial.day
    if blocks or method == r.INSTALL_MEANS or not trial.fittings:
        return found
    apart = list(trial.fittings_apart)
    if method == r.KENWARD_ROGER and len(apart) < 2:
        return found | ({"install": trial.install} if len(np.unique(trial.install)) < trial.pulls else {})
    if method == r.KENWARD_ROGER or r.sees_installs(trial, KnownNoise()):
        found |= {name: trial.fittings[name] for name in apart}
    return found


def _independent(matrix: np.ndarray) -> list[int]:
    """Columns that are not made up of those before them."""
    scaled = matrix / np.maximum(np.abs(matrix).max(axis=0), 1e-300)
    kept: list[int] = []
    basis = np.zeros((len(matrix), 0))
    for column in range(matrix.shape[1]):
        rest = scaled[:, column] - basis @ (basis.T @ scaled[:, column])
        rest = rest - basis @ (basis.T @ rest)
        size = np.linalg.norm(rest)
        if size > RANK_TOLERANCE * np.sqrt(len(matrix)):
            kept.append(column)
            basis = np.column_stack([basis, rest / size])
    return kept
