"""The report: one self-contained page of a day or a campaign, for a customer or an editor, on a phone or on paper."""

from __future__ import annotations

import platform
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any, Literal

import doe
from doe.analysis.judging.curves.curve_result import Curves
from doe.analysis.judging.judgement import Gain, Judgement, NoiseEstimate
from doe.analysis.scatter.metric_noise import DayScatter, day_scatter
from doe.analysis.trials.campaign import read_days
from doe.day.files.seal import check_seal
from doe.day.schema import DayFile
from doe.day.storage import only_writer, write_atomically
from doe.errors import InputError
from doe.report.cautions import FIRST, Caution, cautions_for
from doe.report.rendering import render
from doe.report.sections.answer_costs import answer_costs
from doe.report.sections.as_done import sets_of, unplanned
from doe.report.sections.day_parts import DayParts, day_parts, was_logged_since
from doe.report.sections.every_pull import embedded, has_words, pull_rows
from doe.report.sections.noise_section import could_show, noise_rows, one_and_one, scatter_data
from doe.report.sections.pictures import pictures
from doe.report.sections.story import story, summary_of
from doe.report.style import INK, VERDICT_LOOKS
from doe.words.day.seal_words import seal_broken
from doe.words.judgements.curve_words import banded, meaning, where_in_range
from doe.words.judgements.judge_screen import what_to_do
from doe.words.judgements.judgement_words import (
    comments,
    decimals,
    firm_line,
    interval_levels,
    look_words,
    method_words,
    no_gain,
    reading,
)
from doe.words.judgements.rests_on import assumptions, noise_source
from doe.words.judgements.second_opinion_words import ROBUST, opinion_rows
from doe.words.notes import pressing, texts
from doe.words.numbers import percent, several, with_unit
from doe.words.numbers import signed_in_print as signed
from doe.words.phrases import capital, sentence
from doe.words.report import report_notes
from doe.words.report.answer_words import answer, interval_text
from doe.words.report.story_words import held_back

REPORT, CUSTOMERS, CAMPAIGN = "report.html", "report-customer.html", "campaign.html"
Reader = Literal["file", "customer"]

_LIBRARIES = ("numpy", "scipy", "matplotlib")


def write_report(folder: Path | Sequence[Path], judgement: Judgement, reader: Reader = "file") -> Path:
    """Write the report page of a judged day into its folder, that of a campaign into the folder of its last day.

    Parameters
    ----------
    folder : Path or sequence of Path
    judgement : Judgement
        Of just these days.
    reader : {"file", "customer"}
        The customer's copy has a name of its own, and holds back what testers typed in words.

    Returns
    -------
    Path
        Of the page.

    Raises
    ------
    InputError
        A file of a folder is wrong, or something was logged meanwhile.
    DoeError
        The folder can't be written in, or another process holds it.
    """
    folders = [folder] if isinstance(folder, Path) else list(folder)
    read = read_days(folders)
    days = [day_parts(one, alone=len(read) == 1) for one in read]
    scatter = day_scatter(read, judgement.metric)
    name = CUSTOMERS if reader == "customer" else REPORT
    if len(read) > 1:
        name = name.replace("report", CAMPAIGN.removesuffix(".html"))
    path, page = read[-1].folder / name, report_page(days, judgement, scatter, reader)
    with only_writer(path.parent):
        late = [one.folder for one, parts in zip(read, days, strict=True) if was_logged_since(one, parts)]
        if late:
            raise InputError(
                f"{late[0]}: something was logged while the page was made; 'doe report' again shows it too"
            )
        write_atomically(path, page)
    return path


def nothing_judged(folders: Sequence[Path], why: str) -> Judgement:
    """What stands in the place of a judgement where there is nothing to judge, with the reason as its only note.

    Raises
    ------
    InputError
        A file of a folder is wrong.
    """
    days = read_days(list(folders))
    day = days[0].day
    counted = [pull for one in days for pull in one.pulls if pull.counts]
    for one in days:  # the page goes to a customer, who has no such folder
        why = why.replace(str(one.folder), one.folder.resolve().name)
    return Judgement(
        metric=day.metric.name,
        scale=day.metric.scale,
        unit=day.metric.unit,
        gain_unit="%" if day.metric.scale == "percent" else day.metric.unit,
        better=day.metric.better,
        confidence=day.analysis.confidence,
        method="auto",
        pulls=len(counted),
        installs=len({pull.install for pull in counted}),
        noise=NoiseEstimate(None, None, None, None),
        baseline_mean=None,
        baseline_se=None,
        changes=(),
        notes=(report_notes.nothing_to_judge(why),),
    )


