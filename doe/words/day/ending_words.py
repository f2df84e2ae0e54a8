"""Why nothing is to be pulled any more, in half a line."""

from __future__ import annotations

DONE = "the plan is done"
CLOSED = "this day is closed: the verdict was given, no more pulls"
STUDIED = "the study is done"


def judged(moment: str) -> str:
    """Its verdict was given at a moment (ISO 8601)."""
    return f"the plan is done and nothing is left to ask: the verdict was given at {moment[11:16]} on {moment[:10]}"


def together(days: int) -> str:
    """The last day of a campaign."""
    return f"the plan is done, and so are the others: {days} days are judged together"


def goes_on(name: str) -> str:
    """Another day of the campaign has pulls to come."""
    return f"the plan is done; it is judged together with {name}, which has pulls to come"


def elsewhere(name: str) -> str:
    """The day before it lies somewhere else."""
    return f"the plan is done; it is judged together with {name}, which does not lie next door"
