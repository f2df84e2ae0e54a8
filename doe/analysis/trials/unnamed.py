"""Columns that nobody named, and that may say what was changed between the pulls."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from doe.analysis.trials.table_columns import TableColumns
from doe.day.foreign.missing import is_missing
from doe.day.header import is_number
from doe.day.names import name_key
from doe.words.judgements import table_notes
from doe.words.notes import Note

_MOST_LEVELS = 8


def unnamed_changes(columns: TableColumns, named: Sequence[str]) -> list[Note]:
    """Hint at columns that look like a change.

    Few different words, each in two rows or more, and none is a number or a date: fittings, days and runs are counted.

    Parameters
    ----------
    columns : TableColumns
    named : sequence of str
        The columns that were asked for.
    """
    known = {name_key(columns.title(name)) for name in named if columns.find(name) is not None}
    found = []
    for title in columns.columns:
        if name_key(title) in known or not title:
            continue
        words = columns.words(title)
        counts = Counter(words)
        if not 2 <= len(counts) <= _MOST_LEVELS or min(counts.values()) < 2:
            continue
        if any(map(is_missing, counts)) or any(map(is_number, counts)):
            continue
        found.append(table_notes.looks_like_a_change(title, dict(counts)))
    return found
