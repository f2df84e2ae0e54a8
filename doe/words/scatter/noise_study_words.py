"""A noise study in a tester's words: what two pulls differ by, what a refit adds, what n pulls can be trusted to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from doe.words.numbers import several
from doe.words.phrases import columns
from doe.words.scatter.noise_words import Figures, drift_word
from doe.words.screen import Part, grid
from doe.words.significance import NOTABLE


def head(name: str, pulls: int, installs: int, days: int, mean: float, show: Figures, *, baseline: bool) -> str:
    """What was studied."""
    over = f", {several(days, 'day')}" if days > 1 else ""
    level = "baseline" if baseline else "mean (no baseline of its own: its parts were never apart)"
    return f"{name}: {several(pulls, 'pull')}, {several(installs, 'fitting')}{over}, {level} {show(mean)}"


def pull_lines(show: Figures, limit: float, interval: tuple[float, float], df: float, mean: float) -> list[str]:
    """The repeatability limit, and the pull SD that it comes from."""
    share = f" ({100 * show.pull_sd / abs(mean):.2g} % of the baseline)" if mean else ""
    return [
        f"Two pulls with nothing touched between them differ by less than {show(limit)}, 19 times in 20",
        "  (repeatability limit of ISO 5725-6: takes the SD for known).",
        f"  pull SD {show(show.pull_sd)}{share}, 95 % interval {show(interval[0])} to {show(interval[1])}, {df} df",
    ]


NO_LIMIT = "No scatter was seen inside the fittings: by how much two pulls differ by chance is not known."
REFIT_UNKNOWN = "What fitting the same parts again adds can't be known from these pulls."


def refit_lines(show: Figures, sd: float, interval: tuple[float, float], df: float, *, floored: bool) -> list[str]:
    """The install SD; `floored` where it is larger than the fittings show."""
    low, high = interval
    known = (
        [f"  95 % interval {show(low)} to {show(high)} (generalised), {df:.1f} df"]
        if high > 0
        else [
            f"  no 95 % interval (generalised), {df:.1f} df: the fittings agree more closely than their pulls can,",
            "  by luck (1 study in 40) or because numbers were copied; that is no proof of 0.",
        ]
    )
    return [
        f"Taking the parts off and fitting the same again adds a scatter of {show(sd)} (install SD).",
        *known,
        *(["  The fittings differ by no more than their pulls explain; 0.3 pull SDs is taken, to be safe."]
          if floored else []),
    ]  # fmt: skip


def day_lines(show: Figures, sd: float, days: Sequence[tuple[str, int, float, float | None, int]]) -> list[str]:
    """The day SD, then each day: name, pulls, mean, pull SD (None where there is no scatter) and its df."""
    lines = [f"Days differ by a scatter of {show(sd)} (day SD, {len(days)} days)."]
    for label, pulls, mean, pull_sd, df in days:
        spread = "no scatter to be seen" if pull_sd is None else f"pull SD {show(pull_sd)}, {df} df"
        lines.append(f"  {label}: {several(pulls, 'pull')}, mean {show(mean)}, {spread}")
    return lines


NO_TIMES = "No times, so nothing is known of the drift."


def drift_line(show: Figures, per_hour: float, interval: tuple[float, float], p: float) -> str:
    """The drift, and whether it is one."""
    low, high = (show(end, sign=True) for end in interval)
    return f"Drift {show(per_hour, sign=True)} an hour, 95 % interval {low} to {high} (p {p:.2g}): {drift_word(p)}."


def trusted_lines(
    show: Figures, rows: Sequence[tuple[int, float, float, float | None]], ranges: Mapping[int, float]
) -> list[Part]:
    """What a mean of n pulls can be trusted to, and what two such means must differ by.

    Parameters
    ----------
    rows : sequence of (pulls, limit of a mean, of two means, of two means refitted between)
        The last is None where nothing is known of refitting.
    ranges : mapping of pulls to their critical range
    """
    again = rows[0][3] is not None
    head = ["pulls", "their mean, within a fitting", "two means, nothing touched"]
    head += ["two means, refitted between"] if again else []
    table = [
        [str(n), f"+- {show(mean)}", show(two_means), *([show(refitted)] if refitted is not None else [])]
        for n, mean, two_means, refitted in rows
    ]
    shown = ", ".join(f"{n}: {show(size)}" for n, size in ranges.items())
    return [
        "What n pulls can be trusted to, 19 times in 20, with what is known of these SDs:",
        grid(head, table, right=range(len(head))),
        "  Highest minus lowest of n pulls stays below (ISO 5725-6: takes the SD for known)",
        f"  {shown}",
    ]


NO_OUTLIER = "No pull lies outside the others (Grubbs, 5 %)."
FITTINGS_AGREE = "The fittings agree in level and scatter (Cochran 5 %, Mandel's h and k 1 %)."


def outlier_remedy(row_word: str) -> str:
    """What to do about outliers."""
    remedy = "doe void PULL --why REASON in the folder of its day" if row_word == "pull" else "delete the row"
    return f"  Still counted. If there is a reason that does not lie in its value: {remedy}."


def level_shown(exponent: float, interval: tuple[float, float], p: float) -> str:
    """How the SD goes with the level, in figures."""
    return f"SD goes as level^{exponent:.2f}, 95 % interval {interval[0]:.2f} to {interval[1]:.2f}, p {p:.2g}"


def level_alike(figures: str) -> str:
    """The scatter is not shown to change with the level."""
    return f"The scatter is not shown to change with the level ({figures})."


def wander_not_looked_for(most: int) -> str:
    """Too many pulls to look for wander in."""
    return f"Wander is looked for in up to {most} pulls only."


def wander_unseen(show: Figures, p: float, seen_from: float | None, loudest: float) -> list[str]:
    """Wander that is not to be told from none, and what such a study would have seen (`loudest` not even that)."""
    there = "is there, but not as slow as verdicts take it (60 minutes)"
    told = there if p < NOTABLE else "is not to be told from none"
    seen = (
        f"Such a study finds not even a wander of {show(loudest)} as often as 8 times in 10."
        if seen_from is None
        else f"Such a study finds a wander of {show(seen_from)} 8 times in 10, a smaller one less often."
    )
    return [f"Wander (slow, random change) {told} (p {p:.2g}).", f"  {seen}"]


def covariate_lines(
    rows: Sequence[tuple[str, float | None, float | None, float | None, float | None, str]], by_chance: float
) -> list[str]:
    """What goes with the scatter, how easily chance does the same, and that nothing is corrected for it.

    Parameters
    ----------
    rows : sequence of (name, correlation, p, Holm's p, share of the pull variance, reason)
        The four numbers are None where a covariate was not looked at, for that reason.
    by_chance : float
        Share of studies of pure chance that show a p below 5 % for one of those looked at.
    """
    table = [("", "correlation", "p", "p (Holm)", "of the pull variance"), *(_cells(*row[:5]) for row in rows)]
    looked_at = sum(p is not None for _, _, p, *_ in rows)
    lines = ["", "What goes with the pull scatter (changes, drift and fittings taken out):", *columns(table)]
    lines += [f"  {name}: not looked at, {reason}" for name, *_, reason in rows if reason]
    if looked_at:
        lines += [
            f"  {_fishing(looked_at, by_chance)}",
            "  Nothing is corrected for them. What goes with the scatter is worth holding steady.",
        ]
    return lines


def _cells(
    name: str, correlation: float | None, p: float | None, holm_p: float | None, takes_out: float | None
) -> tuple[str, ...]:
    if correlation is None or p is None or holm_p is None or takes_out is None:
        return (name, "-", "-", "-", "-")
    return (name, f"{correlation:+.2f}", f"{p:.2g}", f"{holm_p:.2g}", f"{100 * takes_out:.0f} %")


def _fishing(looked_at: int, by_chance: float) -> str:
    if looked_at == 1:
        return "One looked at: 5 studies of pure chance in 100 show a p below 0.05."
    return (
        f"Of {looked_at} looked at, {100 * by_chance:.0f} studies of pure chance in 100 show one with a p below 0.05: "
        "go by Holm's p."
    )


def steadiest_lines(
    best: str, percent_sd: float, pulls: int, df: int, others: Iterable[tuple[str, float, float, float, float]]
) -> list[str]:
    """Which metric to go by, and what the others cost: name, pulls for each, their interval, SD in percent."""
    return [
        f"Steadiest for the same gain in percent: {best}, pull SD {percent_sd:.2g} % of its baseline "
        f"({pulls} pulls, {df} df).",
        *(_cost_line(best, *cost) for cost in others),
        "  It is taken for granted that a part changes each of them by the same percent.",
    ]


def _cost_line(best: str, name: str, pulls: float, low: float, high: float, percent_sd: float) -> str:
    cost = f"{pulls:.1f} pulls ({low:.1f} to {high:.1f}) for each pull of {best}"
    line = f"  {name} costs {cost}: pull SD {percent_sd:.2g} %"
    return line + ("; not to be told apart" if low < 1 else "")


def also_noted_lines(names: Sequence[str]) -> list[str]:
    """What else could be asked of the same pulls."""
    return [
        f"Also noted with every pull: {', '.join(names)}.",
        "  --value NAME studies one as a metric; --covariate NAME asks whether the scatter goes with it",
        "  (--covariate rest: the minutes since the pull before).",
    ]


def wander_seen(show: Figures, p: float, sd: float, df: float, time: tuple[float, float, float] | None) -> list[str]:
    """The engine or the cell wanders; `time` is the time constant and its interval, in minutes."""
    told = (
        "how fast it comes and goes can't be told from these pulls"
        if time is None
        else f"its time constant is roughly {time[0]:.0f} minutes ({time[1]:.0f} to {time[2]:.0f})"
    )
    return [
        f"The engine or the cell wanders (slow, random change; p {p:.2g}): wander SD {show(sd)},",
        f"  {df:.1f} df, at a time constant of 60 minutes, as verdicts take it; {told}.",
    ]


def wander_use(sd: float, df: float, mean: float) -> list[str]:
    """What to do with wander that is there."""
    percent = f" (where gains are in percent: {100 * sd / abs(mean):.2g})" if mean else ""
    return [
        f"  --save-to writes it into [noise] of the coming day: wander_sd = {sd:.3g}{percent}, wander_df = {df:.2g}",
        "  Part of it is in the refit scatter above as well: with both, intervals are longer than they need be.",
    ]
