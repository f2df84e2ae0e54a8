"""What a verdict rests on beside the pulls, in sentences."""

from __future__ import annotations

from typing import Protocol

from doe.words.numbers import with_unit

_DRIFTS = {
    "none": "Nothing drifts through the day.",
    "linear": "The engine drifts steadily through the day, along a straight line; that line is taken out.",
    "quadratic": "The engine drifts through the day along a curve with one bend; that curve is taken out.",
    "wander": "The engine wanders slowly and at random, with a correlation that dies away over about an hour.",
}


GAINS_ADD_UP = "Gains add up: a part gives the same alone as in company."
NOTHING_CARRIED_OVER = "Nothing is carried over: a part gives the same whatever was on before it."


class Metric(Protocol):
    """[metric] of day.toml."""

    @property
    def name(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def scale(self) -> str: ...
    @property
    def window_rpm(self) -> tuple[float, float] | None: ...


class Cell(Protocol):
    """[cell] of day.toml."""

    @property
    def correction(self) -> str: ...
    @property
    def correct_to(self) -> str: ...


class Noise(Protocol):
    """[noise] of day.toml."""

    @property
    def pull_sd(self) -> float | None: ...
    @property
    def pull_df(self) -> float | None: ...
    @property
    def install_sd(self) -> float | None: ...
    @property
    def install_df(self) -> float | None: ...
    @property
    def wander_sd(self) -> float | None: ...
    @property
    def wander_df(self) -> float | None: ...
    @property
    def source(self) -> str: ...


class Day(Protocol):
    """A day file."""

    @property
    def metric(self) -> Metric: ...
    @property
    def cell(self) -> Cell: ...
    @property
    def noise(self) -> Noise: ...
    @property
    def drift(self) -> str: ...


def assumptions(day: Day, sealed: bool | None) -> list[str]:
    """Return one sentence for each thing that was taken as given."""
    return [
        _metric(day),
        GAINS_ADD_UP,
        NOTHING_CARRIED_OVER,
        _DRIFTS[day.drift],
        f"Pulls scatter normally, and refitting a part adds normal scatter, {_same_scatter(day.noise)}.",
        _sealed(sealed),
    ]


def _same_scatter(noise: Noise) -> str:
    if noise.install_sd is not None and noise.install_df is not None:
        return "the same for every part"
    return "as much each time, more for one part than for another"


def noise_source(day: Day) -> str:
    """Return where the noise that the day began with came from: measured, assumed or not known."""
    noise, unit = day.noise, "%" if day.metric.scale == "percent" else day.metric.unit
    known = (
        ("pull-to-pull scatter", noise.pull_sd, noise.pull_df),
        ("refit scatter", noise.install_sd, noise.install_df),
        ("wander", noise.wander_sd, noise.wander_df),
    )
    words = [
        f"{name} {with_unit(f'{sd:g}', unit)} ({'assumed' if df is None else f'measured, {df:g} degrees of freedom'})"
        for name, sd, df in known
        if sd is not None
    ]
    if not words:
        return "Nothing was known of the noise before the day."
    source = f" Source: {noise.source}." if noise.source else ""
    return f"Known before the day: {', '.join(words)}.{source}"


def _metric(day: Day) -> str:
    window = day.metric.window_rpm
    where = f", {window[0]:g} to {window[1]:g} rpm" if window else ""
    if day.cell.correct_to != "none":
        air = f"corrected for the air to {day.cell.correct_to}, from the weather beside each pull"
    elif day.cell.correction == "none":
        air = "as observed, not corrected for the air"
    else:
        air = f"already corrected to {day.cell.correction}"
    return f"The number taken from each pull: {day.metric.name}{where}, {air}."


def _sealed(sealed: bool | None) -> str:
    if sealed:
        return "Metric, noise, analysis and questions are those fixed before the first pull."
    if sealed is None:
        return "Nothing was fixed before the first pull: the questions may have been chosen after seeing the numbers."
    return "Metric, noise, analysis or questions were altered after the plan was made."
