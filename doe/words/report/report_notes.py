"""What the report notes of a day by itself."""

from __future__ import annotations

from doe.words.notes import Note


def nothing_to_judge(why: str) -> Note:
    """A day on which no change can be judged: the reason."""
    return Note("nothing-to-judge", "", why, "fatal")
