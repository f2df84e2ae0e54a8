"""Which samples of a trace belong to the pull: the rising sweep at full throttle, without spikes.

All functions take arrays of shape (samples,) in the order of time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

_WINDOW = 7
# Exchanges that bring the median of 3 or 7 values into the middle, on whole arrays at once.
_EXCHANGES = {
    3: ((0, 1), (1, 2), (0, 1)),
    7: (
        (0, 5), (0, 3), (1, 6), (2, 4), (0, 1), (3, 5), (2, 6), (2, 3), (3, 6), (4, 5), (1, 4), (1, 3), (3, 4),
    ),
}  # fmt: skip
_PAIRS = {width: np.triu_indices(width, 1) for width in _EXCHANGES}
_MADS = 6.0
_NORMAL = 1.4826  # MAD to SD of a normal distribution
_FLOOR = 0.001  # share of the median: a trace printed in whole N m has a MAD of 0
_SPARSE_FLOOR = 0.01
_SPARSE = 0.10  # share of the swept range that seven samples may span
_HIGH = 0.8  # of the file's whole range: a pull ends above it
_FALL = 0.15  # of the whole range: the engine ran down, and a pull rises by more
_BLIP = 4  # times as quick as the other rise
_EDGE = 0.1
_JUMP = 0.25  # of the range, from one sample to the next: nothing was recorded between two pulls
_HOLD = 0.02  # share of the range around the starting rpm in which an engine that is held wanders
_THROTTLE = 0.8  # below this share of what follows within 1.5 % of the sweep, the throttle was not open
_THROTTLE_SPAN = 0.015


def running_median(values: Array, width: int = _WINDOW) -> Array:
    """Median of a window around each sample; the ends are continued by a robust straight line.

    Parameters
    ----------
    width : {3, 7}
        Samples in the window; `values` has at least as many.

    References
    ----------
    Tukey (1977), Exploratory Data Analysis, ch. 7 (running medians); the exchanges: Devillard (1998), Fast median
    search (from memory; a test compares them with a sort).
    """
    half = width // 2
    padded = np.concatenate([_continued(values[:width], half)[::-1], values, _continued(values[::-1][:width], half)])
    # The line runs outwards from each end, so that the one before the first sample is turned round.
    shifted = [padded[at : at + len(values)] for at in range(width)]
    for low, high in _EXCHANGES[width]:
        shifted[low], shifted[high] = (
            np.minimum(shifted[low], shifted[high]),
            np.maximum(shifted[low], shifted[high]),
        )
    return shifted[half]


def _continued(inward: Array, count: int) -> Array:
    """Values that a line through the end would take, the nearest first; `inward` begins at the end.

    References
    ----------
    Sen (1968), JASA 63, 1379: the slope is the median over all pairs; one spike, or jitter from sample to sample, does
    not turn it.
    """
    first, second = _PAIRS[len(inward)]
    slope = _median((inward[second] - inward[first]) / (second - first))
    level = _median(inward - slope * np.arange(len(inward)))
    return np.asarray(level - slope * np.arange(1, count + 1), dtype=float)


def _median(values: Array) -> float:
    """The middle value; of an even number the upper of the two, which is enough for a scale and many times faster."""
    middle = len(values) // 2
    return float(np.partition(values, middle)[middle])


def spikes(values: Array, *, sparse: bool = False) -> Flags:
    """Samples that stick out of their neighbourhood by more than 6 x 1.4826 x MAD of the residuals.

    Parameters
    ----------
    sparse : bool
        Seven samples span so much of the sweep that the curve itself bends within them: a window of three then.
    """
    residual = values - running_median(values, 3 if sparse else _WINDOW)
    scale = _NORMAL * _median(np.abs(residual))
    floor = (_SPARSE_FLOOR if sparse else _FLOOR) * _median(np.abs(values))
    return np.asarray(np.abs(residual) > _MADS * max(scale, floor))


def is_sparse(rpm: Array) -> bool:
    """Whether seven samples span more than a tenth of the swept range."""
    return (_WINDOW - 1) / max(len(rpm) - 1, 1) > _SPARSE


def rises(rpm: Array) -> list[tuple[int, int]]:
    """Every rise to a pull's top, as (first, past the last) sample: from the fall before it to its own top.

    Two are two pulls in one file, wherever each began and however far the engine ran down between them: a rise is
    measured from the fall before it, not from the lowest rpm of the file. A throttle blip is none: it takes less than a
    quarter of the time that another rise takes over the same rpm.
    """
    turns = _turns(rpm)
    span = np.ptp(rpm)
    high = rpm.min() + _HIGH * span
    legs = [(low, top) for low, top in turns if rpm[top] >= high and rpm[top] - rpm[low] > _FALL * span]
    pulls = [leg for leg in legs if not any(_is_blip(rpm, leg, other) for other in legs)]
    return [(_fall_before(rpm, leg, [top for _, top in turns]), leg[1] + 1) for leg in pulls]


def _fall_before(rpm: Array, leg: tuple[int, int], tops: list[int]) -> int:
    """First sample past the top before a rise that is below the rise's own top, as are all that follow."""
    low, top = leg
    begin = max((other + 1 for other in tops if other < low), default=0)
    as_high = np.flatnonzero(rpm[begin:low] >= rpm[top])
    return begin + int(as_high[-1]) + 1 if as_high.size else begin