def report_page(
    days: Sequence[DayParts], judgement: Judgement, scatter: DayScatter | None = None, reader: Reader = "file"
) -> str:
    """Return the page as HTML; same days, same page."""
    first = days[0].day
    reasons = reader == "file"
    costs = answer_costs(days, judgement)
    warned = _warnings(days, judgement, reasons=reasons)
    bearing = [line for line in texts(pressing(judgement.notes)) if judgement.changes and line in warned]
    taken_out = sum(pull.void is not None for parts in days for pull in parts.pulls)
    return render(
        "report.html.j2",
        title=_title(days),
        date=_dates(days),
        basis=_basis(judgement),
        confidence=interval_levels(judgement),
        withheld=judgement.withheld,
        lead=what_to_do(judgement),
        changes=[_change(first, gain, judgement, costs) for gain in judgement.changes],
        reading=[
            *look_words(judgement),
            *reading(judgement),
            *firm_line(judgement),
            *([judgement.unkept] if judgement.unkept else []),
        ],
        curves=_curves(judgement.curves),
        noise=noise_rows(judgement, scatter),
        one_and_one=one_and_one(first, judgement),
        could_show=could_show(judgement),
        noise_source=noise_source(first),
        days=[_day(parts, reasons=reasons) for parts in days],
        voids_held=held_back(taken_out) if taken_out and not reasons else "",
        warnings=[sentence(line) for line in warned if line not in bearing],
        pressing=[*map(sentence, bearing)],
        assumptions=assumptions(first, judgement.sealed),
        who=_who(days),
        photos=[photo for parts in days for photo in parts.photos],
        method=method_words(judgement) if judgement.changes else "",
        opinion=_opinion(judgement),
        metric=with_unit(judgement.metric, f"[{judgement.unit}]" if judgement.unit else ""),
        has_words=reasons and has_words(days),
        safety_first=FIRST,
        cautions=_cautions(days),
        version=doe.__version__,
        versions=_versions(),
        data=embedded(
            judgement.to_dict(), days, {"residuals": scatter_data(scatter), "doe": doe.__version__}, reasons=reasons
        ),
        ink=INK,
        **pictures(days, judgement, scatter),
    )


def _curves(curves: Curves | None) -> dict[str, Any] | None:
    """Where in the range each change gains; nothing where no curves were asked for, or no gain is shown."""
    if curves is None or not (curves.changes or curves.notes):
        return None
    rows = [(f"{one.factor}: {one.level}", sentence(where_in_range(one, curves))) for one in curves.changes]
    return {
        "rows": rows,
        "meaning": meaning(curves) if banded(curves) else "",
        "notes": [*map(sentence, texts(curves.notes))],
    }


def _opinion(judgement: Judgement) -> dict[str, Any] | None:
    """The same pulls by other software, and the raw p of every check; nothing where no gain is shown."""
    opinion = judgement.second_opinion
    if opinion is None:
        return None
    rows = opinion_rows(judgement.changes, opinion, decimals(judgement), signed)
    reasons = {why for *_, why in rows}
    return {
        "software": opinion.software,
        "model": opinion.model,
        "unit": judgement.gain_unit,
        "rows": rows,
        "why": sentence(reasons.pop()) if len(reasons) == 1 and "" not in reasons else "",  # the same for all: once
        "robust": ROBUST,
        "checks": [f"{one.check} {one.p:.2g}" for one in judgement.checks if one.p is not None],
    }


def _title(days: Sequence[DayParts]) -> str:
    titles = list(dict.fromkeys(parts.day.day.title for parts in days if parts.day.day.title))
    if len(days) > 1:
        return f"{titles[0] if titles else 'Days on the dyno'}: {len(days)} days"
    return titles[0] if titles else "Day on the dyno"


def _dates(days: Sequence[DayParts]) -> str:
    shown = [*map(_date, days)]
    return shown[0] if len(set(shown)) == 1 else f"{shown[0]} to {shown[-1]}"


def _date(parts: DayParts) -> str:
    return f"{parts.day.day.date:%d %B %Y}".lstrip("0")


def _basis(judgement: Judgement) -> str:
    mean = judgement.baseline_mean
    baseline = "" if mean is None else f"; baseline {with_unit(f'{mean:.1f}', judgement.unit)}"
    counted = f"{judgement.pulls} counted pull{'s' * (judgement.pulls != 1)}"
    return f"{capital(judgement.metric)}, {counted}, {several(judgement.installs, 'fitting')} of parts{baseline}."


