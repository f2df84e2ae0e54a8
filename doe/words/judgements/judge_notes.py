"""What is noted of a judgement: each warning with its code, what it is about and its sentence.

To add one: a function here, and a call in `doe.analysis.judging.checks` (or where the thing is seen).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from doe.words.notes import Note
from doe.words.numbers import several, with_unit
from doe.words.phrases import listed
from doe.words.verdicts import NO_DIFFERENCE

OTHER_METRIC = "other-metric"  # what it shows decides nothing
NOT_FINISHED = "not-finished"  # a table of many days shows how far each is
NOT_NAMED = "days-not-named"  # and which of those planned together are over too, but were not named


def no_scatter_left() -> Note:
    """As many gains as pulls."""
    text = "every pull is needed to estimate the gains: nothing is left to see the scatter with"
    return Note("no-scatter-left", "", text, "serious")


def no_smallest_gain() -> Note:
    """Nobody said what would be worth having."""
    text = f"no smallest gain was stated, so '{NO_DIFFERENCE}' can't be a verdict"
    return Note("no-smallest-gain", "", text, "minor")


def joined(where: str, change: str, clock: str) -> Note:
    """A question that was added during the day."""
    text = f"{change} was added at {clock}, when the day was under way: sealed from then on, before its first pull"
    return Note("added", where or change, text, "minor")


def other_metric(metric: str, own: str, source: str | None) -> Note:
    """A metric that was not the one fixed before the first pull.

    Parameters
    ----------
    metric, own : str
    source : str or None
        Where day.toml has the noise of the metric from, "" where it doesn't say; None: it knows none.
    """
    noise = (
        f'; its noise is that of [noise.metric."{metric}"]{f" ({source})" if source else ""}'
        if source is not None
        else f'; nothing is known of its noise beforehand (\'doe noise STUDY --value "{own}" --value "{metric}"'
        " --save-to DAY' writes it)"
    )
    text = (
        f"{metric} is not the metric that this day is about ({own}): looked at beside it, it decides nothing, and of"
        f" several numbers one looks good by chance{noise}"
    )
    return Note(OTHER_METRIC, metric, text, "serious")


def correction_doubt(text: str) -> Note:
    """What is doubtful about a correction for the air on reading."""
    return Note("correction-doubt", "correct_to", text, "serious")


def correction_corrects(slope: float, low: float, high: float, pulls: int) -> Note:
    """The baseline followed the air as the standard says."""
    text = (
        f"the correction for the air corrects, as far as {pulls} baseline pulls can tell: they followed the air by"
        f" {slope:.2f} ({low:.2f} to {high:.2f}) of what the standard says"
    )
    return Note("correction-corrects", "correct_to", text, "minor")


def correction_leaves_over(slope: float, low: float, high: float, pulls: int) -> Note:
    """The baseline followed the air otherwise than the standard says."""
    text = (
        f"the correction for the air does not correct here: {pulls} baseline pulls followed the air by {slope:.2f}"
        f" ({low:.2f} to {high:.2f}) of what the standard says. It stays as it is; compare only what was pulled in"
        " like air"
    )
    return Note("correction-leaves-over", "correct_to", text, "serious")


def correction_untold(se: float | None) -> Note:
    """Too little air, or too few pulls in it."""
    known = "" if se is None else f" (it would be known to ±{2 * se:.1f} of what the standard says)"
    text = f"whether the correction for the air corrects, this day's baseline pulls can't tell{known}"
    return Note("correction-untold", "correct_to", text, "minor")


def no_times() -> Note:
    """A table without times."""
    return Note("no-times", "", "no times: a drift through the day can't be told from a gain", "serious")


def parts_act_together(
    names: tuple[str, str], beyond: float, p: float, alone: Sequence[tuple[str, float, float]], unit: str
) -> Note:
    """Two parts that give more or less together than their gains added up.

    Parameters
    ----------
    names : tuple of str
    beyond : float
        What they give beyond the sum.
    p : float
    alone : sequence of (change, gain, half-width)
        Each with the other off; the half-width is nan where there is no interval.
    unit : str
        Of the gains.
    """
    gains = []
    for change, gain, half in alone:
        bounds = f" ({gain - half:+.3g} to {gain + half:+.3g})" if math.isfinite(half) else ""
        gains.append(f"{change} with the other off {with_unit(f'{gain:+.3g}', unit)}{bounds}")
    text = (
        f"{names[0]} and {names[1]} together give {with_unit(f'{beyond:+.3g}', unit)} beyond their gains added up "
        f"(p = {p:.2g}). Outside the family: {'; '.join(gains)}"
    )
    return Note("parts-act-together", " and ".join(names), text, "serious")


def together_untold(pairs: Sequence[str]) -> Note:
    """Pairs whose company can't be told from something else."""
    text = (
        f"{'; '.join(pairs)}: whether they give more or less together than their gains added up can't be told from "
        "re-fits, drift and the gains themselves on these pulls; the gains are taken to add up"
    )
    return Note("together-untold", "; ".join(pairs), text, "minor")


