"""A day that goes on with an earlier one: both are judged together, so the plan counts what was made there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import AFTER, STILL_ON
from doe.day.fittings import fittings_of
from doe.day.log.overnight import DayRows, through_nights
from doe.day.records import Pull, Run
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.begun_day import begun_day
from doe.planning.arrays.history import History, Made, history_of
from doe.words.notes import Note
from doe.words.plans import plan_notes


@dataclass(frozen=True)
class EarlierDay:
    """The day with which a plan goes on."""

    history: History
    notes: tuple[Note, ...]  #: what the tester should know of it
    document: dict[str, Any]  #: for plan.json: the day, and the parts that stay on over night


def earlier_day(day: DayFile, folder: Path) -> EarlierDay:
    """What was made on an earlier day (its plan, while it has no pulls).

    A part that is in the baseline in the evening stays on: the plan counts on it, and says so in plan.json.

    Parameters
    ----------
    day : DayFile
        The day that is planned.
    folder : Path
        Of the earlier day.

    Raises
    ------
    InputError
        The earlier day has other parts, or neither pulls nor a plan, or is later than this one.
    """
    earlier = begun_day(folder, read_day_file(folder))
    refuse_other_parts(day, earlier.day, folder)
    _refuse_later(day, earlier.day, folder)
    planned = earlier.plan.runs if earlier.plan else ()
    rows = earlier.standing.made or planned
    made = earlier.made() if earlier.standing.made else planned_pulls(earlier.day, planned)
    if not made:
        raise InputError(f"{folder}: neither pulls nor a plan; --after needs a day with either")
    ended = rows[-1].configuration
    off = [factor for factor in day.factor if ended[factor.name] != factor.baseline]
    still_on = [factor.name for factor in day.refit_factors if factor not in off]
    link = {AFTER: {"folder": folder.resolve().name, "date": earlier.day.day.date.isoformat()}, STILL_ON: still_on}
    notes = [plan_notes.judged_together(str(folder))]
    if not earlier.standing.made:
        notes.append(plan_notes.no_pulls_yet(str(folder)))
    if off:
        parts = " and ".join(f"{factor.name} {factor.baseline}" for factor in off)
        notes.append(plan_notes.not_ended_in_baseline(str(folder), parts))
    if still_on:
        parts = " and ".join(f"{name} {day.baseline[name]}" for name in still_on)
        notes.append(plan_notes.must_stay_on(str(folder), parts, still_on[0]))
    begins_in = _begins_in(day, earlier.day, rows, link)
    return EarlierDay(history_of(day, made, begins_in, 1, earlier.ledger), tuple(notes), link)


def _begins_in(day: DayFile, earlier: DayFile, rows: Sequence[Pull] | Sequence[Run], link: dict[str, Any]) -> list[int]:
    """The fittings in which the planned day begins, as the judge of both days will number them."""
    start = Run(1, "", 0.0, 1, 1, "", day.baseline, "yes")
    nights = through_nights([DayRows("", earlier, rows), DayRows("", day, [start], link)])
    return [own[0] for own in nights.fittings[1].values()]


def planned_pulls(day: DayFile, runs: Sequence[Run]) -> list[Made]:
    """Counted runs of a plan as if they had been made."""
    fittings = list(fittings_of(day, runs).values())
    half = day.cell.pull_minutes / 2
    return [
        Made(run.minute - half, run.configuration, tuple(own[place] for own in fittings))
        for place, run in enumerate(runs)
        if run.counts
    ]


def _refuse_later(day: DayFile, earlier: DayFile, folder: Path) -> None:
    """A day goes on with one before it.

    Raises
    ------
    InputError
        The other one is later.
    """
    if (earlier.day.date, earlier.day.start) > (day.day.date, day.day.start):
        raise InputError(
            f"{folder}: it is of {earlier.day.date}, {earlier.day.start:%H:%M}, and this day of {day.day.date},"
            f" {day.day.start:%H:%M}; --after takes an earlier day, so put the dates in day.toml right"
        )


def refuse_other_parts(day: DayFile, earlier: DayFile, folder: Path) -> None:
    """One campaign has one set of parts.

    Raises
    ------
    InputError
        The parts differ.
    """
    ours = [(factor.name, factor.refit, factor.levels) for factor in day.factor]
    theirs = [(factor.name, factor.refit, factor.levels) for factor in earlier.factor]
    if ours != theirs:
        raise InputError(
            f"{folder}/day.toml: its parts and levels are not those of this day; a campaign has one set of them"
        )
