"""A rehearsal in ten seconds: what this plan answers, and how often it would be wrong."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.numbers import percent_in_column
from doe.words.phrases import listed_first, sentence
from doe.words.plans.rehearsal_words import BROKEN_MEANS, Broken, Change, Scenario, broken_grid, rehearsed
from doe.words.screen import Cell, Grid, Part, Screen, grid
from doe.words.verdicts import KEYS, NO_DIFFERENCE, REAL_GAIN, heading

NOTHING, SMALLEST, GIVEN = "nothing works", "smallest gain", "as given"
_OFTEN = 0.8  # of the days: an answer that a plan is made for
_NAMED = 4  # changes that the sentence names


def rehearsal_screen(
    days: int, seed: int, scenarios: Sequence[Scenario], broken: Sequence[Broken], risk: float
) -> Screen:
    """What a rehearsal says first.

    Parameters
    ----------
    days, seed : int
    scenarios : sequence of Scenario
    broken : sequence of Broken
        Empty where no other truth was asked for.
    risk : float
        At which the days were judged.
    """
    by_name = {scenario.name: scenario for scenario in scenarios}
    nothing, smallest, given = by_name[NOTHING], by_name[SMALLEST], by_name.get(GIVEN)
    parts: list[Part] = [_table(nothing, smallest, given)]
    if broken:
        parts += [broken_grid(broken, len(nothing.changes)), BROKEN_MEANS]
    parts.append(rehearsed(days, seed, risk))
    return Screen(_what_to_expect(by_name, scenarios, days), tuple(parts))


def _what_to_expect(by_name: dict[str, Scenario], scenarios: Sequence[Scenario], days: int) -> str:
    """Which questions this plan answers, which may stay open, and how often a verdict is wrong."""
    found = by_name[SMALLEST].changes
    often = [_name(change) for change in found if getattr(change, KEYS[REAL_GAIN]) >= _OFTEN]
    seldom = [_name(change) for change in found if getattr(change, KEYS[REAL_GAIN]) < _OFTEN]
    clauses = [f"this plan finds {listed_first(often, _NAMED)}"] if often else []
    clauses += [f"may stay open: {listed_first(seldom, _NAMED)}"] if seldom else []
    wrong = max(scenario.false_verdicts for scenario in scenarios)
    share = f"a verdict was wrong on {percent_in_column(wrong, 1)} of" if wrong else "no verdict was wrong on"
    return sentence("; ".join([*clauses, f"{share} {days} simulated days"]))


def _name(change: Change) -> str:
    return f"{change.factor} {change.level}"


def _table(nothing: Scenario, smallest: Scenario, given: Scenario | None) -> Grid:
    """One row a change: what comes out of it, and what one pull before and one after would say of nothing."""
    head = ["question", f"{REAL_GAIN} if it gives its smallest"]
    head += [f"{REAL_GAIN} if as given"] if given else []
    head += [f"{heading(NO_DIFFERENCE)} if it gives nothing", "one before, one after: 'gain' from nothing"]
    rows = []
    for place, change in enumerate(smallest.changes):
        share, idle = getattr(change, KEYS[REAL_GAIN]), nothing.changes[place]
        row: list[str | Cell] = [_name(change), Cell(percent_in_column(share), "plain" if share >= _OFTEN else "open")]
        row += [percent_in_column(getattr(given.changes[place], KEYS[REAL_GAIN]))] if given else []
        rows.append(
            [*row, percent_in_column(getattr(idle, KEYS[NO_DIFFERENCE])), percent_in_column(idle.before_and_after)]
        )
    return grid(head, rows, right=range(1, len(head)), wraps=(0,))
