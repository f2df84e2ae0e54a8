"""Print a table while it is worked out, and put it between the marks of a document."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path


def print_table(lines: Iterable[str], page: Path | None, begin: str, end: str) -> None:
    """Print each line as it comes; then write them all between `begin` and `end`, where a page is given."""
    found = []
    for line in lines:
        print(line, flush=True)
        found.append(line)
    if page:
        text = page.read_text(encoding="utf-8")
        first, last = text.index(begin) + len(begin), text.index(end)
        page.write_text(text[:first] + "\n" + "\n".join(found) + "\n" + text[last:], encoding="utf-8")
