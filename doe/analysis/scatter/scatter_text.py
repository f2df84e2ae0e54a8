"""In a tester's words: wander, what goes with the scatter, whether it grows with the level, the steadiest metric."""

from __future__ import annotations

from doe.analysis.scatter.covariates import Covariate, by_chance
from doe.analysis.scatter.noise_words import shown
from doe.analysis.scatter.steadiest import Cost, Steadiest
from doe.analysis.scatter.study import MetricNoise, NoiseStudy
from doe.analysis.scatter.wander import MOST_PULLS, Wander
from doe.analysis.scatter.wander_evidence import LOUDEST

_NOTABLE = 0.05


def wander_lines(m: MetricNoise) -> list[str]:
    """Slow, random change: how large, how slow, what to do with it; or what this study would have seen."""
    if m.wander is None:
        many = m.drift is not None and m.pulls > MOST_PULLS
        return [f"Wander is looked for in up to {MOST_PULLS} pulls only."] if many else []
    if m.wander.shown:
        return [*_wander_head(m, m.wander), *_wander_use(m, m.wander)]
    told = (
        "is there, but not as slow as verdicts take it (60 minutes)"
        if m.wander.p < _NOTABLE
        else "is not to be told from none"
    )
    return [f"Wander (slow, random change) {told} (p {m.wander.p:.2g}).", f"  {_seen_from(m, m.wander)}"]


def _seen_from(m: MetricNoise, w: Wander) -> str:
    if w.seen_from is None:
        return f"Such a study finds not even a wander of {shown(m, LOUDEST * m.pull_sd)} as often as 8 times in 10."
    return f"Such a study finds a wander of {shown(m, w.seen_from)} 8 times in 10, a smaller one less often."


def _wander_head(m: MetricNoise, w: Wander) -> list[str]:
    time = (
        "how fast it comes and goes can't be told from these pulls"
        if w.time is None
        else f"its time constant is roughly {w.time.minutes:.0f} minutes ({w.time.low:.0f} to {w.time.high:.0f})"
    )
    return [
        f"The engine or the cell wanders (slow, random change; p {w.p:.2g}): wander SD {shown(m, w.sd)},",
        f"  {w.df:.1f} df, at a time constant of 60 minutes, as verdicts take it; {time}.",
    ]


def _wander_use(m: MetricNoise, w: Wander) -> list[str]:
    percent = f" (where gains are in percent: {100 * w.sd / abs(m.mean):.2g})" if m.mean else ""
    return [
        f"  Not written by --save-to. By hand, in [noise] of the coming day: wander_sd = {w.sd:.3g}{percent}, "
        f"wander_df = {w.df:.2g}",
        "  Part of it is in the refit scatter above as well: with both, intervals are longer than they need be.",
    ]


def level_line(m: MetricNoise) -> list[str]:
    """Whether the SD grows with the level; nothing where the levels are too alike."""
    found = m.level_scatter
    if found is None:
        return []
    size = f"SD goes as level^{found.exponent:.2f}, 95 % interval {found.low:.2f} to {found.high:.2f}, p {found.p:.2g}"
    if found.p >= _NOTABLE:
        return [f"The scatter is not shown to change with the level ({size})."]
    if found.exponent < 0:
        return [f"The scatter falls with the level ({size}): one SD for all levels misleads."]
    return [f'The scatter grows with the level ({size}): compare in percent (scale = "percent").']


def covariate_lines(m: MetricNoise) -> list[str]:
    """What goes with the scatter, how easily chance does the same, and that nothing is corrected for it."""
    if not m.covariates:
        return []
    told = [c for c in m.covariates if c.p is not None]
    rows = [("", "correlation", "p", "p (Holm)", "of the pull variance"), *(_covariate_row(c) for c in m.covariates)]
    widths = [max(len(row[i]) for row in rows) for i in range(5)]
    lines = ["", "What goes with the pull scatter (changes, drift and fittings taken out):"]
    lines += ["  " + "  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    lines += [f"  {c.name}: not looked at, {c.reason}" for c in m.covariates if c.reason]
    if told:
        lines += [
            f"  {_fishing(len(told))}",
            "  Nothing is corrected for them. What goes with the scatter is worth holding steady.",
        ]
    return lines


def _covariate_row(c: Covariate) -> tuple[str, ...]:
    if c.p is None or c.correlation is None or c.holm_p is None or c.takes_out is None:
        return (c.name, "-", "-", "-", "-")
    return (c.name, f"{c.correlation:+.2f}", f"{c.p:.2g}", f"{c.holm_p:.2g}", f"{100 * c.takes_out:.0f} %")


def _fishing(looked_at: int) -> str:
    if looked_at == 1:
        return "One looked at: 5 studies of pure chance in 100 show a p below 0.05."
    return (
        f"Of {looked_at} looked at, {100 * by_chance(looked_at):.0f} studies of pure chance in 100 show one with a p "
        "below 0.05: go by Holm's p."
    )


def steadiest_lines(found: Steadiest | None) -> list[str]:
    """Which metric to go by, and what the others cost."""
    if found is None:
        return []
    return [
        f"Steadiest for the same gain in percent: {found.name}, pull SD {found.percent_sd:.2g} % of its baseline "
        f"({found.pulls} pulls, {found.df} df).",
        *(_cost_line(cost, found.name) for cost in found.others),
        "  It is taken for granted that a part changes each of them by the same percent.",
    ]


def _cost_line(cost: Cost, best: str) -> str:
    line = (
        f"  {cost.name} costs {cost.pulls:.1f} pulls ({cost.low:.1f} to {cost.high:.1f}) for each pull of {best}: "
        f"pull SD {cost.percent_sd:.2g} %"
    )
    return line + ("; not to be told apart" if cost.low < 1 else "")


def also_noted(study: NoiseStudy) -> list[str]:
    """What else could be asked of the same pulls."""
    if not study.also_noted:
        return []
    return [
        f"Also noted with every pull: {', '.join(study.also_noted)}.",
        "  --value NAME studies one as a metric; --covariate NAME asks whether the scatter goes with it",
        "  (--covariate rest: the minutes since the pull before).",
    ]
