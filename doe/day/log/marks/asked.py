"""What looked wrong about a pull when it was logged, and the tester's word that it is right."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, NamedTuple

from doe.day.records import Event

DOUBT, KEEP = "doubt", "keep"
"""The events of a question about a pull (`pull`, `code`, `text`, `missing`), and of its being right (`pull`)."""

UNHEEDED = "option-not-heeded"
"""Code of what is asked about options that can't be: until somebody answers, the pull doesn't count."""
AHEAD = "later-than-now"
"""Code of what is asked about a time: as long as nobody answers, no clock goes by it."""


class Doubt(NamedTuple):
    """One question about a pull: it is asked after the pull is logged, and stays open until somebody answers."""

    pull: int
    code: str  #: what kind it is; programs go by this
    text: str  #: the question, as a person reads it
    missing: tuple[int, ...] = ()  #: planned steps that seem to have been made and not logged

    @property
    def payload(self) -> dict[str, Any]:
        """As the journal has it."""
        more = {"missing": list(self.missing)} if self.missing else {}
        return {"pull": self.pull, "code": self.code, "text": self.text, **more}


def doubt_of(payload: Mapping[str, Any]) -> Doubt | None:
    """A doubt that the journal has, None where a later version wrote it otherwise."""
    number, code, text, missing = (payload.get(key) for key in ("pull", "code", "text", "missing"))
    if type(number) is not int or not isinstance(code, str) or not isinstance(text, str):
        return None
    steps = [step for step in missing if type(step) is int] if isinstance(missing, list) else []
    return Doubt(number, code, text, tuple(steps))


def doubts_of(events: Sequence[Event]) -> list[Doubt]:
    """Every question that was asked, oldest first."""
    return [doubt for event in events if event.event == DOUBT if (doubt := doubt_of(event.payload))]


def confirmed(events: Sequence[Event]) -> set[int]:
    """The pulls that somebody said are right as they are, after the last question about each."""
    right: set[int] = set()
    for event in events:
        number = event.payload.get("pull")
        if event.event == KEEP and type(number) is int:
            right.add(number)
        elif event.event == DOUBT and type(number) is int:
            right.discard(number)
    return right


def open_doubts(events: Sequence[Event], void: Collection[int]) -> list[Doubt]:
    """The questions that nobody has answered: a pull that was taken out or logged again needs no answer."""
    right = confirmed(events)
    again = {event.redo for event in events if event.event == "pull"}
    return [
        doubt
        for doubt in doubts_of(events)
        if doubt.pull not in right and (doubt.pull not in again if doubt.code == UNHEEDED else doubt.pull not in void)
    ]
