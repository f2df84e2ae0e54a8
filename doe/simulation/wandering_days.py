"""How often a plan gives a false verdict when the engine wanders though nobody stated it: simulated days, judged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from doe.errors import DoeError
from doe.planning.drawn.outlook import FalseVerdicts
from doe.planning.drawn.result import Plan
from doe.simulation.other_truths import OtherTruth
from doe.simulation.rehearsed_days import Truth, count

DAYS = 400  # simulated for each size of wander: a share of 5 % has an SE of 1.1 points
PULL_SDS = (0.5, 1.0)  # sizes of the wander, in pull SDs


def with_false_verdicts(plan: Plan, days: int = DAYS) -> Plan:
    """The plan with the share of days on which any verdict is false when nothing works and the engine wanders.

    Parameters
    ----------
    plan : Plan
    days : int
        Simulated for each size of wander; the plan's seed draws them.

    Returns
    -------
    Plan
        The same one where day.toml states a wander or vouches for none, for the rest of a day, and where the changes
        can't all be told apart.
    """
    if plan.if_it_wanders is None or plan.replaced is not None:
        return plan
    day = plan.day
    risks = (1.0 - day.analysis.confidence,) * len(day.questions)
    nothing = {(factor.name, change.level): 0.0 for factor, change in day.questions}
    found = []
    for number, share in enumerate(PULL_SDS):
        wander_sd = share * (day.noise.pull_sd or 0.0)
        truth = Truth(nothing, OtherTruth(wander_sd=wander_sd))
        seed = np.random.SeedSequence([plan.seed, number])
        try:
            counts = count((day, plan.runs, risks, truth, days, seed))
        except DoeError:
            return plan
        found.append(FalseVerdicts(wander_sd, counts.any_false / counts.days, days))
    return replace(plan, if_it_wanders=replace(plan.if_it_wanders, false_verdicts=tuple(found)))
