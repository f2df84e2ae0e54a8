"""Why nothing is to be pulled any more, in half a line."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.phrases import listed, ordinal

DONE = "the plan is done"
CLOSED = "this day is closed: the verdict was given, no more pulls"
STUDIED = "the study is done"


def judged(moment: str) -> str:
    """Its verdict was given at a moment (ISO 8601)."""
    return f"the plan is done and nothing is left to ask: the verdict was given at {moment[11:16]} on {moment[:10]}"


def together(days: int) -> str:
    """The last day of a campaign."""
    return f"the plan is done, and so are the others: {days} days are judged together"


def goes_on(name: str, without: str) -> str:
    """Another day has pulls to come; `without`: the line that judges without them, "" where it is a later day."""
    fell_away = f" ('{without}' if it fell away)" if without else ""
    return f"the plan is done; it is judged together with {name}, which has pulls to come{fell_away}"


def elsewhere(name: str) -> str:
    """The day before it lies somewhere else."""
    return f"the plan is done; it is judged together with {name}, which does not lie next door: copy it there, then"


def reopened(closed: str, questions: Sequence[tuple[str, int, float]], shown: str) -> str:
    """A day that was closed at a moment (ISO 8601) goes on; which verdict each question's next one is, and its risk."""
    return "\n".join([f"open again: pulls since {closed[11:16]} count · {shown}", *next_verdicts(questions)])


def next_verdicts(questions: Sequence[tuple[str, int, float]]) -> list[str]:
    """Which verdict on each question (name, number, risk) the next one is, those of one number together."""
    by_stage: dict[tuple[int, float], list[str]] = {}
    for name, number, risk in questions:
        by_stage.setdefault((number, risk), []).append(name)
    return [
        f"the next verdict on {listed(names)} is the {ordinal(number)}, with {100 * risk:.3g} % of risk"
        for (number, risk), names in by_stage.items()
    ]
