"""A plan in ten seconds: what first and until when, what to bring, what each question has for a chance, the clock."""

from __future__ import annotations

from collections.abc import Mapping

from doe.words.day.bring_words import bring_line
from doe.words.notes import pressing, texts
from doe.words.numbers import duration, several, times_in_hundred, with_unit
from doe.words.phrases import capital, listed, sentence
from doe.words.plans.clock_table import Clock, day_grid, day_remarks
from doe.words.plans.plan_notes import WITH_OTHER_DAYS
from doe.words.plans.plan_words import as_well_lines, drop_text, outlook_lines, replaced_lines, room_line
from doe.words.plans.planned import Drop, Plan, Question
from doe.words.plans.study_words import study_line
from doe.words.plans.wish_words import wish_lines
from doe.words.screen import Cell, Grid, Part, Screen, Tone, grid
from doe.words.verdicts import LOWER, NO_DIFFERENCE, REAL_GAIN, heading

_HEAD = ("question", "worth having", "if it gives that", "if it gives nothing")
_USUAL = "8 in 10"  # how often a gain is found that a question without a smallest gain is told


def plan_screen(plan: Plan, unit: str, clock: Clock) -> Screen:
    """What a plan says first.

    Parameters
    ----------
    plan : Plan
    unit : str
        Of the gains.
    clock : callable
        The time of day, "HH:MM", at a minute of the day.
    """
    parts: list[Part] = [plan.drawn_before] if plan.drawn_before else []
    needs = bring_line(plan.needs, {} if plan.replaced else plan.day.baseline)
    if lines := [*([needs] if needs else []), *outlook_lines(plan, unit)[:1]]:
        parts.append("\n".join(lines))
    if plan.questions:
        parts.append(_question_grid(plan, unit))
    warned = [f"Caution: {text}" for text in texts(pressing(plan.notes))]
    if plan.replaced is not None and plan.replaced.ways:
        parts.append("\n".join(replaced_lines(plan, clock)))
    if counted := [sentence(note.text) for note in plan.notes if note.code == WITH_OTHER_DAYS]:
        parts.append("\n".join(counted))
    if lines := [*_open_lines(plan), *_study(plan, unit), *warned]:
        parts.append("\n".join(lines))
    parts += [_day_line(plan), day_grid(plan, clock)]
    if remarks := day_remarks(plan):
        parts.append("\n".join(remarks))
    return Screen(_what_to_do(plan, clock), tuple(parts))


def _what_to_do(plan: Plan, clock: Clock) -> str:
    """How many questions, until when, and what first."""
    done = clock(plan.runs[-1].minute)
    fittings = plan.runs[-1].install - plan.runs[0].install + 1
    asked = [question for question in plan.questions if not (question.dropped or _given_up(question, plan))]
    if plan.replaced is not None:
        what = f"the rest from {clock(plan.replaced.minute)}, {plan.replaced.taken}: {several(len(asked), 'question')}"
    elif plan.questions:
        what = several(len(asked), "question")
    else:
        what = f"a noise study, the same parts on {several(fittings, 'fitting')}"
    spare = plan.minutes_available - plan.minutes_used
    time = f"{duration(spare)} to spare" if spare >= 1 else ""
    left_out, given_up = (
        f"{listed([f'{question.factor} {question.level}' for question in some])} {what}" if some else ""
        for some, what in (
            ([question for question in plan.questions if question.dropped], "left out"),
            ([question for question in plan.questions if _given_up(question, plan)], "dropped"),
        )
    )
    more = ", ".join(filter(None, (time, left_out, given_up)))
    return capital(f"{what} until {done}{f' ({more})' if more else ''}; first {_first(plan)}.")


def _given_up(question: Question, plan: Plan) -> bool:
    """Whether the tester said that it gets no more pulls; those that it has may still answer it."""
    return (
        plan.replaced is not None
        and (question.factor, question.level) in plan.replaced.dropped
        and not question.dropped
    )


