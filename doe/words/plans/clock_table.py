"""The day of a plan by the clock: a row a set, and what belongs under it."""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby

from doe.words.fitted import changed_text
from doe.words.plans.planned import Day, Plan, Run
from doe.words.screen import Grid, grid

EARLY = 1 / 3  # of a plan's hours
_HEAD = ("from", "until", "set", "pulls", "do first", "then on the engine")
Clock = Callable[[float], str]  # minute of the day -> "HH:MM"


def day_grid(plan: Plan, clock: Clock) -> Grid:
    """One row a set, with the breaks between.

    Parameters
    ----------
    plan : Plan
    clock : callable
        The time of day, "HH:MM", at a minute of the day.
    """
    day = plan.day
    rows: list[tuple[str, ...]] = []
    if plan.replaced is None and day.cell.warm_up_minutes:
        warm = clock(day.cell.warm_up_minutes)
        rows.append((f"{day.day.start:%H:%M}", warm, "", "", "warm the engine up", "baseline"))
    begin_of_plan = plan.replaced.minute if plan.replaced else 0.0
    pauses = [pause for pause in day.pauses if pause[0] >= begin_of_plan]
    for _, group in groupby(plan.runs, key=lambda run: run.stint):
        stint = list(group)
        while pauses and pauses[0][1] <= stint[0].minute:
            begin, end = pauses.pop(0)
            rows.append((clock(begin), clock(end), "", "", "break", ""))
        rows.append(_stint_row(day, stint, clock))
    return grid(_HEAD, rows, wraps=(4, 5))


def _stint_row(day: Day, stint: list[Run], clock: Clock) -> tuple[str, ...]:
    counted = sum(run.count == "yes" for run in stint)
    thrown = len(stint) - counted
    first = stint[0]
    return (
        first.clock,
        clock(stint[-1].minute),
        str(first.stint),
        f"{thrown}+{counted}" if thrown else str(counted),
        first.do.replace("; ", "\n") or "-",
        changed_text(first.configuration, day.baseline).replace(", ", "\n+ "),
    )


def day_remarks(plan: Plan) -> list[str]:
    """What "1+3" means, and when the baseline is pulled again, where that is late."""
    thrown = any(run.count == "settling" for run in plan.runs)
    meant = "  1+3 pulls: one throw-away pull (it does not count), then three that count"
    return [*([meant] if thrown else []), *_baseline_comes_back(plan)]


def _baseline_comes_back(plan: Plan) -> list[str]:
    """When the baseline is pulled again, where that is later than a third of the plan's hours."""
    if plan.replaced is not None or not plan.questions:
        return []
    counted = [run for run in plan.runs if run.count == "yes"]
    away = next((place for place, run in enumerate(counted) if run.configuration != plan.day.baseline), None)
    if away is None:
        return []
    back = next((run for run in counted[away:] if run.configuration == plan.day.baseline), None)
    if back is None:
        return ["  The baseline does not come back: nothing shows whether the engine still makes its number"]
    begin, end = counted[0].minute, counted[-1].minute
    if back.minute <= begin + EARLY * (end - begin):
        return []
    return [
        f"  The baseline comes back at {back.clock}: until then nothing shows whether the engine still makes its number"
    ]
