"""Writing a plan: into the journal first, then into its files, which are made anew where they are lost or damaged."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from doe.day.clocks.day_clock import continued
from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.files.planfile import ORDERS, PLAN_CSV, PLAN_JSON, PlanFile, plan_rows, read_plan, write_plan
from doe.day.log.aside import free_name, set_aside_as
from doe.day.log.journal import append_events, scan_journal
from doe.day.log.mirror.mirroring import Mirrored, copied
from doe.day.log.planned.day_text import bring_up_day
from doe.day.log.planned.followed import PLAN, REPLAN, UNDOES, LoggedPlan, changed_steps, same_runs
from doe.day.log.writing import note_end, note_planned
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.storage import take_unfinished
from doe.errors import DoeError, InputError
from doe.words.day import log_notes
from doe.words.notes import Note

SEAL = "seal"


def log_plan(
    folder: Path,
    day: DayFile,
    plan: PlanFile,
    *,
    rest: bool,
    undoes: int | None = None,
    day_text: Mapping[str, str] | None = None,
) -> Mirrored:
    """Log a plan and what it seals, then write its files. Call it under the lock of the folder.

    Parameters
    ----------
    folder : Path
    day : DayFile
        For the dialect of plan.csv.
    plan : PlanFile
        What its files will hold.
    rest : bool
        It replaces another one during the day.
    undoes : int, optional
        It is followed again: the number of the event whose plan is taken back.
    day_text : mapping of str to str, optional
        What day.toml is to be with it, from `losing`: it is written, too.

    Returns
    -------
    Mirrored
        On how many disks the journal is with it.

    Raises
    ------
    OSError
        Nothing is in the journal.
    DoeError
        The plan is logged, but a file can't be written: the next command that writes brings it up.
    """
    at, clock = _now(folder)
    seal: dict[str, Any] = {key: plan.document[key] for key in ("seal", "sealed") if key in plan.document}
    before = [event.payload.get("seal") for event in scan_journal(folder).events if event.event == SEAL]
    payload: dict[str, Any] = {
        "rows": plan_rows(plan.runs),
        "document": dict(plan.document),
        "orders": list(plan.orders),
        **({} if undoes is None else {UNDOES: undoes}),
        **(day_text or {}),
    }
    events = [_event(SEAL, at, seal)] if seal and before[-1:] != [seal.get("seal")] else []
    head = append_events(folder, [*events, _event(REPLAN if rest else PLAN, at, payload)], clock=clock)
    try:
        try:
            _write(folder, day, plan)
        finally:
            bring_up_day(folder)
    except OSError as error:
        raise DoeError(
            f"the plan is logged, but {error.filename or folder} can't be written ({error.strerror or error}); close it"
            " in other programs: the next 'doe record' or 'doe check' writes it"
        ) from None
    note_end(folder, head, planned=True)
    return copied(folder)


def bring_up_plan(folder: Path, day: DayFile) -> list[Note]:
    """Make the files of the plan what the journal has, and take in a plan.csv that was edited by hand.

    Call it under the lock of the folder.

    Returns
    -------
    list of Note
        What was done.

    Raises
    ------
    OSError
        A file can't be written, or the journal: what isn't done now is done by the next command that writes.
    """
    take_unfinished(folder)
    logged = LoggedPlan(folder, day)
    if not logged.runs:
        return []
    told = _brought_up(folder, day, logged)
    if logged.unwritten:
        note_planned(folder, logged.event)
    return told


def _brought_up(folder: Path, day: DayFile, logged: LoggedPlan) -> list[Note]:
    """The plan's files, made what the journal has; or the journal, where plan.csv was edited by hand."""
    try:
        plan = read_plan(folder, day)
    except InputError as error:
        names = [name for name in (PLAN_CSV, PLAN_JSON, ORDERS) if any(f.startswith(name) for f in error.faults)]
        return _made_anew(folder, day, logged.files, names, f"can't be read ({error.faults[0]})")
    if plan is None or logged.is_behind(plan):
        _write(folder, day, logged.files)
        return [log_notes.lost_plan()] * (not logged.unwritten)
    if not same_runs(plan.runs, logged.runs):
        at, clock = _now(folder)
        payload = {"rows": plan_rows(plan.runs), "by_hand": True}
        note_end(folder, append_events(folder, [_event(REPLAN, at, payload)], clock=clock), planned=True)
        return [log_notes.plan_by_hand(changed_steps(plan.runs, logged.runs))]
    if names := logged.differing(plan):
        return _made_anew(folder, day, logged.files, names, "not as the plan was logged")
    return []


def _made_anew(folder: Path, day: DayFile, plan: PlanFile, names: Sequence[str], why: str) -> list[Note]:
    """Set files aside, and write the plan's files again."""
    aside = {name: free_name(folder / name) for name in names if (folder / name).exists()}
    for name, other in aside.items():
        set_aside_as(folder / name, other)
    _write(folder, day, plan)
    return [log_notes.plan_made_anew(names, why, [f"{name} as {other}" for name, other in aside.items()])]


def _write(folder: Path, day: DayFile, plan: PlanFile) -> None:
    write_plan(folder, plan.runs, plan.document, plan.orders or None, files=day.files)


def _now(folder: Path) -> tuple[str, Stamp]:
    """The day's own time, and what the clocks say."""
    stamp, _ = continued(scan_journal(folder).events, read_clock())
    return stamp.moment.isoformat(), stamp


def _event(kind: str, at: str, payload: Mapping[str, Any]) -> Event:
    return Event(0, kind, str(uuid.uuid4()), at, payload=payload)
