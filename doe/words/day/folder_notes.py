"""What is noted of the files of a day folder while they are written and checked: each with its code."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.notes import Note
from doe.words.numbers import several
from doe.words.phrases import listed_short


def on_a_network() -> Note:
    """A folder whose locks and syncs nobody can vouch for."""
    text = (
        "the folder lies on a network share: locks and syncs may not hold there; log on a disk of this machine and copy"
        " afterwards"
    )
    return Note("on-a-network", "", text, "serious")


def only_read(reason: str) -> Note:
    """A folder on a disk that can't be written on."""
    return Note("only-read", "", f"{reason}: it is read as it is, and nothing is mended", "minor")


def mended(text: str) -> Note:
    """A table that was brought up to the journal."""
    return Note("mended", "", text, "minor")


def table_not_written(table: str, reason: str) -> Note:
    """A table that lags behind the journal."""
    text = (
        f"{table} can't be written ({reason}); is it open in a spreadsheet? Nothing is lost: it is in pulls.journal,"
        " and the next 'doe record' or 'doe check' puts it into the table"
    )
    return Note("table-not-written", table, text, "serious")


def table_not_read(fault: str) -> Note:
    """A table that could not be brought up after the journal was written."""
    text = f"{fault}; nothing is lost: it is in pulls.journal, 'doe check' says more"
    return Note("table-not-read", "", text, "serious")


def looks_not_written(table: str, reason: str) -> Note:
    """The ledger's table, which lags behind the journal."""
    text = f"{table} can't be written ({reason}); nothing is lost: 'doe check' writes it from pulls.journal"
    return Note("table-not-written", table, text, "serious")


def looks_put_back(table: str, looks: Sequence[int]) -> str:
    """The ledger's table had less than the journal."""
    return f"{table} had lost {listed_short([f'verdict {look}' for look in looks])}; put back from the journal"


def stopped() -> Note:
    """The tester stopped it after the journal was written."""
    text = "stopped before the tables were written; nothing is lost: it is in pulls.journal"
    return Note("stopped", "", text, "minor")


def unwitnessed(journal: str, lines: int) -> Note:
    """Lines of before the chain."""
    text = f"the chain does not witness {several(lines, 'line')} of {journal} that an earlier version wrote"
    return Note("unwitnessed", journal, text, "minor")


def head_made_anew(head: str, journal: str) -> Note:
    """A journal without the note of its end."""
    text = f"there was no {head}, by which a lost end of {journal} shows; it is made anew"
    return Note("head-made-anew", head, text, "minor")


def changed_outside(tables: Sequence[str]) -> Note:
    """Tables that something else than this program changed."""
    text = f"changed by something else than doe since it was written last: {', '.join(tables)}"
    return Note("changed-outside", ", ".join(tables), text, "minor")


def altered_trace(file: str, pull: int) -> str:
    """A trace that has other bytes than it had when its pull was logged."""
    return (
        f"{file}: it is not as it was when pull {pull} was logged, so no curve is drawn from it; bring it back from a"
        " copy or from the dyno's own folder (the number of the pull stands in the log)"
    )


def by_hand(table: str, pulls: Sequence[str]) -> Note:
    """Rows of which the journal knows nothing."""
    text = f"written by hand, so only {table} has them: {listed_short(pulls)} (not witnessed by the log)"
    return Note("by-hand", table, text, "serious")


def edited_plan(table: str, runs: Sequence[str]) -> Note:
    """Runs that are not as they were drawn."""
    text = f"{table} was edited by hand; it is followed as it stands: {listed_short(runs)}"
    return Note("edited-plan", table, text, "serious")


def next_day_started(folder: str, earlier: str, date: str) -> str:
    """Of a folder that was begun for a further day."""
    return f"started {folder}: the day.toml of {earlier}, dated {date}; if its date or hours are others, put them right"
