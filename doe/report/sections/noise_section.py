"""The noise of the day: its sizes with intervals, what they mean, and the band in which the baseline's pulls lie."""

from __future__ import annotations

from typing import Any

from doe.analysis.judging.judgement import Judgement, NoiseEstimate
from doe.analysis.scatter.metric_noise import DayScatter
from doe.day.schema import DayFile
from doe.report.day_figure import BaselineBand
from doe.report.sections.day_parts import DayParts
from doe.stats.outliers import range_factor
from doe.stats.power import false_gain_chance
from doe.words.numbers import signed_in_print, with_unit
from doe.words.report import day_noise_words as words

_TOLD_FROM = 0.01  # a chance; what the usual test gets wrong more seldom is no argument
_REFITTING = "what taking parts off and fitting them again adds (standard deviation)"
_WITHIN = 1.959963984540054  # 95 of 100 normal readings lie within so many standard deviations


def noise_rows(judgement: Judgement, scatter: DayScatter | None) -> list[dict[str, str]]:
    """The sizes: name, value, what it means, and what is known of it."""
    noise, unit = judgement.noise, judgement.gain_unit
    own = scatter.scatter if scatter and judgement.scale == "absolute" else None
    known = words.own_scatter(unit, own.pull_sd_low, own.pull_sd_high, own.pull_df) if own else ""
    refit = own.install if own else None
    parts = scatter.refit_intervals if scatter and own else {}
    sizes = (
        ("Pull-to-pull scatter", noise.pull_sd, "how far pulls of the untouched engine lie apart (standard deviation)",
         known),
        ("Repeatability limit", range_factor(2) * noise.pull_sd if noise.pull_sd else None,
         "two pulls with nothing touched between them differ by less, 19 times in 20, if the scatter is just that", ""),
        ("Refit scatter", noise.install_sd, _REFITTING, words.interval(unit, refit.low, refit.high) if refit else ""),
        *((f"Refit scatter of the {name}", sd, _REFITTING,
           words.interval(unit, *parts[name]) if name in parts else "")
          for name, sd in (noise.install_sds or {}).items()),
        ("Wander", noise.wander_sd, "slow, random change, over about an hour (standard deviation)", ""),
    )  # fmt: skip
    rows = [
        {"name": name, "value": with_unit(f"{size:.2g}", unit), "meaning": meaning, "known": known}
        for name, size, meaning, known in sizes
        if size is not None
    ]
    if noise.drift_per_hour is not None:
        drift = f"{signed_in_print(noise.drift_per_hour, 2, unit)} per hour"
        rows.append({"name": "Drift", "value": drift, "meaning": "steady change through the day", "known": ""})
    return rows


def one_and_one(day: DayFile, judgement: Judgement) -> str:
    """What the usual test would have shown here of a part that does nothing; "" where the scatter isn't known.

    It is told of the change with the smallest gain to look for: there the usual test is worst.
    """
    noise = judgement.noise
    refits = {factor.name for factor in day.refit_factors}
    asked = [gain for gain in judgement.changes if gain.smallest_gain]
    if not noise.pull_sd or not asked:
        return ""
    chances = [
        (false_gain_chance(noise.pull_sd, _refit_sd(noise, gain.factor), gain.smallest_gain or 0.0,
                           refit=gain.factor in refits), gain)
        for gain in asked
    ]  # fmt: skip
    chance, gain = max(chances, key=lambda one: one[0])
    if chance < _TOLD_FROM:
        return ""
    name = f"{gain.factor} {gain.level}"
    return words.one_before_one_after(name, gain.smallest_gain or 0.0, chance, judgement.gain_unit)


def _refit_sd(noise: NoiseEstimate, factor: str) -> float:
    """What re-fitting a part adds, as far as it is known."""
    own = noise.install_sds.get(factor) if noise.install_sds else noise.install_sd
    return own or 0.0


def could_show(judgement: Judgement) -> str:
    """The half-width of each change's interval: a gain beyond it would have been told from nothing."""
    halves = [
        (gain, (gain.family_high - gain.family_low) / 2)
        for gain in judgement.changes
        if gain.family_low is not None and gain.family_high is not None
    ]
    unit = judgement.gain_unit
    shown = [f"{gain.factor} {gain.level} {with_unit(f'{half:.2g}', unit)}" for gain, half in halves]
    return words.could_show(", ".join(shown)) if shown else ""


def baseline_band(parts: DayParts, judgement: Judgement) -> BaselineBand | None:
    """Where single baseline pulls of the day should lie, by its fitted baseline; None where it isn't known.

    Of a campaign each day has a baseline of its own: the level of its pulls with the gains taken out.
    """
    noise = judgement.noise
    mean = _own_baseline(parts, judgement) if parts.name else judgement.baseline_mean
    minutes = [pull.minute for pull in parts.pulls if pull.counts]
    known = [minute for minute in minutes if minute is not None]
    if mean is None or not noise.pull_sd or not known or len(known) < len(minutes):
        return None
    if parts.day.drift not in ("none", "linear"):
        return None
    size = mean / 100 if judgement.scale == "percent" else 1.0
    refits = [_refit_sd(noise, factor.name) for factor in parts.day.refit_factors]
    scatter = sum(sd**2 for sd in (noise.pull_sd, *(refits if noise.install_sds else refits[:1]))) ** 0.5
    slope = (noise.drift_per_hour or 0.0) / 60
    return BaselineBand(sum(known) / len(known), mean, slope * size, _WITHIN * scatter * size)


def _own_baseline(parts: DayParts, judgement: Judgement) -> float | None:
    """The baseline of one day of a campaign at its mean minute; None where a gain isn't known."""
    gains = {(gain.factor, gain.level): gain.gain for gain in judgement.changes}
    metric, levels = parts.day.metric.name, []
    for pull in parts.pulls:
        if not pull.counts or metric not in pull.values:
            continue
        changed = [item for item in pull.configuration.items() if item[1] != parts.day.baseline[item[0]]]
        added = [gains.get(item) for item in changed]
        if any(gain is None for gain in added):
            return None
        total = sum(gain for gain in added if gain is not None)
        value = pull.values[metric]
        levels.append(value / (1 + total / 100) if judgement.scale == "percent" else value - total)
    return sum(levels) / len(levels) if levels else None


def scatter_data(scatter: DayScatter | None) -> list[dict[str, Any]]:
    """The residuals for those who go on computing."""
    if scatter is None:
        return []
    rows = zip(scatter.names, scatter.residuals, scatter.normal, strict=True)
    return [{"pull": name, "residual": left, "normal": normal} for name, left, normal in rows]