def _first(plan: Plan) -> str:
    """What is done first."""
    day, first = plan.day, plan.runs[0]
    pulls = f"pull {_on(first.configuration, day.baseline)}"
    if plan.replaced is None and day.cell.warm_up_minutes:
        return f"warm the engine up at {day.day.start:%H:%M}, then {pulls} at {first.clock}"
    return f"{first.do.replace('; ', ', ')}, then {pulls} at {first.clock}" if first.do else f"{pulls} at {first.clock}"


def _on(configuration: Mapping[str, str], baseline: Mapping[str, str]) -> str:
    on = [f"{factor} {level}" for factor, level in configuration.items() if level != baseline[factor]]
    return f"with {listed(on)}" if on else "the baseline"


def _question_grid(plan: Plan, unit: str) -> Grid:
    return grid(_HEAD, [_row(question, plan, unit) for question in plan.questions], wraps=(0,))


def _row(question: Question, plan: Plan, unit: str) -> tuple[str | Cell, ...]:
    name, smallest = f"{question.factor} {question.level}", question.smallest_gain
    worth = "not said" if smallest is None else with_unit(f"{smallest:g}", unit)
    worth += " less" if smallest is not None and plan.day.metric.better == LOWER else ""
    if question.dropped:
        return name, worth, Cell("left out", "open"), "-"
    if question.detectable_gain is None:
        return name, worth, Cell("no interval", "open"), "-"
    if smallest is None:
        return name, worth, f"{_USUAL} from {question.detectable_gain:.2g} {unit}", "-"
    chances = (question.family_power, question.no_difference_power)
    found, told = (times_in_hundred(chance or 0.0).replace(" times", "") for chance in chances)
    tone: Tone = "plain" if question.answerable else "open"
    return name, worth, Cell(f"{REAL_GAIN} {found}", tone), f"{heading(NO_DIFFERENCE)} {told}"


def _open_lines(plan: Plan) -> list[str]:
    """What is left out and why, what will hardly be answered and what to do about it, and where another plan does."""
    drops = {(drop.factor, drop.level): drop for drop in plan.drops}
    lines = [
        f"{question.factor} {question.level} is left out{_why(question, drops, plan)}."
        for question in plan.questions
        if question.dropped
    ]
    lines += [
        f"{question.factor} {question.level} gets no more pulls, as you said (--drop); what it has counts."
        f" '--keep {question.factor}={question.level}' takes it in again."
        for question in plan.questions
        if _given_up(question, plan)
    ]
    weak = [
        f"{q.factor} {q.level}"
        for q in plan.questions
        if not (q.answerable or q.dropped or _given_up(q, plan)) and q.smallest_gain
    ]
    if weak and plan.replaced is None:
        lines.append(f"May stay open: {listed(weak)}; --frontier shows what more hours would do, or leave it.")
    lines += room_line(plan)
    lines += [
        f"Your wish, {line.strip()}"
        for line in wish_lines(plan.wishes, plan.wishes_cost, rest=plan.replaced is not None)[1:]
    ]
    return [*lines, *(line.strip() for line in as_well_lines(plan))]


def _why(question: Question, drops: Mapping[tuple[str, str], Drop], plan: Plan) -> str:
    why = drop_text(drops.get((question.factor, question.level)), wished=bool(plan.wishes))
    return why and f": {why}"


def _study(plan: Plan, unit: str) -> list[str]:
    if plan.study is None:
        return []
    line = study_line(plan.study, plan.runs[-1].install, unit if plan.day.noise.pull_sd else "pull SDs")
    return [line] if line else []


def _day_line(plan: Plan) -> str:
    """Of which day it is the plan."""
    day = plan.day.day
    counted = sum(run.count == "yes" for run in plan.runs)
    thrown = sum(run.count == "settling" for run in plan.runs)
    fittings = plan.runs[-1].install - plan.runs[0].install + 1
    pulls = f"{several(counted, 'pull')} that count" if counted != 1 else "1 pull that counts"
    away = f", {several(thrown, 'throw-away pull')}" if thrown else ""
    made = f"{pulls}{away}, {several(fittings, 'fitting')}"
    return f"{day.title or 'The day'}, {day.date:%d %B %Y}: {made}"
