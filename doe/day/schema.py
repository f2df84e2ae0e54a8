"""What day.toml may hold: one frozen model a table, with the words of the design and their limits."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
DRIFTS = ("none", "linear", "quadratic", "wander")
CORRECTIONS = ("SAE J1349", "ISO 1585", "DIN 70020", "SAE J607", "none")

Configuration = dict[str, str]
"""What is fitted: factor name -> level, one entry per factor, in the order of day.toml."""


class Table(BaseModel):
    """A table of day.toml: frozen, and no key that we don't know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Break(Table):
    """A pause in which nobody pulls."""

    from_: dt.time = Field(alias="from")
    minutes: Positive


class DaySection(Table):
    """[day]: the hours."""

    title: str = ""
    date: dt.date
    start: dt.time
    finish: dt.time
    breaks: tuple[Break, ...] = ()


class Cell(Table):
    """[cell]: the dyno and how long things take on it."""

    kind: Literal["engine", "chassis"] = "engine"
    warm_up_minutes: NotNegative = 0.0
    pull_minutes: Positive
    correction: Literal["SAE J1349", "ISO 1585", "DIN 70020", "SAE J607", "none"] = "none"
    correct_to: Literal["SAE J1349", "ISO 1585", "DIN 70020", "SAE J607", "none"] = "none"


class Metric(Table):
    """[metric]: the number taken from a pull."""

    name: str
    unit: str = ""
    window_rpm: tuple[Positive, Positive] | None = None
    scale: Literal["absolute", "percent"] = "absolute"


class Noise(Table):
    """[noise]: what is known of the scatter; an SD without df is a guess."""

    pull_sd: Positive | None = None
    pull_df: Positive | None = None
    install_sd: NotNegative | None = None
    install_df: Positive | None = None
    wander_sd: NotNegative | None = None
    wander_df: Positive | None = None
    source: str = ""


class Analysis(Table):
    """[analysis]: sealed with the plan."""

    confidence: Annotated[float, Field(gt=0.5, lt=1)] = 0.95
    drift: Literal["none", "linear", "quadratic", "wander"] = "linear"


class Change(Table):
    """[[factor.change]]: a level other than the baseline, and what it takes to fit it."""

    level: str
    minutes_on: NotNegative
    minutes_off: NotNegative
    settling_pulls: Annotated[int, Field(ge=0)] = 0
    smallest_gain: Positive | None = None
    one_way: bool = False


class Factor(Table):
    """[[factor]]: something that can be changed; its first level is the baseline."""

    name: str
    baseline: str
    refit: bool = False
    alone: bool = False
    change: tuple[Change, ...] = Field(min_length=1)

    @property
    def levels(self) -> tuple[str, ...]:
        """The baseline first, then the changes in file order."""
        return (self.baseline, *(change.level for change in self.change))


class DayFile(Table):
    """A valid day.toml."""

    day: DaySection
    cell: Cell
    metric: Metric
    noise: Noise = Noise()
    analysis: Analysis = Analysis()
    factor: tuple[Factor, ...] = Field(min_length=1)

    @property
    def baseline(self) -> Configuration:
        """The configuration that every change is compared with."""
        return {factor.name: factor.baseline for factor in self.factor}

    @property
    def questions(self) -> tuple[tuple[Factor, Change], ...]:
        """Every change with its factor, in file order."""
        return tuple((factor, change) for factor in self.factor for change in factor.change)

    @property
    def length_minutes(self) -> float:
        """From start to finish, breaks included [min]."""
        return minute_of(self.day.finish) - minute_of(self.day.start)


def minute_of(time: dt.time) -> float:
    """Minutes since midnight."""
    return time.hour * 60 + time.minute + time.second / 60
