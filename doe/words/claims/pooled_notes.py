"""What is taken for granted where several tests of one change stand together: each with its code."""

from __future__ import annotations

from doe.words.notes import Note


def not_pooled() -> Note:
    """Too few tests to know how far tests differ."""
    text = "Fewer than three usable tests: shown side by side, not pooled; how far tests differ can't be known yet."
    return Note("not-pooled", "", text, "serious")


def taken_as_independent() -> Note:
    """That tests share nothing."""
    text = (
        "Taken as independent tests: other cells, other engines, other people. The files can't show that they are, and"
        " tests from one cell or on one engine share its errors."
    )
    return Note("taken-as-independent", "", text, "minor")


def from_one_cell(first: str, second: str, cell: str) -> Note:
    """Two tests that share a cell."""
    text = f"'{first}' and '{second}' are from one cell ({cell}): they are not independent."
    return Note("from-one-cell", second, text, "serious")


def printed_is_chosen() -> Note:
    """What was never printed."""
    text = "Tests that found nothing are printed less often; what was never printed is missing here."
    return Note("printed-is-chosen", "", text, "minor")
