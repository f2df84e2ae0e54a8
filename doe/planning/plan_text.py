"""The plan as a tester reads it: the day by the clock, what it can show, what it was compared with."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from doe.day.clock import clock_text
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.planning.day_arrays import unit_of
from doe.planning.result import Plan, Question


def plan_text(plan: Plan) -> str:
    """The whole text."""
    blocks = [
        list(_heading(plan)),
        list(_day_lines(plan)),
        list(_question_lines(plan)),
        list(_compared_lines(plan)),
        [f"Caution: {caution}." for caution in plan.cautions],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _heading(plan: Plan) -> Iterator[str]:
    day = plan.day
    counted = sum(run.count == "yes" for run in plan.runs)
    installs = plan.runs[-1].install
    yield f"{day.day.title or 'The day'}, {day.day.date}, {day.day.start:%H:%M} to {day.day.finish:%H:%M}"
    yield (
        f"{counted} counted pulls, {len(plan.runs) - counted} throw-away pulls, {installs}"
        f" fitting{'s' if installs > 1 else ''}; done at {clock_text(day, plan.runs[-1].minute)}."
        f" About {plan.expected_settled:.1f} of {len(plan.questions)} questions settled."
    )


def _day_lines(plan: Plan) -> Iterator[str]:
    """One line a set, with the breaks between."""
    day = plan.day
    yield "The day"
    yield f"  {day.day.start:%H:%M}  start; warmed up at {clock_text(day, day.cell.warm_up_minutes)}"
    pauses = list(day.pauses)
    for _, rows in groupby(plan.runs, key=lambda run: run.stint):
        stint = list(rows)
        while pauses and pauses[0][1] <= stint[0].minute:
            begin, end = pauses.pop(0)
            yield f"  {clock_text(day, begin)}  break until {clock_text(day, end)}"
        yield _stint_line(day, stint)


def _stint_line(day: DayFile, stint: list[Run]) -> str:
    counted = sum(run.count == "yes" for run in stint)
    thrown = len(stint) - counted
    pulls = f"{counted} pull{'s' if counted > 1 else ''}"
    extra = f"{thrown} throw-away, then " if thrown else ""
    done = clock_text(day, stint[-1].minute)
    what = stint[0].do or fitted_text(day, stint[0])
    return f"  {stint[0].clock}  set {stint[0].stint}: {what}; {extra}{pulls}, until {done}"


def fitted_text(day: DayFile, run: Run) -> str:
    """What is on, in words."""
    on = [f"{name} {level}" for name, level in run.configuration.items() if level != day.baseline[name]]
    return " and ".join(on) or "baseline"


def _question_lines(plan: Plan) -> Iterator[str]:
    yield "What this day can show"
    for question in plan.questions:
        yield f"  {question.factor} {question.level}: {_question_text(question, unit_of(plan.day))}"


def _question_text(question: Question, unit: str) -> str:
    if question.dropped:
        return "left out; not fitted today"
    if question.detectable_gain is None:
        return "nothing"
    shows = f"this plan can show {question.detectable_gain:.2g} {unit}"
    if question.smallest_gain is None:
        return shows
    return (
        f"{shows}; worth having: {question.smallest_gain:g} {unit}. If it gives that, 'real gain' with"
        f" {question.family_power:.0%}; if it gives nothing, 'no difference that matters' with"
        f" {question.no_difference_power:.0%}"
    )


def _compared_lines(plan: Plan) -> Iterator[str]:
    yield f"On the same clock, questions settled of {len(plan.questions)}"
    yield f"  this plan: {plan.expected_settled:.2f}"
    for name, practice in plan.compared.items():
        yield f"  {name}: {practice.expected_settled:.2f}"