def wander_df_assumed(sd: str, df: float) -> Note:
    """A wander SD that came without degrees of freedom."""
    return Note("wander-df-assumed", "wander", f"wander SD {sd} has no df: assumed, on {df:g} df", "minor")


def planned_minutes_taken(pulls: int) -> Note:
    """Pulls without a time whose run has one."""
    text = f"{several(pulls, 'pull')} without a time: the planned minutes are taken"
    return Note("planned-minutes", "", text, "minor")


def drift_taken_as_none(pulls: int) -> Note:
    """Pulls that neither log nor plan puts on the clock."""
    text = f"{several(pulls, 'pull')} with neither a time nor a planned run: drift is taken as none"
    return Note("no-minutes", "", text, "serious")


def equal_times(pulls: int) -> Note:
    """Rows of a table with the same time."""
    return Note("equal-times", "", f"{several(pulls, 'pull')} at the same time as another", "minor")


def drift_needs_times(drift: str) -> Note:
    """A drift that was asked for without times."""
    return Note("drift-needs-times", "drift", f"drift '{drift}' needs times: taken as none, in file order", "serious")


def all_times_equal() -> Note:
    """Times that tell nothing."""
    return Note("all-times-equal", "", "all times are equal: no drift can be seen", "serious")


def installs_from_runs() -> Note:
    """Fittings that were read off the order of the rows."""
    text = "no installs given: each unbroken run of one configuration is taken as one install"
    return Note("installs-from-runs", "", text, "serious")


def column_lumps_parts(column: str, parts: Sequence[str]) -> Note:
    """One install column for several refit parts."""
    text = (
        f"'{column}' counts the refits of {listed(parts)} together: each is taken as refitted only where its own level "
        "changes; a column of fittings for each would tell"
    )
    return Note("column-lumps-parts", column, text, "serious")


def parts_share_column(column: str, parts: Sequence[str]) -> Note:
    """The same install column for several refit parts."""
    text = (
        f"{listed(parts)} have the same fittings ('{column}'): one refit scatter is taken for them, as if they"
        " had always been refitted together"
    )
    return Note("parts-share-column", column, text, "serious")


def after_closing(day: str, pulls: int) -> Note:
    """Pulls made after the final judgement; `day` is named in a campaign."""
    text = f"{_of(day)}{several(pulls, 'counted pull')} came after the final judgement: logged, and left out"
    return Note("after-final", day, text, "serious")


def not_sealed(day: str) -> Note:
    """A day without a plan."""
    return Note("not-sealed", day, f"{_of(day)}no plan: nothing was sealed before the first pull", "serious")


def seal_broken(day: str, what: str) -> Note:
    """A day that is not as it was planned; `what` is from `doe.words.day.seal_words`."""
    return Note("seal-broken", day, f"{_of(day)}{what}", "serious")


def noise_of_first_day(day: str) -> Note:
    """A campaign whose days state different noise."""
    text = f"the days differ in [noise]: that of {day} is taken, the first of them"
    return Note("noise-differs", day, text, "serious")


def not_finished(made: int, planned: int, why: str) -> Note:
    """The plan is not finished, and nobody asked for a look."""
    progress = f"the plan is not finished ({made} of {planned} counted pulls)"
    return Note(NOT_FINISHED, progress, f"{progress}: {why}", "fatal")


def days_to_come(made: int, missing: Sequence[tuple[str, str]], why: str, all_over: str) -> Note:
    """Days, by folder and date, that were planned together with those that are judged, and share their risk.

    `all_over`: the line that judges them all, where none of them has hours to come; else "".
    """
    names = listed([f"{folder} ({date})" for folder, date in missing])
    absent = f"{names} {'is' if len(missing) == 1 else 'are'}"
    shared = "the days were planned together and share one risk, so the gains are shown when"
    if all_over:
        progress = f"{absent} not named ({several(made, 'counted pull')}); '{all_over}' judges the pulls of all days"
        return Note(NOT_NAMED, progress, f"{progress}: {shared} all are judged together; {why}", "fatal")
    progress = f"{absent} to come or not named ({several(made, 'counted pull')})"
    text = f"{progress}; {shared} all are done and judged together: {why}"
    return Note(NOT_FINISHED, progress, text, "fatal")


def not_over(made: int, finish: str) -> Note:
    """A day without a plan whose finish has not passed: nothing says that it is over."""
    progress = f"no plan, and not yet {finish}, the day's finish ({made} counted pulls)"
    return Note(NOT_FINISHED, progress, f"{progress}: no gains are shown before; --final ends the day", "fatal")


def _of(day: str) -> str:
    return f"{day}: " if day else ""