def _change(day: DayFile, gain: Gain, judgement: Judgement, costs: Mapping[tuple[str, str], str]) -> dict[str, Any]:
    digits, unit = decimals(judgement), judgement.gain_unit
    told = answer(gain, digits, unit, judgement.better)
    untold = gain.smallest_gain and not told
    worth = [f"Worth having from {with_unit(f'{gain.smallest_gain:g}', unit)}."] if untold else []
    remarks = texts(gain.notes) if gain.gain is None else comments(gain, judgement, sized=not told, firm=False)
    return {
        "name": f"{gain.factor}: {gain.level}",
        "baseline": day.baseline.get(gain.factor, ""),
        "verdict": gain.verdict,
        "colour": VERDICT_LOOKS[gain.verdict][0],
        "answer": capital(told),
        "gain": no_gain(gain) if gain.gain is None else signed(gain.gain, digits, unit),
        "interval": interval_text(gain, digits),
        "remarks": [*map(sentence, remarks), *worth, *filter(None, [costs.get((gain.factor, gain.level), "")])],
    }


def _day(parts: DayParts, *, reasons: bool) -> dict[str, Any]:
    """What the page tells of one day."""
    sets = list(sets_of(parts))
    in_force = [line for line in sets if not line.replaced]
    made, asked = sum(line.made for line in in_force), sum(line.planned for line in in_force)
    return {
        "name": parts.name,
        "heading": f"{_date(parts)}: {parts.name}" if parts.name else "The day as it happened",
        "story": story(parts, reasons=reasons),
        "planned": parts.plan is not None,
        "summary": summary_of(parts, made, asked, unplanned(parts.pulls)) if parts.stages else "",
        "questions": [_promise(question, parts.day) for question in _asked(parts)],
        "sets": sets,
        "seal": _seal(parts),
        "pulls": pull_rows(parts, reasons=reasons),
        "head": parts.head,
        "traces": parts.day.traces is not None,
    }


def _asked(parts: DayParts) -> Sequence[dict[str, Any]]:
    """What the first plan promised."""
    return parts.stages[0].document.get("questions") or () if parts.stages else ()


def _seal(parts: DayParts) -> str:
    """Whether day.toml is as it was planned, and what is not."""
    if parts.plan is None:
        return ""
    seal = check_seal(parts.plan.document, parts.day)
    return "" if seal.whole else capital(seal_broken(seal))


def _promise(question: dict[str, Any], day: DayFile) -> dict[str, str]:
    unit = "%" if day.metric.scale == "percent" else day.metric.unit
    shown, worth = question["detectable_gain"], question["smallest_gain"]
    return {
        "name": f"{question['factor']}: {question['level']}",
        "worth": f"worth having from {with_unit(f'{worth:g}', unit)}" if worth else "no smallest gain stated",
        "shown": "left out" if question["dropped"] else "nothing" if shown is None else with_unit(f"{shown:.2g}", unit),
        "if_worth_having": _chance(question["family_power"]),
        "if_nothing": _chance(question["no_difference_power"]),
    }


def _chance(power: float | None) -> str:
    return "unknown" if power is None else percent(power, exact=True)


def _warnings(days: Sequence[DayParts], judgement: Judgement, *, reasons: bool) -> list[str]:
    """Every warning once; those of the log are in the judgement of a day too."""
    plans = [caution for parts in days if parts.plan for caution in parts.plan.document.get("cautions", [])]
    logs = [note.text for parts in days if not parts.name for note in parts.notes]
    every = [*judgement.warnings, *logs, *plans]
    typed = [pull.void for parts in days for pull in parts.pulls if pull.void] if not reasons else []
    return [line for line in dict.fromkeys(every) if not any(words in line for words in typed)]


def _who(days: Sequence[DayParts]) -> list[tuple[str, str]]:
    """Engine, fuel, cell and people, as day.toml names them; what differs between days side by side."""
    rows = {
        "Engine": [parts.day.engine.name if parts.day.engine else "" for parts in days],
        "Fuel": [parts.day.engine.fuel if parts.day.engine else "" for parts in days],
        "Customer": [parts.day.people.customer if parts.day.people else "" for parts in days],
        "Operator": [parts.day.people.operator if parts.day.people else "" for parts in days],
        "Cell": [parts.day.cell.name for parts in days],
    }
    return [(name, "; ".join(dict.fromkeys(filter(None, said)))) for name, said in rows.items() if any(said)]


def _cautions(days: Sequence[DayParts]) -> tuple[Caution, ...]:
    return tuple(dict.fromkeys(caution for parts in days for caution in cautions_for(parts.day)))


def _versions() -> str:
    """What the page was computed with."""
    libraries = ", ".join(f"{name} {version(name)}" for name in _LIBRARIES)
    return f"Python {platform.python_version()}, {libraries}"
