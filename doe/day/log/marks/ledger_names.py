"""What the ledger of risk is called: its table, and its events of the journal; a glance at them must load nothing."""

from __future__ import annotations

from pathlib import Path

from doe.day.log.journal import scan_journal

LOOKS_CSV = "looks.csv"
EARLY, FINAL = "look", "verdict"  # kinds of events


def was_judged(folder: Path) -> bool:
    """Whether there is a verdict or an early look in a folder, so that its day may have been closed."""
    return (folder / LOOKS_CSV).exists() or any(one.event in (EARLY, FINAL) for one in scan_journal(folder).events)
