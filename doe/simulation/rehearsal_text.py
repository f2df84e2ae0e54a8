"""A rehearsal in a tester's words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from doe.simulation.rehearsal import Rehearsal, Scenario

_COLUMNS = (("real gain", 10), ("real loss", 11), ("no difference", 15), ("not settled", 13))
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
    lines = [
        _TITLES[scenario.name],
        f"  {'':<{width}}" + "".join(f"{title:>{w}}" for title, w in _COLUMNS) + f"{'one pull before, one after':>28}",
    ]
    for name, c in zip(names, scenario.changes, strict=True):
        shares = (c.real_gain, c.real_loss, c.no_difference, c.not_settled)
        cells = "".join(f"{_percent(s):>{w}}" for s, (_, w) in zip(shares, _COLUMNS, strict=True))
        naive = f"'gain' on {_percent(c.before_and_after)}"
        lines.append(f"  {name:<{width}}{cells}{naive:>28}")
    cover = (
        "" if scenario.family_coverage is None else f"; all intervals held on {_percent(scenario.family_coverage, 1)}"
    )
    lines.append(f"  A wrong verdict on {_percent(scenario.false_verdicts, 1)} of the days{cover}.")
    return "\n".join(lines)


def _percent(share: float, decimals: int = 0) -> str:
    if 0 < share < 0.01 and not decimals:
        return "<1%"
    return f"{100 * share:.{decimals}f}%"
