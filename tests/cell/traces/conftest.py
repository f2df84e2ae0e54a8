"""Made sweeps, invented: torque falls in a straight line, T = 520 - 0.04 n, as in the worked cases."""

from types import SimpleNamespace

import numpy as np
import pytest

from doe.cell.traces.layout import Layout


def torque_line(rpm):
    return 520 - 0.04 * rpm


@pytest.fixture
def sweep():
    """Rows of time [s], rpm, torque [N m], power [kW] at a rate [rpm/s] and so many samples a second."""

    def make(low=3000.0, high=7000.0, rate=300.0, hertz=50.0, jitter=0.0, seed=1):
        time = np.arange(0, (high - low) / rate + 1e-9, 1 / hertz)
        rpm = low + rate * time + np.random.default_rng(seed).normal(0, jitter, len(time))
        torque = torque_line(rpm)
        return SimpleNamespace(time=time, rpm=rpm, torque=torque, power=torque * rpm * np.pi / 30000)

    return make


@pytest.fixture
def written():
    """An export's bytes of columns by title."""

    def write(columns, delimiter=",", decimal=".", above=(), under=None, end="\n", encoding="utf-8"):
        rows = [delimiter.join(columns), *([delimiter.join(under)] if under else [])]
        for row in zip(*columns.values(), strict=True):
            cells = [cell if isinstance(cell, str) else f"{cell:.6g}" for cell in row]
            rows.append(delimiter.join(cell.replace(".", decimal) for cell in cells))
        return (end.join([*above, *rows]) + end).encode(encoding)

    return write


@pytest.fixture
def layout():
    return Layout({"time": "t", "rpm": "n", "torque": "T", "power": "P"}, {"time": "s", "torque": "N m", "power": "kW"})
