"""The ways to plan the rest of a day: hours, pulls, questions, and what each loses of the old plan.

A way that is no better than another in anything is not offered: nobody should have to compare them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from doe.day.files.planfile import PlanFile
from doe.day.pilot.coming.ways import Alternative, Lost
from doe.planning.drawn.result import Plan
from doe.words.plans.wish_words import NO_REASON, SEEN
from doe.words.significance import settled_of


def alternatives_of(
    names: Sequence[str], plans: Mapping[str, Plan], worths: Mapping[str, float], old: PlanFile | None
) -> tuple[Alternative, ...]:
    """Each way by its number, which is the same whatever the day looks like.

    Parameters
    ----------
    names : sequence of str
        Every way that there is.
    plans : mapping of str to Plan
        Those that are possible.
    worths : mapping of str to float
        Questions that they settle if the drift bends, by which plans are searched.
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
                pulls=sum(run.counts for run in plan.runs),
                changeovers=plan.needs.changeovers,
                settled=plan.expected_settled,
                if_it_bends=worths[name],
                lost=lost_by(plan, old),
                not_randomised=plan.made.get("not_randomised"),
                same_as=same[0] if same else None,
            )
        )
    return no_better_told(found)


def offered(ways: Sequence[Alternative]) -> tuple[Alternative, ...]:
    """The ways that are possible and better than any other in something, in the order of their numbers."""
    return tuple(way for way in ways if _is_one(way) and way.no_better_than is None)


def _is_one(way: Alternative) -> bool:
    return way.finish is not None and way.same_as is None


def no_better_told(ways: Sequence[Alternative]) -> tuple[Alternative, ...]:
    """The ways, each that is no better than another with its number; what settles most always stands."""
    standing: list[Alternative] = []
    told = {way.number: way for way in ways}
    for way in sorted(filter(_is_one, ways), key=lambda way: (-way.weighed, way.finish, way.changeovers, way.number)):
        better = next((other for other in standing if _as_good(other, way)), None)
        if better is None:
            standing.append(way)
        else:
            told[way.number] = replace(way, no_better_than=better.number)
    return tuple(told[way.number] for way in ways)


def _as_good(one: Alternative, other: Alternative) -> bool:
    """Whether a way is as good as another in everything that a tester chooses by."""
    assert one.finish is not None and other.finish is not None
    return (
        one.settled > other.settled - SEEN
        and one.weighed > other.weighed - SEEN
        and one.finish < other.finish + 0.5  # the clock shows whole minutes
        and one.changeovers <= other.changeovers
        and (one.not_randomised is None or other.not_randomised is not None)
    )


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
        then = settled_of(before.get("family_power") or 0.0, before.get("no_difference_power") or 0.0)
        now = settled_of(question.family_power or 0.0, question.no_difference_power or 0.0)
        if then - now > NO_REASON:
            lost.append(Lost(question.factor, question.level, then, now, question.dropped))
    return tuple(lost)
