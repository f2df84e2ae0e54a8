"""Sweeps at common bins of rpm: the mean of each pull's curve over each bin that all of them cover."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

BIN_RPM = 100.0  #: from one bin's middle to the next
FEWEST_BINS = 3
# Rpm that a mean is taken over: wider than the step, since scatter from sample to sample would tear the zones apart;
# and no more than a twelfth of the range, so that a short one is not all ends.
_WIDEST, _NARROWEST, _SHARE = 300.0, BIN_RPM, 1 / 12
_LARGEST_GAP = 200.0  # rpm without a sample: more is not covered
_SHORT = 0.9  # of the middle pull's range: a sweep that covers less holds the others back


@dataclass(frozen=True, slots=True)
class Binned:
    """The curves of several pulls.

    Attributes
    ----------
    rpm : ndarray, shape (bins,)
        Middles of the bins, rising; where a gap was left out the step is wider.
    width : float
        Rpm that each mean is taken over; more than the step, so that neighbours share samples.
    curves : ndarray, shape (pulls, bins)
    short : tuple of int
        Places of the pulls that cover notably less than the others, and hold them back.
    """

    rpm: np.ndarray
    width: float
    curves: np.ndarray
    short: tuple[int, ...]


def binned(sweeps: Sequence[tuple[np.ndarray, np.ndarray]]) -> Binned:
    """Take the means over the bins that every sweep covers.

    Parameters
    ----------
    sweeps : sequence of (ndarray, ndarray)
        Rising rpm and the load there, one pair a pull.

    Returns
    -------
    Binned
    """
    low = np.array([rpm[0] for rpm, _ in sweeps])
    high = np.array([rpm[-1] for rpm, _ in sweeps])
    width = float(np.clip(_SHARE * (high.min() - low.max()), _NARROWEST, _WIDEST))
    first = np.ceil((low.max() + width / 2) / BIN_RPM)
    last = np.floor((high.min() - width / 2) / BIN_RPM)
    middles = BIN_RPM * np.arange(first, last + 1)
    rows = np.array([_means(rpm, load, middles, width) for rpm, load in sweeps]).reshape(len(sweeps), len(middles))
    covered = np.isfinite(rows).all(axis=0)
    spans = high - low
    short = np.flatnonzero(spans < _SHORT * np.median(spans))
    return Binned(middles[covered], width, rows[:, covered], tuple(short.tolist()))


def _means(rpm: np.ndarray, load: np.ndarray, middles: np.ndarray, width: float) -> np.ndarray:
    """Mean of a piecewise linear curve over each bin; nan in a gap, shape (bins,)."""
    area = np.concatenate([[0.0], np.cumsum(np.diff(rpm) * (load[1:] + load[:-1]) / 2)])
    begin, end = middles - width / 2, middles + width / 2
    ends = np.concatenate([begin, end])
    at = np.clip(np.searchsorted(rpm, ends, "right") - 1, 0, len(rpm) - 2)
    inside = ends - rpm[at]
    slope = (load[at + 1] - load[at]) / (rpm[at + 1] - rpm[at])
    below = area[at] + inside * (load[at] + slope * inside / 2)
    hollow = np.zeros(len(middles), bool)
    for start in np.flatnonzero(np.diff(rpm) > _LARGEST_GAP):
        hollow |= (end > rpm[start]) & (begin < rpm[start + 1])
    return np.where(hollow, np.nan, (below[len(middles) :] - below[: len(middles)]) / width)
