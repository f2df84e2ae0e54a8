"""Which metrics a trace gives, and what they are taken over. Light: the day file is checked with it."""

from __future__ import annotations

from dataclasses import dataclass

PEAK_PERCENT = 15.0  #: width of a peak's local quadratic, of the swept range

#: Every metric that a trace gives, by its name in day.toml.
NAMES = (
    "mean power",
    "mean torque",
    "weighted power",
    "weighted torque",
    "peak power",
    "peak torque",
    "power at rpm",
    "torque at rpm",
    "rpm of peak power",
    "rpm of peak torque",
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the metrics are taken over, and in which units they are wanted."""

    window_rpm: tuple[float, float] | None = None
    at_rpm: float | None = None
    weights: tuple[tuple[float, float, float], ...] = ()  #: (low, high, time)
    power_unit: str = "kW"
    torque_unit: str = "N m"
    smoother_percent: float = PEAK_PERCENT

    def unit(self, kind: str) -> str:
        """The unit that power or torque is wanted in."""
        return self.power_unit if kind == "power" else self.torque_unit


def told(wanted: Wanted) -> tuple[str, ...]:
    """The names of the metrics for which everything is told."""
    needs = {
        "mean": wanted.window_rpm is not None,
        "weighted": bool(wanted.weights),
        "power at": wanted.at_rpm is not None,
        "torque at": wanted.at_rpm is not None,
    }
    return tuple(name for name in NAMES if all(ready for start, ready in needs.items() if name.startswith(start)))


def kind_of_metric(name: str) -> str | None:
    """What a metric measures: "power", "torque" or "speed"; None where no trace gives it."""
    if name not in NAMES:
        return None
    return "speed" if name.startswith("rpm of") else "power" if "power" in name else "torque"
