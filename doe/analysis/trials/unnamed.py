"""Columns that nobody named: what was changed between the pulls, or that a row does not count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from doe.analysis.trials.table_columns import TableColumns
from doe.day.foreign.missing import is_missing
from doe.day.header import is_number
from doe.day.names import name_key
from doe.words.judgements import table_notes
from doe.words.notes import Note

_MOST_LEVELS = 8
# Titles that people give to a column which says that a row counts, or that it does not.
_GOOD = frozenset(
    ["count", "counts", "counted", "use", "used", "usable", "valid", "ok", "include", "included", "keep", "kept"]
)
_BAD = frozenset(
    ["void", "voided", "exclude", "excluded", "discard", "discarded", "bad", "ignore", "ignored", "invalid", "reject",
     "rejected", "skip", "skipped"]
)  # fmt: skip
_YES, _NO = frozenset(["yes", "y", "true", "1", "x", "ok"]), frozenset(["no", "n", "false", "0", ""])


def unnamed_changes(columns: TableColumns, named: Sequence[str]) -> list[Note]:
    """Hint at columns that look like a change.

    Few different words, each in two rows or more, and none is a number or a date: fittings, days and runs are counted.

    Parameters
    ----------
    columns : TableColumns
    named : sequence of str
        The columns that were asked for.
    """
    found = []
    for title in _not_named(columns, named):
        words = columns.words(title)
        counts = Counter(words)
        if not 2 <= len(counts) <= _MOST_LEVELS or min(counts.values()) < 2:
            continue
        if any(map(is_missing, counts)) or any(map(is_number, counts)):
            continue
        found.append(table_notes.looks_like_a_change(title, dict(counts)))
    return found


def marked_rows(columns: TableColumns, named: Sequence[str]) -> list[Note]:
    """Say that rows which a column marks as not to be counted were read as pulls.

    A column is believed by its title: "use" with yes and no in it, "void" with anything in some of its cells.

    Parameters
    ----------
    columns : TableColumns
    named : sequence of str
        The columns that were asked for.
    """
    found = []
    for title in _not_named(columns, named):
        key = name_key(title)
        if key not in _GOOD | _BAD:
            continue
        words = [name_key(word) for word in columns.words(title)]
        if key in _GOOD and not {*words} <= _YES | _NO:
            continue
        marked = [row for row, word in enumerate(words) if (word in _NO) is (key in _GOOD)]
        if 0 < len(marked) < columns.rows:
            found.append(table_notes.marked_as_no_pull(title, [columns.labels[row] for row in marked]))
    return found


def _not_named(columns: TableColumns, named: Sequence[str]) -> Iterator[str]:
    """The columns with a title that nobody asked for."""
    known = {name_key(columns.title(name)) for name in named if columns.find(name) is not None}
    return (title for title in columns.columns if title and name_key(title) not in known)
