"""A rehearsal in a tester's words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from doe.words.numbers import percent_in_column
from doe.words.verdicts import KEYS, NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS, Verdict, heading

if TYPE_CHECKING:
    from doe.simulation.rehearsal import Rehearsal, Scenario

_WIDTHS: Mapping[Verdict, int] = {REAL_GAIN: 10, REAL_LOSS: 11, NO_DIFFERENCE: 15, NOT_SETTLED: 13}
_TITLES = {
    "nothing works": "If nothing works (every change gives nothing)",
    "smallest gain": "If every change gives exactly its smallest gain",
    "as given": "If the gains are as you gave them",
}


def rehearsal_text(rehearsal: Rehearsal) -> str:
    """Write the shares of days on which each verdict came out.

    Parameters
    ----------
    rehearsal : Rehearsal

    Returns
    -------
    str
    """
    head = f"{rehearsal.days} simulated days of this plan for each truth (invented readings, seed {rehearsal.seed})."
    return "\n\n".join([head, *(_scenario(scenario) for scenario in rehearsal.scenarios)])


def _scenario(scenario: Scenario) -> str:
    names = [f"{c.factor} {c.level}" for c in scenario.changes]
    width = max(map(len, names)) + 2
    heads = "".join(f"{heading(verdict):>{w}}" for verdict, w in _WIDTHS.items())
    lines = [
        _TITLES[scenario.name],
        f"  {'':<{width}}{heads}{'one pull before, one after':>28}",
    ]
    for name, c in zip(names, scenario.changes, strict=True):
        cells = "".join(f"{percent_in_column(getattr(c, KEYS[verdict])):>{w}}" for verdict, w in _WIDTHS.items())
        naive = f"'gain' on {percent_in_column(c.before_and_after)}"
        lines.append(f"  {name:<{width}}{cells}{naive:>28}")
    held = scenario.family_coverage
    cover = "" if held is None else f"; all intervals held on {percent_in_column(held, 1)}"
    lines.append(f"  A wrong verdict on {percent_in_column(scenario.false_verdicts, 1)} of the days{cover}.")
    return "\n".join(lines)
