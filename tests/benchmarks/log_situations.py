"""What log_harness.py puts under fire: every command that writes, on its day, and what of that may not be lost."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import log_commands as typed
import simulated_disk  # log_commands put it on the path

from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.log.events import events_of
from doe.day.log.looks import CLOSE, REOPEN, read_looks
from doe.day.log.marks.asked import KEEP
from doe.day.log.marks.without_place import UNPLACED
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.pilot.integrity import Checked, check_folder
from doe.day.schema import DayFile
from doe.day.sheet.sheet_record import SHEET

Command = Callable[[Path], object]


@dataclass(frozen=True, slots=True)
class Situation:
    """A command, and the day on which it is typed."""

    line: str  #: as it is typed: the command, and the options that make it write something else
    command: Command
    day: Command


_PULL, _WITH_READINGS, _VOID = (simulated_disk.COMMANDS[name] for name in ("a pull", "a pull with readings", "a void"))
_LINES = {
    "a pull": "record",
    "a pull with readings": "record --column",
    "a pull in place of another": "record --redo",
    "a spoiled pull": "record --spoiled",
    "three pulls at once": "record",
    "a void": "void",
    "a fix": "fix --set",
    "an undone void": "void --undo",
}
SITUATIONS: dict[str, Situation] = {
    **{f"{name}, begun": Situation(_LINES[name], run, typed.begun) for name, run in simulated_disk.COMMANDS.items()},
    "a pull, fresh": Situation("record", _PULL, typed.fresh),
    "a pull with readings, fresh": Situation("record --column", _WITH_READINGS, typed.fresh),
    "a pull, planned": Situation("record", _PULL, typed.planned),
    "a pull, under way": Situation("record", _PULL, typed.under_way),
    "a pull, tables behind": Situation("record", _PULL, typed.behind),
    "a pull, the table damaged": Situation("record", _PULL, typed.damaged),
    "a pull, a value by hand": Situation("record", _PULL, typed.by_hand),
    "a pull, a number waiting": Situation("record", _PULL, typed.waiting),
    "a void, the table damaged": Situation("void", _VOID, typed.damaged),
    "a void, under way": Situation("void", _VOID, typed.under_way),
    "a plan, fresh": Situation("plan", typed.plan, typed.fresh),
    "a plan, planned": Situation("plan --new", typed.plan, typed.planned),
    "a plan for the rest, begun": Situation("plan --from-now", typed.plan, typed.begun),
    "a plan for the rest, under way": Situation("plan --from-now", typed.plan, typed.under_way),
    "a plan taken back, planned anew": Situation("plan --undo", typed.unplan, typed.planned_anew),
    "a plan taken back, joined": Situation("plan --undo", typed.unplan, typed.joined),
    "a part that joins, under way": Situation("plan --from-now --add", typed.join, typed.under_way),
    "a new part that joins, under way": Situation(
        "plan --from-now --add --fitting-minutes", typed.join_anew, typed.under_way
    ),
    "a plan taken back, a new part joined": Situation("plan --undo", typed.unplan, typed.joined_anew),
    "a judgement, judged": Situation("judge --final", typed.judge, typed.judged),
    "a report, judged": Situation("report", typed.report, typed.judged),
    "a sheet, planned": Situation("sheet", typed.sheet, typed.planned),
    "a sheet, under way": Situation("sheet", typed.sheet, typed.under_way),
    "a number without a place, fresh": Situation("record", typed.number, typed.fresh),
    "a number without a place, under way": Situation("record", typed.number, typed.under_way),
    "a check, tables behind": Situation("check", typed.check, typed.behind),
    "a check, a number waiting": Situation("check", typed.check, typed.waiting),
    "a fix, begun": Situation("fix --set", typed.fix, typed.begun),
    "a fix, under way": Situation("fix --set", typed.fix, typed.under_way),
    "an undone fix, fixed": Situation("fix --undo", typed.unfix, typed.fixed),
    "a pull, fixed": Situation("record", _PULL, typed.fixed),
    "a reopening, closed": Situation("judge --reopen", typed.reopen, typed.closed),
    "an adoption, a value by hand": Situation("check --adopt", typed.take, typed.by_hand),
    "a pull kept, begun": Situation("fix --keep", typed.keep, typed.begun),
    "a step told after a sealed edit, edited": Situation("next", typed.step, typed.edited),
    "a noise study saved, fresh": Situation("noise --save-to", typed.noise, typed.fresh),
    "a usual range saved, under way": Situation("noise --save-to", typed.usual, typed.under_way),
    "exports mapped, traced": Situation("trace", typed.traces, typed.traced),
}


def state_of(folder: Path) -> dict[str, Any]:
    """What may not be lost of a day, each under a name of its own."""
    day = read_day_file(folder)
    followed = followed_plan(folder, day)
    log = read_log(folder, day, None, salvage=True)
    told: dict[str, Any] = {
        note: (number, values, void, _other_parts(day, parts), install)
        for note, (number, values, void, parts, install) in simulated_disk.told(log.pulls).items()
    }
    for one in events_of(folder, UNPLACED):  # a number that has its place is the same, wherever it waits
        told.setdefault(str(one.payload["said"]["note"]), one.payload["said"]["values"])
    return {
        **told,
        "the plan": tuple((run.run, run.install, _other_parts(day, run.configuration)) for run in followed.runs)
        if followed
        else (),
        "asked": [question for question in _sealed(followed) if question in _questions(day)],
        "the verdicts": [(look.look, look.final, look.told) for look in read_looks(folder)],
        "sheets": len(events_of(folder, SHEET)),
        "edited": len(log.edited),
        "kept": len(events_of(folder, KEEP)),
        "saved": (day.noise.pull_sd, day.cell.usual, dict(day.traces.columns) if day.traces else None),
        "closed and opened": len(events_of(folder, CLOSE, REOPEN)),
    }


def _sealed(followed: PlanFile | None) -> list[tuple[str, str]]:
    """The questions that a plan has sealed; whatever day.toml asks besides can wait."""
    factors = followed.document["sealed"]["factors"] if followed else []
    return [(factor["name"], change["level"]) for factor in factors for change in factor["changes"]]


def _other_parts(day: DayFile, parts: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """What is not the baseline: a new part of which nothing came says nothing of what was fitted before."""
    return tuple((name, level) for name, level in parts.items() if level != day.baseline[name])


def _questions(day: DayFile) -> list[tuple[str, str]]:
    return [(factor.name, change.level) for factor, change in day.questions]


def is_sound(folder: Path) -> Checked:
    """A check; a damaged table is known here, until the next command sets it aside, and an edit of day.toml is."""
    found = check_folder(folder)
    known = ("4x2", "pulls.csv: pull 1: mean power", "smallest_gain was 2.0, is 2.5")
    return replace(found, remaining=tuple(line for line in found.remaining if not any(word in line for word in known)))


def copied(ready: Path, folder: Path) -> Path:
    """The day anew."""
    return Path(shutil.copytree(ready, folder))
