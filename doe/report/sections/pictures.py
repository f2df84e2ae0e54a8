"""The pictures of the report, each narrow for a phone and wide for a desk and for paper, with a text that says them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from markupsafe import Markup
from matplotlib.figure import Figure

from doe.analysis.judging.curves.curve_result import Curves
from doe.analysis.judging.judgement import Gain, Judgement
from doe.analysis.scatter.metric_noise import DayScatter
from doe.report.day_figure import day_figure
from doe.report.inline_svg import inline_svg
from doe.report.sections.curve_figure import curve_figure
from doe.report.sections.day_parts import DayParts
from doe.report.sections.noise_section import baseline_band
from doe.report.sections.residual_figure import residual_figure
from doe.report.style import DESK, PHONE, house_style
from doe.report.verdict_figure import verdict_figure
from doe.words.judgements.curve_words import where_in_range
from doe.words.judgements.judgement_words import decimals
from doe.words.numbers import several, with_unit
from doe.words.numbers import signed_in_print as signed
from doe.words.report.answer_words import interval_text


def pictures(days: Sequence[DayParts], judgement: Judgement, scatter: DayScatter | None) -> dict[str, Any]:
    """Every figure, by the name that the page has for it."""
    curves = judgement.curves
    with house_style():
        return {
            "verdict_svg": "" if judgement.withheld or not judgement.changes else _verdicts(judgement),
            "curve_svg": "" if not (curves and curves.changes) else _curves(curves),
            "day_svgs": [_day(parts, judgement, number) for number, parts in enumerate(days, start=1)],
            "residual_svg": _residuals(scatter, judgement.unit) if scatter else "",
        }


def _verdicts(judgement: Judgement) -> Markup:
    words = "; ".join(_alt(gain, judgement) for gain in judgement.changes)
    return _both(
        "verdicts",
        f"The gain of each change with its interval. {words}.",
        lambda width: verdict_figure(judgement, width),
    )


def _curves(curves: Curves) -> Markup:
    told = "; ".join(f"{change.factor} {change.level}: {where_in_range(change, curves)}" for change in curves.changes)
    return _both(
        "curves",
        f"The gain of each change over rpm with its band, and below every pull's {curves.quantity}. {told}.",
        lambda width: curve_figure(curves, width),
    )


def _day(parts: DayParts, judgement: Judgement, number: int) -> Markup:
    band, noted = baseline_band(parts, judgement), _noted(parts, judgement)
    return _both(
        f"day{number}",
        _alt_day(parts),
        lambda width: day_figure(parts.day, parts.pulls, width, band=band, noted=noted),
    )


def _residuals(scatter: DayScatter, unit: str) -> Markup:
    spread = with_unit(f"{2 * scatter.scatter.pull_sd:.2g}", unit)
    return _both(
        "residuals",
        f"What the model leaves of each of {several(len(scatter.residuals), 'pull')}, in the order of making and"
        f" against normal scatter; two standard deviations are {spread}.",
        lambda width: residual_figure(scatter, unit, width),
    )


def _both(name: str, description: str, draw: Callable[[float], Figure]) -> Markup:
    """The narrow and the wide picture; the page shows one of them."""
    narrow, wide = (
        inline_svg(draw(width), f"{name}-{kind}", description) for kind, width in (("phone", PHONE), ("desk", DESK))
    )
    return Markup(f'<div class="narrow">{narrow}</div><div class="broad">{wide}</div>')


def _alt(gain: Gain, judgement: Judgement) -> str:
    """One change of the first picture, for those who can't see it."""
    name, digits = f"{gain.factor} {gain.level}: {gain.verdict}", decimals(judgement)
    if gain.gain is None:
        return name
    return f"{name}, {signed(gain.gain, digits, judgement.gain_unit)} {interval_text(gain, digits)}".rstrip()


def _alt_day(parts: DayParts) -> str:
    """What the picture of a day shows."""
    metric = parts.day.metric.name
    counted = [p.values[metric] for p in parts.pulls if p.counts and metric in p.values]
    installs = len({pull.install for pull in parts.pulls})
    where = f" of {parts.name}" if parts.name else ""
    spread = (
        f", from {min(counted):.6g} to {with_unit(f'{max(counted):.6g}', parts.day.metric.unit)}" if counted else ""
    )
    return (
        f"Every pull{where} against the clock, and what was fitted when: {several(len(counted), 'pull')} that count"
        f"{spread}, {several(installs, 'fitting')}, {several(sum(p.void is not None for p in parts.pulls), 'void')}."
    )


def _noted(parts: DayParts, judgement: Judgement) -> set[int]:
    """Numbers of the pulls that a warning speaks of."""
    place = f"{parts.name}/" if parts.name else ""
    known = {f"{kind}{place}{pull.number}": pull.number for pull in parts.pulls for kind in ("pull ", "")}
    notes = [*judgement.all_notes, *parts.notes]
    return {known[note.where] for note in notes if note.where in known}
