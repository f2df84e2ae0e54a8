"""The noise of many days in a tester's words."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import numpy as np

from doe.analysis.archive.archive_noise import LIMITS_RISK, ManyDays, MetricDays, Scatter
from doe.analysis.archive.levels import Creep
from doe.stats.critical_range import range_factor

_NOTABLE = 0.05
_LISTED_DAYS = 12
_NAMED = 5


def many_days_text(study: ManyDays) -> str:
    """Write what a tester reads.

    Parameters
    ----------
    study : ManyDays

    Returns
    -------
    str
        Lines; rounded to what the pull SD bears.
    """
    blocks = ["\n".join(_metric(metric)) for metric in study.metrics]
    left_out = [f"Left out: {_several(n, 'day folder')}: {why}." for why, n in study.left_out.items()]
    if study.broken:
        left_out.append(f"Left out: {_several(len(study.broken), 'day folder')} that can't be read.")
    warnings = [f"Warning: {warning}" for warning in study.warnings]
    return "\n\n".join([*blocks, *("\n".join(lines) for lines in (left_out, warnings) if lines)])


def _metric(m: MetricDays) -> list[str]:
    limit = _shown(m, range_factor(2) * m.pull_sd)
    return [
        _head(m),
        "",
        f"On a coming day two pulls with nothing touched between them differ by less than {limit}, 19 times in 20.",
        f"  a coming day: {_scatter(m, m.coming, intervals=True)} (95 % intervals)",
        f"  all days pooled: {_scatter(m, m.pooled)}",
        *_agreement(m),
        *_level(m),
        "",
        *_cells(m),
        *_days(m),
        *_chart(m),
        *_outliers(m),
        *([_creep(m, m.creep)] if m.creep else []),
    ]


def _several(number: int, word: str) -> str:
    return f"{number:,} {word}{'s' * (number != 1)}"


def _shown(m: MetricDays, value: float, *, sign: bool = False) -> str:
    """Two figures of the pull SD, with the unit."""
    if math.isnan(value):
        return "unknown"
    sd = m.pooled.pull_sd
    digits = 2 if sd <= 0 else max(0, 1 - math.floor(math.log10(sd)))
    unit = f" {m.unit}" if m.unit else ""
    return f"{value:{'+' if sign else ''}.{digits}f}{unit}"


def _head(m: MetricDays) -> str:
    first, last = (dt.date.fromordinal(int(day)) for day in (m.days.date.min(), m.days.date.max()))
    percent = ", pooled in percent of each day's baseline" if m.days.kind.percent else ""
    return (
        f"{m.name}: {_several(len(m.days), 'day')} from {first} to {last}, "
        f"{_several(int(m.days.pulls.sum()), 'pull')}, {_several(int(m.days.installs.sum()), 'fitting')}, "
        f"mean baseline {_shown(m, m.mean)}{percent}"
    )


def _scatter(m: MetricDays, found: Scatter, *, intervals: bool = False) -> str:
    install = found.install
    lines = [("pull SD", found.pull_sd, found.pull_sd_low, found.pull_sd_high, found.pull_df)]
    if install is not None:
        lines.append(("install SD", install.sd, install.low, install.high, install.df))
    return "; ".join(
        f"{name} {_shown(m, sd)}{_interval(m, low, high) if intervals else ''}, {_df(df)} df"
        for name, sd, low, high, df in lines
    )


def _interval(m: MetricDays, low: float, high: float) -> str:
    return f" ({_shown(m, low).split()[0]} to {_shown(m, high).split()[0]})"


def _df(df: float) -> str:
    return f"{df:,.0f}" if df >= 100 or df == round(df) else f"{df:.1f}"


def _agreement(m: MetricDays) -> list[str]:
    lines = []
    for what, p in (("pull scatter", m.agree_p), ("refit scatter", m.install_agree_p)):
        if p is None:
            continue
        if p < _NOTABLE:
            lines.append(f"The days don't agree in their {what} (p {p:.2g}): a coming day may scatter otherwise.")
        else:
            lines.append(f"The days may well agree in their {what} (p {p:.2g}).")
    return lines


def _level(m: MetricDays) -> list[str]:
    lines = []
    if m.day_sd is not None:
        lines.append(f"Baselines of one set-up differ from day to day by a scatter of {_shown(m, m.day_sd)} (day SD).")
    if m.drift is not None:
        word = "a real drift" if m.drift.p < _NOTABLE else "not to be told from none"
        lines.append(f"Drift within the days {_shown(m, m.drift.mean, sign=True)} an hour (p {m.drift.p:.2g}): {word}.")
    if m.lag1 is not None:
        lines.append(f"Neighbouring pulls of one fitting go together with a correlation of {m.lag1:+.2f}.")
    return lines


def _cells(m: MetricDays) -> list[str]:
    if len(m.cells) < 2:
        return []
    lines = [
        f"  {cell.cell or '(no name)'}: {_several(cell.days, 'day')}, {_several(cell.pulls, 'pull')}, "
        f"mean baseline {_shown(m, cell.mean)}, {_scatter(m, cell.scatter)}"
        for cell in m.cells
    ]
    if m.cells_agree_p is not None and m.cells_agree_p < _NOTABLE:
        lines.append(f"  They differ in their pull scatter (p {m.cells_agree_p:.2g}): --cell NAME takes one alone.")
    return ["By cell:", *lines]


def _days(m: MetricDays) -> list[str]:
    if len(m.days) > _LISTED_DAYS:
        return []
    install = m.day_install_sd
    lines = [
        f"  {dt.date.fromordinal(int(m.days.date[i]))} {Path(folder).name}: "
        f"{_several(int(m.days.pulls[i]), 'pull')}, baseline {_shown(m, m.days.baseline[i])}, "
        f"pull SD {_shown(m, m.chart.pull_sd[i])}, {m.days.within_df[i]} df; "
        f"install SD {_shown(m, install[i])}, {m.days.between_df[i]} df"
        for i, folder in enumerate(m.days.folders)
    ]
    return ["By day:", *lines]


def _chart(m: MetricDays) -> list[str]:
    chance = LIMITS_RISK * len(m.days)
    lines = []
    for what, outside in (("pull SD", m.chart.pull_sd_outside), ("baseline", m.chart.level_outside)):
        where = _named([Path(m.days.folders[i]).name for i in np.flatnonzero(outside)])
        lines.append(f"Control chart: {_several(int(outside.sum()), 'day')} with the {what} outside the limits{where}.")
    by_chance = "under 0.1" if chance < 0.1 else f"{chance:.1f}"
    return [*lines, f"  By chance {by_chance} would be, of days that are all alike. A chart to look at, not a verdict."]


def _named(names: list[str]) -> str:
    more = f" and {len(names) - _NAMED:,} more" if len(names) > _NAMED else ""
    return f": {', '.join(names[:_NAMED])}{more}" if names else ""


def _outliers(m: MetricDays) -> list[str]:
    found = m.days.outliers
    if not found:
        return ["No pull lies outside the others of its day (Grubbs, 1 %)."]
    where = f"{_named(list(found))}; still counted"
    return [
        f"{_several(len(found), 'pull')} outside the others of the day (Grubbs, 1 %: by chance on 1 day in 100){where}."
    ]


def _creep(m: MetricDays, found: Creep) -> str:
    interval = f"{_shown(m, found.low, sign=True)} to {_shown(m, found.high, sign=True)} a month, p {found.p:.2g}"
    months = f"{found.months:.1f} months" if found.months < 10 else f"{found.months:.0f} months"
    if found.p >= _NOTABLE:
        return f"No creep of the baseline over {months} to be seen ({interval})."
    way = "down" if found.change < 0 else "up"
    return (
        f"The baseline has crept {way} by {_shown(m, abs(found.change))} in {months} ({interval}). "
        "Gains within a day don't suffer: each day has its own baseline."
    )
