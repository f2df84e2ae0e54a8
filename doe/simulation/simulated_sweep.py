"""Sweeps of the simulated engine: a trace for each pull, whose mean power is the pull's number. All invented.

The curve is that of no engine, the gains' shapes are what oil, vacuum and trumpets might do; common practice, no
published source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from doe.cell.traces.metrics import window_mean
from doe.cell.units import convert
from doe.simulation.schedule import TrueGains
from doe.simulation.simulated_cell import Floats

LOW_RPM, HIGH_RPM = 3000.0, 7200.0
RPM_A_SECOND, HERTZ = 300.0, 20.0
SMOOTH, SMOOTH_RPM, WHITE = 0.003, 300.0, 0.01  # scatter along the sweep: shares of the power there
_WILDEST = 2.0  # SDs of a sample: beyond, it might be taken for a spike, and the pull would have another number
_PEAK_RPM = 6600.0
_RADIANS_A_SECOND = np.pi / 30

#: (factor, level) -> how its gain lies over rpm: powers of rpm / 5,400 and their weights; what isn't named is flat
SHAPES: Mapping[tuple[str, str], Sequence[tuple[float, float]]] = {
    ("oil", "5W-30"): ((2.0, 1.0),),
    ("crankcase vacuum", "on"): ((1.0, 1.0),),
    ("intake trumpets", "long"): ((2.0, 4.0), (0.0, -3.0)),
}


def sweeps(
    fitted: Sequence[Mapping[str, str]],
    values: Sequence[float],
    window: tuple[float, float],
    unit: str,
    gains: TrueGains,
    rng: np.random.Generator,
) -> list[str]:
    """The exports of some pulls, as a dyno would write them: time, rpm, torque.

    Parameters
    ----------
    fitted : sequence of mapping
        What is fitted during each pull.
    values : sequence of float, shape (pulls,)
        Mean power of each over the window, which its sweep gives again.
    window : (float, float)
        [rpm]
    unit : str
        Of the values and the gains.
    gains : mapping of (factor, level) to float
        Mean of each true gain over the window.
    rng : numpy.random.Generator

    Returns
    -------
    list of str
        CSV, one a pull.
    """
    seconds = np.arange(0.0, (HIGH_RPM - LOW_RPM) / RPM_A_SECOND + 1e-9, 1 / HERTZ)
    rpm = np.round(LOW_RPM + RPM_A_SECOND * seconds)
    smooth = _smooth(rpm)
    found = []
    for configuration, value in zip(fitted, values, strict=True):
        level = _baseline(rpm) * value / _mean(rpm, _baseline(rpm), window)
        power = level * (1 + SMOOTH * smooth @ rng.standard_normal(smooth.shape[1]))
        power += WHITE * level * np.clip(rng.standard_normal(len(rpm)), -_WILDEST, _WILDEST)
        for part in configuration.items():
            power += _gain(part, rpm, window, gains.get(part, 0.0))
        found.append(_export(seconds, rpm, convert(1.0, unit, "kW") * power, convert(value, unit, "kW"), window))
    return found


def _baseline(rpm: Floats) -> Floats:
    """Power of the engine in its baseline, in any unit: its height is that of the pull."""
    return 222.0 * (1.0 - 1.56 * (1.0 - rpm / _PEAK_RPM) ** 2)


def _gain(part: tuple[str, str], rpm: Floats, window: tuple[float, float], mean: float) -> Floats:
    """A true gain over rpm, with its mean over the window."""
    shape = sum(weight * (rpm / 5400.0) ** power for power, weight in SHAPES.get(part, ((0.0, 1.0),)))
    return np.asarray(mean * shape / _mean(rpm, np.broadcast_to(shape, rpm.shape), window))


def _smooth(rpm: Floats) -> Floats:
    """Factor of a Gaussian process of variance 1 and length `SMOOTH_RPM`, shape (samples, samples)."""
    kernel = np.exp(-0.5 * ((rpm[:, None] - rpm) / SMOOTH_RPM) ** 2)
    values, vectors = np.linalg.eigh(kernel)
    kept = values > 1e-9 * values[-1]
    return np.asarray(vectors[:, kept] * np.sqrt(values[kept]))


def _mean(rpm: Floats, power: Floats, window: tuple[float, float]) -> float:
    found = window_mean(rpm, power, *window).value
    assert found is not None  # the sweep covers every window of the demo
    return found


def _export(seconds: Floats, rpm: Floats, power_kw: Floats, mean_kw: float, window: tuple[float, float]) -> str:
    """The file, its torque scaled so that the mean power is the pull's number."""
    torque = 1000 * power_kw / (_RADIANS_A_SECOND * rpm)
    for _ in range(2):  # the second time for what rounding took
        torque *= mean_kw / _mean(rpm, _RADIANS_A_SECOND * rpm * np.round(torque, 3) / 1000, window)
    rows = zip(seconds.tolist(), rpm.tolist(), torque.tolist(), strict=True)
    return "time_s,rpm,torque_nm\n" + "".join(f"{t:.2f},{n:.0f},{load:.3f}\n" for t, n, load in rows)
