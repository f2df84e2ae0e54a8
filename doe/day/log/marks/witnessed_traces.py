"""What a pull's trace held when the pull was logged: a file that was altered or swapped since gives itself away."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from doe.day.log.chain import digest
from doe.day.records import Event, Pull

TRACED = "traced"
"""The event of a pull that was logged with a trace: `pull`, `file` as seen from the folder, `sha256` of its bytes."""


def traced_events(folder: Path, pull: Pull, key: str, at: str) -> list[Event]:
    """What the trace of a pull holds, as an event in the line of the pull; none where no file can be read."""
    if not pull.trace:
        return []
    try:
        held = digest((folder / pull.trace).read_bytes())
    except OSError:
        return []
    return [Event(0, TRACED, key, at, payload={"pull": pull.number, "file": pull.trace, "sha256": held})]


def altered_traces(folder: Path, events: Sequence[Event], pulls: Sequence[Pull]) -> dict[int, str]:
    """The pulls whose trace is not what it was when they were logged, with the file.

    A trace that was logged before this was noted, one that is gone, and one whose name was edited since are none: what
    tells of those is elsewhere.
    """
    held = {
        event.payload.get("pull"): (event.payload.get("file"), event.payload.get("sha256"))
        for event in events
        if event.event == TRACED
    }
    found = {}
    for pull in pulls:
        file, sha256 = held.get(pull.number, (None, None))
        if pull.trace and pull.trace == file and (folder / file).is_file():
            try:
                same = digest((folder / file).read_bytes()) == sha256
            except OSError:
                continue
            if not same:
                found[pull.number] = pull.trace
    return found
