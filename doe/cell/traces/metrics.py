"""Numbers taken from a sweep: means over a window, values at an rpm, peaks. Each is a value or a reason for none.

All take rpm (rising) and a load of shape (samples,), torque or power in any unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from doe.cell.traces.wanted import PEAK_PERCENT

Array = npt.NDArray[np.float64]

PEAK_RPM_KNOWN_TO = 50.0  #: the rpm of a peak is known no better
_AT_WIDTH = 200.0  # rpm of a local line
_GRID = 10.0  # rpm between the places where a peak is looked for
_FEWEST = 5  # samples under a local quadratic
_LARGEST_GAP = 0.25  # of a window: more without a sample is not covered


@dataclass(frozen=True, slots=True)
class Value:
    """A number from a sweep, or why there is none."""

    value: float | None = None
    at_rpm: float | None = None
    reason: str | None = None
    doubt: str | None = None  #: why the number should be taken with care


def window_mean(rpm: Array, load: Array, low: float, high: float) -> Value:
    """Mean over a window: trapezoid in rpm, the ends interpolated. The window is never shortened.

    Parameters
    ----------
    low, high : float
        The window [rpm].
    """
    if rpm[0] > low or rpm[-1] < high:
        return Value(
            reason=f"the sweep covers {rpm[0]:,.0f} to {rpm[-1]:,.0f} rpm, not the window of {low:,.0f} to {high:,.0f}"
        )
    inside = rpm[(rpm > low) & (rpm < high)]
    at = np.concatenate([[low], inside, [high]])
    # Between the samples beside it: a window that begins inside a gap is as empty as one that holds it.
    near = np.concatenate([rpm[rpm <= low][-1:], inside, rpm[rpm >= high][:1]])
    gap = float(np.max(np.diff(near)))
    if gap > _LARGEST_GAP * (high - low):
        return Value(reason=f"{gap:,.0f} rpm of the window of {low:,.0f} to {high:,.0f} have no sample")
    values = np.interp(at, rpm, load)
    return Value(float(np.sum((values[1:] + values[:-1]) / 2 * np.diff(at)) / (high - low)))


def weighted_mean(rpm: Array, load: Array, weights: Sequence[tuple[float, float, float]]) -> Value:
    """Sum of time x mean over each bin of rpm, by the sum of time.

    Parameters
    ----------
    weights : sequence of (low, high, time)
        Bins [rpm] and the time spent in each, in any unit.
    """
    parts = [(window_mean(rpm, load, low, high), time) for low, high, time in weights]
    missing = next((part.reason for part, _ in parts if part.value is None), None)
    if missing is not None:
        return Value(reason=missing)
    return Value(sum((part.value or 0.0) * time for part, time in parts) / sum(time for _, time in parts))


def value_at(rpm: Array, load: Array, at: float) -> Value:
    """The load at an rpm: a line through the samples within 100 rpm and the nearest on either side."""
    if not rpm[0] <= at <= rpm[-1]:
        return Value(reason=f"the sweep covers {rpm[0]:,.0f} to {rpm[-1]:,.0f} rpm, not {at:,.0f}")
    left, right = int(np.searchsorted(rpm, at, "right")) - 1, int(np.searchsorted(rpm, at, "left"))
    if rpm[right] - rpm[left] > _LARGEST_GAP * (rpm[-1] - rpm[0]):
        return Value(reason=f"no sample from {rpm[left]:,.0f} to {rpm[right]:,.0f} rpm")
    near = np.abs(rpm - at) <= _AT_WIDTH / 2
    near[[left, right]] = True
    x, y = rpm[near] - at, load[near]
    if len(x) == 1:
        return Value(float(y[0]), at)
    slope = np.sum((x - x.mean()) * (y - y.mean())) / np.sum((x - x.mean()) ** 2)
    return Value(float(y.mean() - slope * x.mean()), at)


def peak(rpm: Array, load: Array, percent: float = PEAK_PERCENT) -> Value:
    """The maximum of a local quadratic; the raw maximum reads 0.9 to 3 % high.

    Parameters
    ----------
    percent : float
        Width of the neighbourhood, of the swept range. Never to be changed within a comparison.

    References
    ----------
    Fan & Gijbels (1996), Local Polynomial Modelling and Its Applications, ch. 2 (uniform kernel, degree 2).
    """
    grid, fit = local_quadratic(rpm, load, percent)
    if not np.isfinite(fit).any():
        half = percent / 200 * (rpm[-1] - rpm[0])
        return Value(reason=f"fewer than {_FEWEST} samples within {2 * half:,.0f} rpm: too coarse for a peak")
    best = int(np.nanargmax(fit))
    at = float(grid[best])
    edge = min(at - rpm[0], rpm[-1] - at) < PEAK_RPM_KNOWN_TO
    return Value(float(fit[best]), at, doubt="at the edge of the sweep" if edge else None)


def local_quadratic(rpm: Array, load: Array, percent: float = PEAK_PERCENT) -> tuple[Array, Array]:
    """A quadratic through each neighbourhood, evaluated at its middle.

    Returns
    -------
    tuple of ndarray, shape (places,)
        The places [rpm] and the fit there; NaN where too few samples lie near.
    """
    low, high = rpm[0], rpm[-1]
    inner = np.arange(np.ceil(low / _GRID) * _GRID, high, _GRID)
    grid = np.unique(np.concatenate([[low], inner, [high]]))
    half = percent / 200 * (high - low)
    first, past = np.searchsorted(rpm, grid - half, "left"), np.searchsorted(rpm, grid + half, "right")
    centre, scale = (low + high) / 2, (high - low) / 2
    x, level = (rpm - centre) / scale, load.mean()
    at, y = (grid - centre) / scale, load - level
    square = x * x
    powers = [_between(term, first, past) for term in (np.ones_like(x), x, square, square * x, square * square)]
    loads = [_between(term, first, past) for term in (y, y * x, y * square)]
    s0, s1, s2, s3, s4 = _about(powers, at)
    r0, r1, r2 = _about(loads, at)
    # Cramer's rule for the constant term of y = a + b x + c x^2, x from the place.
    determinant = s0 * (s2 * s4 - s3 * s3) - s1 * (s1 * s4 - s2 * s3) + s2 * (s1 * s3 - s2 * s2)
    numerator = r0 * (s2 * s4 - s3 * s3) - s1 * (r1 * s4 - r2 * s3) + s2 * (r1 * s3 - r2 * s2)
    enough = (past - first >= _FEWEST) & (determinant > 0)
    fit = np.where(enough, numerator / np.where(enough, determinant, 1.0), np.nan)
    return grid, fit + level


def _between(values: Array, first: npt.NDArray[np.intp], past: npt.NDArray[np.intp]) -> Array:
    """Sums over each neighbourhood."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray(total[past] - total[first])


def _about(moments: Sequence[Array], at: Array) -> list[Array]:
    """Moments about the places, from moments about zero (binomial theorem)."""
    binomial = ((1,), (1, 1), (1, 2, 1), (1, 3, 3, 1), (1, 4, 6, 4, 1))
    return [
        np.asarray(sum(binomial[k][j] * (-at) ** (k - j) * moments[j] for j in range(k + 1)))
        for k in range(len(moments))
    ]
