"""Everything that the report tells of one day: its files, its plans one after the other, what was looked at when."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.analysis.trials.from_folders import DayFolder
from doe.day.files.planfile import ADDED, PlanFile, replaced_runs, runs_of_rows
from doe.day.log.events import events_of
from doe.day.log.looks import Look, read_looks
from doe.day.log.marks.fixes import FIX, Fix, fixes_of
from doe.day.log.planned.followed import PLAN, REPLAN, UNDOES
from doe.day.log.reading import read_log
from doe.day.records import Pull, Run
from doe.day.schema import DayFile
from doe.day.sheet.sheet_record import SHEET
from doe.report.sections.photos import Photo, photos_of
from doe.words.notes import Note


@dataclass(frozen=True, slots=True)
class PlanStage:
    """One plan of the day."""

    runs: tuple[Run, ...]
    document: dict[str, Any]
    at: str = ""  #: ISO 8601; "" where nobody noted it
    by_hand: bool = False
    again: bool = False  #: an earlier plan, followed again: the one before was taken back

    @property
    def counted(self) -> int:
        """Pulls that count."""
        return sum(run.count == "yes" for run in self.runs)

    @property
    def asked(self) -> set[tuple[str, str]]:
        """The questions that it asks."""
        questions = self.document.get("questions") or ()
        return {(one["factor"], one["level"]) for one in questions if not one.get("dropped")}

    @property
    def added(self) -> set[tuple[str, str]]:
        """The questions that joined during the day, by this plan or before it."""
        return {(one["factor"], one["level"]) for one in self.document.get(ADDED) or ()}

    @property
    def fitted(self) -> set[tuple[str, str]]:
        """The levels that one of its pulls has on: factor, level."""
        return {on for run in self.runs for on in run.configuration.items()}

    @property
    def dropped(self) -> list[str]:
        """The questions that it leaves out."""
        return [f"{one['factor']} {one['level']}" for one in self.document.get("questions") or () if one.get("dropped")]


@dataclass(frozen=True)
class DayParts:
    """One day of the report."""

    day: DayFile
    plan: PlanFile | None
    pulls: tuple[Pull, ...]  #: corrected for the air where day.toml asks for it
    notes: tuple[Note, ...] = ()
    head: str = ""  #: the end of its log
    name: str = ""  #: what tells it from the other days of its campaign; "" alone
    stages: tuple[PlanStage, ...] = ()  #: its plans, the first one first
    looks: tuple[Look, ...] = ()
    sheets: tuple[tuple[str, str], ...] = ()  #: when a run sheet was made, and its file
    fixes: tuple[Fix, ...] = ()  #: stretches that were put right, and what was taken back of that
    photos: tuple[Photo, ...] = ()
    logged: tuple[Pull, ...] = ()  #: as the log has them

    @property
    def runs(self) -> dict[int, Run]:
        """Every planned run by its number; a later plan's where numbers meet."""
        return {run.run: run for stage in self.stages for run in stage.runs}


def day_parts(folder: DayFolder, *, alone: bool) -> DayParts:
    """What the report needs of a day folder that was read.

    Raises
    ------
    InputError
        A file is wrong.
    """
    place, day, plan = folder.folder, folder.day, folder.plan
    log = read_log(place, day, plan)
    return DayParts(
        day=day,
        plan=plan,
        pulls=folder.pulls,
        notes=tuple(log.notes),
        head=log.head,
        name="" if alone else folder.name,
        stages=tuple(plan_stages(place, day, plan)),
        looks=tuple(read_looks(place)),
        sheets=tuple((event.at, str(event.payload.get("file", ""))) for event in events_of(place, SHEET)),
        fixes=tuple(fixes_of(events_of(place, FIX))),
        photos=photos_of(place),
        logged=log.pulls,
    )


def was_logged_since(folder: DayFolder, parts: DayParts) -> bool:
    """Whether the log of a day holds more, or something else, than what was read of it."""
    return read_log(folder.folder, folder.day, folder.plan).pulls != parts.logged


def plan_stages(folder: Path, day: DayFile, plan: PlanFile | None) -> Iterator[PlanStage]:
    """The plans of a day: the last one that was made before the first pull, then what replaced it."""
    if plan is None:
        return
    events = events_of(folder, PLAN, REPLAN)
    begins = [place for place, event in enumerate(events) if event.event == PLAN]
    told = events[begins[-1] :] if begins else []
    if not told:
        if old := _before(folder, plan.runs):
            yield PlanStage(old, {})
        yield PlanStage(plan.runs, plan.document)
        return
    for event in told:
        runs = runs_of_rows(event.payload.get("rows", ()), "pulls.journal", day)
        yield PlanStage(
            runs,
            dict(event.payload.get("document") or {}),
            event.at,
            by_hand=event.payload.get("by_hand") is True,
            again=UNDOES in event.payload,
        )


def _before(folder: Path, runs: Sequence[Run]) -> tuple[Run, ...]:
    """The runs of plans that were replaced before the journal had plans."""
    now = {run.run for run in runs}
    return tuple(run for number, run in sorted(replaced_runs(folder).items()) if number not in now)
