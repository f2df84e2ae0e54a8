"""The noise of a day of one's own, in the unit of a published test."""

from __future__ import annotations

from pathlib import Path

from doe.cell.units import convert, kind_of
from doe.claims.reading.schema import ClaimsFile, NoiseTable
from doe.day.files.dayfile import read_day_file
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.errors import InputError


def noise_of_day(folder: Path, file: ClaimsFile) -> NoiseTable:
    """Take the noise from a day's [noise].

    Parameters
    ----------
    folder : Path
        The day folder, or its day.toml. A noise in percent is taken of the test's first printed reading.
    file : ClaimsFile
        The test; a drift from step to step that it states is kept.

    Raises
    ------
    InputError
        The day states no pull SD, its metric or window is another than the test's, or its unit can't be turned into the
        test's.
    """
    day = read_day_file(folder)
    if day.noise.pull_sd is None:
        raise InputError(f"{folder}: [noise] has no pull_sd to take; a noise study fills it in")
    _refuse_another_metric(day, file)
    size = _size(day, file)
    return NoiseTable(
        pull_sd=day.noise.pull_sd * size,
        pull_df=day.noise.pull_df,
        install_sd=None if day.noise.install_sd is None else day.noise.install_sd * size,
        install_df=day.noise.install_df,
        drift_sd=file.noise.drift_sd,
        source=f"the day '{day.day.title or folder.name}', {day.metric.name}: "
        f"{day.noise.source or 'source not stated'}",
    )


def _refuse_another_metric(day: DayFile, file: ClaimsFile) -> None:
    """The scatter of one number says nothing of that of another: a peak scatters more than a mean.

    Raises
    ------
    InputError
        The metrics or their windows differ; a metric that the test does not name is taken to be the day's.
    """
    own, theirs = day.metric, file.test
    if theirs.metric and name_key(theirs.metric) != name_key(own.name):
        raise InputError(
            f"--noise: the day's noise is that of '{own.name}', the test prints '{theirs.metric}'; they don't scatter"
            " alike. A noise study can hold both: 'doe noise' with --value once for each"
        )
    if own.window_rpm != theirs.window_rpm and (theirs.metric or theirs.window_rpm):
        raise InputError(
            f"--noise: the day's '{own.name}' is taken {_window(own.window_rpm)}, that of the test"
            f" {_window(theirs.window_rpm)}; they don't scatter alike (window_rpm in [test] says the test's)"
        )


def _window(window: tuple[float, float] | None) -> str:
    return "over no window that is stated" if window is None else f"from {window[0]:g} to {window[1]:g} rpm"


def _size(day: DayFile, file: ClaimsFile) -> float:
    """How much of the test's unit one unit of the day's noise is."""
    if day.metric.scale == "percent":
        values = [float(step.value) for step in file.step if step.value is not None]
        if not values:
            raise InputError("the day's noise is in percent, and the test prints no reading to take it of")
        return values[0] / 100
    own, theirs = day.metric.unit, file.test.unit
    if name_key(own) == name_key(theirs):
        return 1.0
    if kind_of(own) is None or kind_of(own) != kind_of(theirs):
        raise InputError(
            f"the day's noise is in '{own}' and the test in '{theirs}'; one can't be turned into the other"
        )
    return convert(1.0, own, theirs)