def _turns(rpm: Array) -> list[tuple[int, int]]:
    """Lowest and highest sample of each rise between falls of more than `_FALL` of the range; the first may be flat."""
    fall = _FALL * np.ptp(rpm)
    found: list[tuple[int, int]] = []
    low = 0
    while True:
        ahead = rpm[low:]
        top = low + int(np.argmax(ahead[: _first(np.maximum.accumulate(ahead) - ahead > fall)]))
        found.append((low if found else int(np.argmin(rpm[: top + 1])), top))
        ahead = rpm[top:]
        again = _first(ahead - np.minimum.accumulate(ahead) > fall)
        if again == len(ahead):
            return found
        low = top + int(np.argmin(ahead[:again]))


def _first(flags: Flags) -> int:
    """Index of the first that is set; their number where none is."""
    at = int(np.argmax(flags))
    return at if flags[at] else len(flags)


def _is_blip(rpm: Array, leg: tuple[int, int], other: tuple[int, int]) -> bool:
    """Whether the other rise takes over four times as many samples in the middle of the rpm that both pass."""
    bottom, top = max(float(rpm[low]) for low, _ in (leg, other)), min(float(rpm[high]) for _, high in (leg, other))
    edge = _EDGE * (top - bottom)  # an engine is held at either end as long as one likes
    parts = (rpm[low : high + 1] for low, high in (leg, other))
    mine, theirs = (int(np.count_nonzero((part > bottom + edge) & (part < top - edge))) for part in parts)
    return theirs > _BLIP * max(mine, 1)


@dataclass(frozen=True, slots=True)
class Sweep:
    """The samples of the pull."""

    first: int
    past: int  #: one past the last
    outside: int  #: samples before and after it
    part_throttle: int  #: of these, cut from its ends because the throttle was not open


def rising_sweep(rpm: Array, load: Array, rise: tuple[int, int]) -> Sweep:
    """From the last sample at or below the starting rpm up to the highest rpm, without part throttle at either end.

    Parameters
    ----------
    load : ndarray, shape (samples,)
        Torque or power, any unit.
    rise : (int, int)
        One of `rises`.
    """
    begin, end = rise
    top = begin + int(np.argmax(rpm[begin:end]))
    first = begin + _start(rpm[begin : top + 1])
    past = top + 1
    low, high = _open_throttle(load[first:past])
    part = low + (past - first - high)
    kept = Sweep(first + low, first + high, 0, 0)
    return Sweep(kept.first, kept.past, len(rpm) - (kept.past - kept.first), part)


def _start(rpm: Array) -> int:
    """Where the rise begins: past the hold at the starting rpm where there is one, else at the lowest sample.

    Where the recording stopped during the run-down before it, it begins past the jump to the next starting rpm.
    """
    jumps = np.flatnonzero(np.diff(rpm) > _JUMP * np.ptp(rpm))
    if jumps.size and len(rpm) - jumps[-1] > _WINDOW and np.argmin(rpm) > jumps[-1] - _WINDOW:
        past = int(jumps[-1]) + 1
        return past + _start(rpm[past:])
    level = rpm.min() + _HOLD * np.ptp(rpm)
    held = np.flatnonzero(rpm <= level)
    expected = _HOLD * (len(rpm) - len(held))
    if len(held) > 3 * expected + 6:
        return int(held[-1])
    return int(np.argmin(rpm))


def _open_throttle(load: Array) -> tuple[int, int]:
    """First sample, and one past the last, between which the throttle is open."""
    count = len(load)
    if count < _WINDOW:
        return 0, count
    middle = running_median(load)
    ahead = max(1, round(_THROTTLE_SPAN * count))
    zone = max(_WINDOW, count // 5)
    low = np.flatnonzero(load[:-ahead] < _THROTTLE * middle[ahead:])
    low = low[low < zone]
    high = np.flatnonzero(load[ahead:] < _THROTTLE * middle[:-ahead]) + ahead
    high = high[high >= count - zone]
    return int(low[-1]) + 1 if low.size else 0, int(high[0]) if high.size else count
