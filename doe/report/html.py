"""The report: one self-contained page with the verdicts, for a customer or an editor, on a phone or on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from markupsafe import Markup

import doe
from doe.analysis.judging.judgement import Gain, Judgement
from doe.analysis.trials.corrected import corrected_pulls
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import PullLog, read_log
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.day.storage import only_writer, write_atomically
from doe.errors import InputError
from doe.report.as_done import stint_lines, unplanned
from doe.report.cautions import FIRST, cautions_for
from doe.report.day_figure import day_figure
from doe.report.inline_svg import inline_svg
from doe.report.rendering import render
from doe.report.style import INK, VERDICT_LOOKS, house_style
from doe.report.verdict_figure import verdict_figure
from doe.words.fitted import changed_text
from doe.words.judgements.judgement_words import comments, decimals, interval_levels, look_words, no_gain, reading
from doe.words.judgements.rests_on import assumptions, noise_source
from doe.words.notes import texts
from doe.words.numbers import percent, with_unit
from doe.words.numbers import signed_in_print as signed
from doe.words.phrases import capital, sentence

REPORT = "report.html"
_NOT_SHOWN = "plan.json is missing, so nothing shows how the order was drawn, what was promised, or what was sealed."


def write_report(folder: Path, judgement: Judgement) -> Path:
    """Write the report page of a judged day folder into it; return the page's path.

    Raises
    ------
    InputError
        A file of the folder is wrong, or something was logged meanwhile.
    DoeError
        The folder can't be written in, or another process holds it.
    """
    day = read_day_file(folder)
    plan = followed_plan(folder, day)
    log = read_log(folder, day, plan)
    page = report_page(day, plan, replace(log, pulls=corrected_pulls(day, log.pulls)[0]), judgement)
    with only_writer(folder):
        if read_log(folder, day, plan).pulls != log.pulls:
            raise InputError(f"{folder}: something was logged while the page was made; 'doe report' again shows it too")
        write_atomically(folder / REPORT, page)
    return folder / REPORT


def report_page(day: DayFile, plan: PlanFile | None, log: PullLog, judgement: Judgement) -> str:
    """Return the page as HTML; same day, same page."""
    return render(
        "report.html.j2",
        title=day.day.title or "Day on the dyno",
        date=f"{day.day.date:%d %B %Y}".lstrip("0"),
        basis=_basis(judgement),
        confidence=interval_levels(judgement),
        withheld=judgement.withheld,
        changes=[_change(day, gain, judgement) for gain in judgement.changes],
        reading=[*look_words(judgement), *reading(judgement), *([judgement.unkept] if judgement.unkept else [])],
        noise=_noise(judgement),
        noise_source=noise_source(day),
        plan=_plan(day, plan, log.pulls) if plan else None,
        voids=_voids(day, log.pulls),
        warnings=_warnings(plan, log, judgement),
        assumptions=assumptions(day, judgement.sealed),
        safety_first=FIRST,
        cautions=cautions_for(day),
        version=doe.__version__,
        head=log.head,
        ink=INK,
        **_pictures(day, log.pulls, judgement),
    )


def _pictures(day: DayFile, pulls: Sequence[Pull], judgement: Judgement) -> dict[str, Any]:
    words = "; ".join(f"{gain.factor} {gain.level}: {gain.verdict}" for gain in judgement.changes)
    with house_style():
        verdicts = inline_svg(verdict_figure(judgement), "verdicts", f"Gains with their intervals. {words}.")
        hours = inline_svg(day_figure(day, pulls), "day", "Every pull against the clock, and what was fitted when.")
    return {"verdict_svg": Markup(verdicts), "day_svg": Markup(hours)}


def _basis(judgement: Judgement) -> str:
    mean = judgement.baseline_mean
    baseline = "" if mean is None else f"; baseline {with_unit(f'{mean:.1f}', judgement.unit)}"
    pulls = f"{judgement.pulls} counted pulls, {judgement.installs} fittings of parts"
    return f"{capital(judgement.metric)}, {pulls}{baseline}."


def _change(day: DayFile, gain: Gain, judgement: Judgement) -> dict[str, Any]:
    digits, unit = decimals(judgement), judgement.gain_unit
    worth = [f"Worth having from {with_unit(f'{gain.smallest_gain:g}', unit)}."] if gain.smallest_gain else []
    remarks = texts(gain.notes) if gain.gain is None else comments(gain, judgement)
    return {
        "name": f"{gain.factor}: {gain.level}",
        "baseline": day.baseline[gain.factor],
        "verdict": gain.verdict,
        "colour": VERDICT_LOOKS[gain.verdict][0],
        "gain": no_gain(gain) if gain.gain is None else signed(gain.gain, digits, unit),
        "interval": _interval(gain, digits),
        "remarks": [*map(sentence, remarks), *worth],
    }


def _interval(gain: Gain, digits: int) -> str:
    low, high = gain.family_low, gain.family_high
    return "" if low is None or high is None else f"({signed(low, digits)} to {signed(high, digits)})"


def _noise(judgement: Judgement) -> list[tuple[str, str, str]]:
    noise, unit = judgement.noise, judgement.gain_unit
    refitting = "what taking parts off and fitting them again adds (standard deviation)"
    sizes = (
        ("Pull-to-pull scatter", noise.pull_sd, "how far pulls of the untouched engine lie apart (standard deviation)"),
        ("Refit scatter", noise.install_sd, refitting),
        *((f"Refit scatter of the {name}", sd, refitting) for name, sd in (noise.install_sds or {}).items()),
        ("Wander", noise.wander_sd, "slow, random change, over about an hour (standard deviation)"),
    )
    rows = [(name, with_unit(f"{size:.2g}", unit), meaning) for name, size, meaning in sizes if size is not None]
    if noise.drift_per_hour is not None:
        rows.append(("Drift", f"{signed(noise.drift_per_hour, 2, unit)} per hour", "steady change through the day"))
    return rows


def _plan(day: DayFile, plan: PlanFile, pulls: Sequence[Pull]) -> dict[str, Any]:
    stints = stint_lines(day, plan.runs, pulls)
    planned, made, extra = sum(s.planned for s in stints), sum(s.made for s in stints), unplanned(pulls)
    summary = f"{made} of {planned} planned pulls were made and count."
    summary += f" {extra} more were not in the plan." if extra else ""
    seed = plan.document.get("seed")
    drawn = f"The order was drawn at random with seed {seed}." if seed is not None else _NOT_SHOWN
    return {
        "summary": f"{summary} {drawn}",
        "questions": [_promise(question, day) for question in plan.document.get("questions", ())],
        "stints": stints,
    }


def _promise(question: dict[str, Any], day: DayFile) -> dict[str, str]:
    unit = "%" if day.metric.scale == "percent" else day.metric.unit
    shown, worth = question["detectable_gain"], question["smallest_gain"]
    return {
        "name": f"{question['factor']}: {question['level']}",
        "worth": f"worth having from {with_unit(f'{worth:g}', unit)}" if worth else "no smallest gain stated",
        "shown": "dropped" if question["dropped"] else "nothing" if shown is None else with_unit(f"{shown:.2g}", unit),
        "if_worth_having": _chance(question["family_power"]),
        "if_nothing": _chance(question["no_difference_power"]),
    }


def _chance(power: float | None) -> str:
    return "unknown" if power is None else percent(power, exact=True)


def _voids(day: DayFile, pulls: Sequence[Pull]) -> list[str]:
    return [
        f"Pull {pull.number} ({changed_text(pull.configuration, day.baseline)}): {pull.void}."
        for pull in pulls
        if pull.void is not None
    ]


def _warnings(plan: PlanFile | None, log: PullLog, judgement: Judgement) -> list[str]:
    cautions = plan.document.get("cautions", []) if plan else []
    return list(dict.fromkeys([*judgement.warnings, *log.warnings, *cautions]))
