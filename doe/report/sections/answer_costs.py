"""What each answer cost, by the hours and fittings as they were made, and what the part costs for each unit of gain."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from doe.analysis.judging.judgement import Gain, Judgement
from doe.day.bring.costs import cost_of
from doe.report.sections.day_parts import DayParts
from doe.words.day.bring_words import asking_cost
from doe.words.verdicts import REAL_GAIN


def answer_costs(days: Sequence[DayParts], judgement: Judgement) -> dict[tuple[str, str], str]:
    """One sentence for each change that has a cost, by factor and level.

    Parameters
    ----------
    days : sequence of DayParts
        The costs of several days add up.
    judgement : Judgement
    """
    spent: defaultdict[tuple[str, str], float] = defaultdict(float)
    for parts in days:
        cost = cost_of(parts.day, parts.logged or parts.pulls)
        for one in cost.questions if cost else ():
            spent[one.factor, one.level] += one.cost
    day = days[-1].day
    prices = {(factor.name, change.level): change.price for factor, change in day.questions}
    return {
        (gain.factor, gain.level): asking_cost(
            spent[gain.factor, gain.level],
            day.day.currency,
            prices.get((gain.factor, gain.level)),
            _per_unit(gain, prices.get((gain.factor, gain.level))),
            judgement.gain_unit,
        )
        for gain in judgement.changes
        if (gain.factor, gain.level) in spent
    }


def _per_unit(gain: Gain, price: float | None) -> tuple[float, float, float] | None:
    """The price for each unit of gain: at the gain found, at the most and at the least that its interval has."""
    low, high = gain.family_low, gain.family_high
    if price is None or gain.gain is None or low is None or high is None:
        return None
    if gain.verdict != REAL_GAIN or low * high <= 0:
        return None
    least, most = sorted((abs(low), abs(high)))  # where less is better a real gain is below 0
    return price / abs(gain.gain), price / most, price / least
