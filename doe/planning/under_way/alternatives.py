"""The ways to plan the rest of a day: hours, pulls, questions, and what each loses of the old plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from doe.day.files.planfile import PlanFile
from doe.day.pilot.coming.ways import Alternative, Lost
from doe.planning.drawn.result import Plan
from doe.words.plans.wish_words import NO_REASON


def alternatives_of(names: Sequence[str], plans: Mapping[str, Plan], old: PlanFile | None) -> tuple[Alternative, ...]:
    """Each way by its number, which is the same whatever the day looks like.

    Parameters
    ----------
    names : sequence of str
        Every way that there is.
    plans : mapping of str to Plan
        Those that are possible.
    old : PlanFile or None
        The plan that was followed until now.
    """
    found: list[Alternative] = []
    for number, name in enumerate(names, start=1):
        plan = plans.get(name)
        if plan is None:
            found.append(Alternative(number, name))
            continue
        same = [other.number for other in found if other.name in plans and _alike(plans[other.name], plan)]
        found.append(
            Alternative(
                number,
                name,
                finish=plan.runs[-1].minute,
                pulls=sum(run.count == "yes" for run in plan.runs),
                settled=plan.expected_settled,
                lost=lost_by(plan, old),
                not_randomised=plan.made.get("not_randomised"),
                same_as=same[0] if same else None,
            )
        )
    return tuple(found)


def _alike(plan: Plan, other: Plan) -> bool:
    return [(run.configuration, run.count) for run in plan.runs] == [
        (run.configuration, run.count) for run in other.runs
    ]


def lost_by(plan: Plan, old: PlanFile | None) -> tuple[Lost, ...]:
    """The questions of which clearly less is settled than the old plan promised."""
    rows = (old.document.get("questions") if old else None) or []
    promised = {(row["factor"], row["level"]): row for row in rows}
    lost = []
    for question in plan.questions:
        before = promised.get((question.factor, question.level))
        if before is None or before.get("dropped"):
            continue
        then = _settled(before.get("family_power"), before.get("no_difference_power"))
        now = _settled(question.family_power, question.no_difference_power)
        if then - now > NO_REASON:
            lost.append(Lost(question.factor, question.level, then, now, question.dropped))
    return tuple(lost)


def _settled(real: float | None, none: float | None) -> float:
    """The chance that a question is settled: half for a gain worth having, half for nothing."""
    return ((real or 0.0) + (none or 0.0)) / 2
