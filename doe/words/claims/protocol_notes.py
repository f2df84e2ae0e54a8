"""What an honest test of a claim takes for granted: each with its code."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.notes import Note


def no_gain_to_plan_for(claim: str) -> Note:
    """Nothing tells which gain is to be shown."""
    text = f"{claim}: without a baseline reading, give smallest_gain or typical_gain to plan for"
    return Note("no-gain-to-plan-for", claim, text, "serious")


def pull_scatter_assumed(shares: Sequence[float]) -> Note:
    """The pull SDs that are tried, as shares of the baseline, where nobody states one."""
    *first, last = (f"{100 * share:g}" for share in shares)
    tried = f"{', '.join(first)} and {last} %"
    text = f"nobody states the pull-to-pull scatter: {tried} of the baseline are assumed in turn"
    return Note("pull-scatter-assumed", "", text, "serious")


def refit_scatter_assumed(ratio: float) -> Note:
    """The install SD that is taken, as a share of the pull SD, where nobody states one."""
    text = f"refit scatter assumed as {ratio:g} of the pull-to-pull scatter"
    return Note("refit-scatter-assumed", "", text, "serious")
