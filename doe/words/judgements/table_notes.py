"""What is noted of a table as somebody has it: what was not taken, and what may be meant otherwise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from doe.words.faults_by_row import rows_words
from doe.words.notes import Note
from doe.words.phrases import listed_short


def may_be_means(row: str) -> Note:
    """A last row whose reading is the mean of all above, with nothing beside it that says so."""
    text = f"row {row}: its reading is the mean of all above; it was taken as a pull: delete it if it is none"
    return Note("may-be-means", f"row {row}", text, "serious")


def numbered_columns_left_out(name: str, others: Sequence[str], stem: str) -> Note:
    """One of several numbered columns was named."""
    shown = ", ".join(f"'{title}'" for title in others[:5]) + (
        f" and {len(others) - 5} more" if len(others) > 5 else ""
    )
    text = f"only '{name}' was read: {shown} may hold pulls too; --value '{stem}' takes them all"
    return Note("numbered-columns-left-out", name, text, "serious")


def nothing_left_of(fittings: Sequence[str]) -> Note:
    """Fittings whose readings are all missing."""
    text = f"no reading is left of {listed_short(fittings)}"
    return Note("nothing-left-of-a-fitting", fittings[0], text, "serious")


def marked_as_no_pull(column: str, rows: list[str]) -> Note:
    """Rows that a column marks as not to be counted."""
    their = "its reading" if len(rows) == 1 else "their readings"
    text = (
        f"column '{column}' marks {rows_words(rows)}, read as pulls all the same: empty {their} and say"
        " --missing skip to leave them out"
    )
    return Note("marked-rows-read", column, text, "serious")


def looks_like_a_change(column: str, levels: Mapping[str, int]) -> Note:
    """A column that nobody named, and that may say what was changed."""
    names = list(levels)
    shown = ", ".join(f"{name} {count}" for name, count in list(levels.items())[:5])
    text = (
        f"column '{column}' looks like a change ({shown}) and was not named: its gain counts as scatter. If parts were"
        f" changed, say --change '{column}' --baseline '{names[0]}'"
    )
    return Note("looks-like-a-change", column, text, "serious")
