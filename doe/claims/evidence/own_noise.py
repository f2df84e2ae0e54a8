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
        The day states no pull SD, or its unit can't be turned into that of the test.
    """
    day = read_day_file(folder)
    if day.noise.pull_sd is None:
        raise InputError(f"{folder}: [noise] has no pull_sd to take; a noise study fills it in")
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
