"""What people write into a cell that has no reading."""

from __future__ import annotations

from doe.day.names import name_key

_MISSING = frozenset(
    map(
        name_key,
        ["", "n/a", "#n/a", "na", "n.a.", "nan", "<na>", "nat", "null", "-", "--", "---", "–", "—", "?", "…", "..."],
    )
)


def is_missing(cell: str) -> bool:
    """Whether a cell says that there is nothing: blank, "n/a", a dash."""
    return name_key(cell) in _MISSING
