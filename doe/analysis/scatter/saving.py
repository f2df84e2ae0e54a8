"""From a noise study to the [noise] table of the day that it was made for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from doe.analysis.scatter.noise_result import MetricNoise, NoiseResult
from doe.day.files.dayfile import read_day_file
from doe.day.pilot.settings.noise_table import SavedNoise, save_noise
from doe.day.schema import DayFile
from doe.day.traced import unit_of
from doe.errors import InputError
from doe.words.scatter.noise_words import wander_comment


def save_study(study: NoiseResult[MetricNoise], folder: Path) -> SavedNoise:
    """Write the study of a day's metric into that day's [noise], and those of other metrics into [noise.metric."NAME"].

    Parameters
    ----------
    study : NoiseStudy or NoiseArchive
    folder : Path
        The coming day's folder.

    Returns
    -------
    SavedNoise

    Raises
    ------
    InputError
        The study is of another metric or unit, or the day can't take it (see `save_noise`).
    """
    day = read_day_file(folder)
    metric, notes = _metric_for(study, day, folder)
    if not metric.pull_sd:
        raise InputError(f"{metric.name}: a pull SD of 0 is no noise to plan with; nothing was written")
    for other in study.metrics:
        _refuse_other_unit(other, day, folder)
    size = _size(metric, day)
    others = {
        other.name: other.stated(_size(other, day)) for other in study.metrics if other is not metric and other.pull_sd
    }
    saved = save_noise(folder, metric.stated(size), study.source, _wander_comment(metric, size), others)
    return replace(saved, warnings=(*saved.warnings, *notes))


def _refuse_other_unit(metric: MetricNoise, day: DayFile, folder: Path) -> None:
    """Refuse a metric that the day's own traces give in another unit."""
    wanted = unit_of(day, metric.name)
    if metric.unit and wanted and metric.unit != wanted:
        raise InputError(
            f"{folder}/day.toml: {metric.name} is in {wanted} there, in {metric.unit} in the study; nothing was written"
        )


def _size(metric: MetricNoise, day: DayFile) -> float:
    """What an SD in the metric's unit is multiplied by, to stand in the day's [noise]."""
    return 100 / abs(metric.mean) if day.metric.scale == "percent" else 1.0


def _wander_comment(metric: MetricNoise, size: float) -> str:
    """What the study could not exclude of wander, in the day's unit or percent."""
    known = metric.known_wander
    most = None if metric.wander_at_most is None else metric.wander_at_most * size
    return wander_comment(
        looked_for=known is not None, seen=known is not None and known.seen is not None, at_most=most,
        stated=metric.stated_wander is not None,
    )  # fmt: skip


def _metric_for(study: NoiseResult[MetricNoise], day: DayFile, folder: Path) -> tuple[MetricNoise, list[str]]:
    """The studied metric that the day is judged by."""
    wanted = day.metric
    same = [m for m in study.metrics if m.name.casefold() == wanted.name.casefold()]
    if study.row_word == "row" and not same and len(study.metrics) == 1:
        metric = study.metrics[0]
        note = f"column '{metric.name}' is taken as '{wanted.name}' [{wanted.unit}] of that day: see that it is"
        return metric, [note]
    if not same:
        names = ", ".join(f"'{m.name}'" for m in study.metrics)
        raise InputError(
            f"{folder}/day.toml, [metric] name: that day is judged by '{wanted.name}', the study is of {names}; "
            f"nothing was written. Study it with --value '{wanted.name}'"
        )
    if same[0].unit and wanted.unit and same[0].unit != wanted.unit:
        raise InputError(
            f"{folder}/day.toml, [metric] unit: that day is in {wanted.unit}, the study in {same[0].unit}; "
            "nothing was written"
        )
    if same[0].window_rpm and wanted.window_rpm and same[0].window_rpm != wanted.window_rpm:
        raise InputError(
            f"{folder}/day.toml, [metric] window_rpm: that day takes its metric over {_window(wanted.window_rpm)}, "
            f"the study over {_window(same[0].window_rpm)}; nothing was written"
        )
    return same[0], []


def _window(limits: tuple[float, float]) -> str:
    return f"{limits[0]:g} to {limits[1]:g} rpm"
