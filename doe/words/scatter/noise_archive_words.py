"""The noise of many days in a tester's words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from doe.words.phrases import listed
from doe.words.scatter.noise_words import Figures, drift_word
from doe.words.significance import NOTABLE

_NAMED = 5


def many(number: int, thing: str) -> str:
    """``1 day``, ``10,000 days``."""
    return f"{number:,} {thing}{'' if number == 1 else 's'}"


def named(names: Sequence[str]) -> str:
    """The first of many names after a colon; nothing where there are none."""
    more = f" and {len(names) - _NAMED:,} more" if len(names) > _NAMED else ""
    return f": {', '.join(names[:_NAMED])}{more}" if names else ""


def head(
    name: str, days: int, span: tuple[dt.date, dt.date], pulls: int, installs: int, mean: str, *, percent: bool
) -> str:
    """What was pooled."""
    how = ", pooled in percent of each day's baseline" if percent else ""
    return (
        f"{name}: {many(days, 'day')} from {span[0]} to {span[1]}, {many(pulls, 'pull')}, {many(installs, 'fitting')}, "
        f"mean baseline {mean}{how}"
    )


def scatter_words(
    show: Figures, rows: Sequence[tuple[str, float, float, float, float]], *, intervals: bool = False
) -> str:
    """Pull and install SD: name, SD, the ends of its interval, df."""
    return "; ".join(
        f"{name} {show(sd)}{_interval(show, low, high) if intervals else ''}, {_df(df)} df"
        for name, sd, low, high, df in rows
    )


def _interval(show: Figures, low: float, high: float) -> str:
    return f" ({show(low, unit=False)} to {show(high, unit=False)})"


def _df(df: float) -> str:
    return f"{df:,.0f}" if df >= 100 or df == round(df) else f"{df:.1f}"


def coming_lines(limit: str, coming: str, pooled: str) -> list[str]:
    """What a coming day may count on, and all days pooled."""
    return [
        f"On a coming day two pulls with nothing touched between them differ by less than {limit}, 19 times in 20"
        " (takes the SD for known).",
        f"  a coming day: {coming} (95 % intervals)",
        f"  all days pooled: {pooled}",
    ]


NO_WANDER = "Wander (slow, random change) within the fittings is not to be told from none."


def wander_line(sd: str, df: float) -> str:
    """Wander that is there."""
    return (
        f"The engine or the cell wanders (slow, random change): wander SD {sd}, {_df(df)} df, at a time constant of 60 "
        "minutes, seen within the fittings; a trend after each fitting looks the same. --save-to writes it."
    )


NO_DRIVER = "No day, left out alone or with a few others, changes that much."
DRIVER_REMEDY = (
    "  Where there is a reason that does not lie in the numbers: keep such a folder elsewhere, and ask again."
)


def cell_name(cell: str) -> str:
    """A cell in a sentence."""
    return f"cell {cell or '(no name)'}"


def coming_words(scatter: str) -> str:
    """What a coming day may count on, in a sentence."""
    return f"A coming day: {scatter}."


def driver_line(answers: Sequence[str], who: str, days: int, without: Sequence[str]) -> str:
    """Who drives some answers (days by name and date, 0 of them for a cell), and the answers without."""
    verb, them = ("drive", "them") if days > 1 else ("drives", "it")
    told = " ".join(without)
    return f"{who} {verb} the {listed(answers)}. Without {them}: {told[:1].lower()}{told[1:]}"


def agreement_line(what: str, p: float) -> str:
    """Whether the days agree in their pull or refit scatter."""
    if p < NOTABLE:
        return f"The days don't agree in their {what} (p {p:.2g}): a coming day may scatter otherwise."
    return f"The days may well agree in their {what} (p {p:.2g})."


def day_sd_line(show: Figures, sd: float) -> str:
    """How far baselines differ."""
    if sd == 0:
        return "Baselines of one set-up differ from day to day by no more than their pulls and fittings explain."
    return f"Baselines of one set-up differ from day to day by a scatter of {show.found(sd, sign=False)} (day SD)."


def drift_line(per_hour: str, p: float) -> str:
    """The drift within the days, and whether it is one."""
    return f"Drift within the days {per_hour} an hour (p {p:.2g}): {drift_word(p)}."


def cell_line(cell: str, days: int, pulls: int, mean: str, scatter: str) -> str:
    """One cell among several."""
    return f"  {cell or '(no name)'}: {many(days, 'day')}, {many(pulls, 'pull')}, mean baseline {mean}, {scatter}"


def cells_differ(p: float) -> str:
    """The cells don't agree in their pull scatter."""
    return f"  They differ in their pull scatter (p {p:.2g}): --cell NAME takes one alone."


def day_line(
    date: dt.date, folder: str, pulls: int, baseline: str, pull: tuple[str, int], install: tuple[str, int]
) -> str:
    """One day of a few: SDs with their df."""
    return (
        f"  {date} {folder}: {many(pulls, 'pull')}, baseline {baseline}, pull SD {pull[0]}, {pull[1]} df; "
        f"install SD {install[0]}, {install[1]} df"
    )


def chart_line(what: str, outside: Sequence[str]) -> str:
    """The days outside the limits of one chart."""
    return f"Control chart: {many(len(outside), 'day')} with the {what} outside the limits{named(outside)}."


def by_chance_line(days: float) -> str:
    """How many days chance would put outside."""
    told = "under 0.1" if days < 0.1 else f"{days:.1f}"
    return f"  By chance {told} would be, of days that are all alike. A chart to look at, not a verdict."


NO_OUTLIER = "No pull lies outside the others of its day (Grubbs, 1 %)."


def outlier_line(pulls: Sequence[str]) -> str:
    """Pulls outside the others of their day."""
    return (
        f"{many(len(pulls), 'pull')} outside the others of the day (Grubbs, 1 %: by chance on 1 day in 100)"
        f"{named(pulls)}; still counted."
    )


def creep_line(show: Figures, ends: tuple[float, float], p: float, length: float, unit: str, change: float) -> str:
    """A steady change of the baseline over a time, or none to be seen.

    Parameters
    ----------
    show : Figures
    ends : (float, float)
        95 % interval of the change in one `unit`.
    p : float
    length : float
        Of the time, in `unit`.
    unit : {"day", "month"}
    change : float
        Over that time.
    """
    low, high = (show.found(end) for end in ends)
    interval = f"{low} to {high} a {unit}, p {p:.2g}"
    count = f"{length:.1f}" if unit == "month" and length < 10 else f"{length:.0f}"
    time = f"{count} {unit}{'' if count == '1' else 's'}"
    if p >= NOTABLE:
        return f"No creep of the baseline over {time} to be seen ({interval})."
    return (
        f"The baseline has crept {'down' if change < 0 else 'up'} by {show.found(abs(change), sign=False)} in {time}"
        f" ({interval}). "
        "Gains within a day don't suffer: each day has its own baseline."
    )


def left_out_line(folders: int, why: str) -> str:
    """Day folders that say nothing of the noise."""
    return f"Left out: {many(folders, 'day folder')}: {why}."


def broken_line(folders: int) -> str:
    """Day folders that can't be read."""
    return f"Left out: {many(folders, 'day folder')} that can't be read."
