"""The days that were planned together with one under way: what its rest counts on of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import read_clock
from doe.day.files.campaign_link import campaign_link
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import AFTER, REPLACED
from doe.day.files.which_folder import command
from doe.day.fittings import fittings_of
from doe.day.log.journal import scan_journal
from doe.day.log.marks.closing import closing_of
from doe.day.log.overnight import DayRows, through_nights
from doe.day.log.planned.followed import plan_events
from doe.day.pilot.coming.days_together import days_together
from doe.day.records import Pull, Run
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.after_day import planned_pulls
from doe.planning.arrays.begun_day import BegunDay, begun_day
from doe.planning.arrays.history import Made
from doe.planning.arrays.other_days import EarlierDays, OtherDays
from doe.words.notes import Note
from doe.words.plans import plan_notes


def others_of(folder: Path, begun: BegunDay) -> tuple[OtherDays | EarlierDays | None, tuple[Note, ...]]:
    """The other days that are judged with a day, None without one; and what is said of them.

    They are those that it was planned together with, or those with which it goes on. Of each its pulls that were made
    are counted, and those that its plan still asks for: not of a day that is closed, and not of an earlier one whose
    finish has passed. One that is not next door, or can't be read, is left out: nobody should have to mend another
    day's files while this day's engine is hot.
    """
    document = begun.plan.document if begun.plan else {}
    link = campaign_link(document)
    if link is None:
        return _earlier_days(folder, begun, document)
    there = {one.resolve().name: one for one in days_together(folder, document)}
    now = read_clock().moment.replace(tzinfo=None)
    own, missing = link.number - 1, []
    made: dict[int, Sequence[Made]] = {}
    ledgers, counted, unlike = [], [], []
    for place, linked in enumerate(link.days):
        if place == own:
            continue
        other = _read(there.get(linked.folder))
        if other is None:
            missing.append(linked.folder)
            continue
        to_come = closing_of(other.ledger) is None and (place > own or _end(other) > now)
        pulls = pulls_of(other) if to_come else other.made()
        made[place] = _of_the_same_parts(begun.day, other.day, pulls)
        ledgers.append(other.ledger)
        if _parts(other.day) != _parts(begun.day):
            unlike.append(linked.folder)
        of_made = len(other.made())
        counted.append((linked.folder, of_made, len(pulls) - of_made))
    notes = [plan_notes.with_other_days(counted)] if counted else []
    notes += [plan_notes.days_not_counted(missing)] if missing else []
    notes += [plan_notes.other_parts_there(unlike)] if unlike else []
    return OtherDays(own, made, tuple(ledgers)), tuple(notes)


def _earlier_days(
    folder: Path, begun: BegunDay, document: Mapping[str, Any]
) -> tuple[EarlierDays | None, tuple[Note, ...]]:
    """The days with which a plan goes on: what was made there, or is planned where their hours are to come."""
    before = document.get(AFTER)
    if not isinstance(before, Mapping):
        return None, ()
    folders = days_together(folder, document)
    folders = folders[: [one.resolve() for one in folders].index(folder.resolve())]
    read = [one for one in map(_read, folders) if one is not None]
    if not folders or len(read) < len(folders):
        return None, (plan_notes.this_day_alone(str(before.get("folder"))),)
    now = read_clock().moment.replace(tzinfo=None)
    due = [_whole_plan(one) if not one.standing.made and _end(one) > now else [] for one in read]
    rows = [one.standing.made or own for one, own in zip(read, due, strict=True)]
    start = [Run(1, "", 0.0, 1, 1, "", begun.day.baseline, "yes")]
    through = _through_nights([*read, begun], [*rows, begun.standing.made or start])
    made = [
        _numbered_through(begun.day, one, planned, numbers, place)
        for place, (one, planned, numbers) in enumerate(zip(read, due, through[:-1], strict=True))
    ]
    names = [path.resolve().name for path in folders]
    counted = [
        (name, len(one.made()), sum(run.counts for run in planned))
        for name, one, planned in zip(names, read, due, strict=True)
    ]
    unlike = [name for name, one in zip(names, read, strict=True) if _parts(one.day) != _parts(begun.day)]
    notes = [plan_notes.with_other_days(counted)] + ([plan_notes.other_parts_there(unlike)] if unlike else [])
    fittings = tuple(through[-1][factor.name] for factor in begun.day.refit_factors)
    ledgers = tuple(one.ledger for one in read)
    return EarlierDays(tuple(chain.from_iterable(made)), fittings, len(read), ledgers), tuple(notes)


def _whole_plan(one: BegunDay) -> list[Run]:
    """The runs of a day's plan, none without one."""
    return list(one.plan.runs) if one.plan else []


def _numbered_through(
    day: DayFile, one: BegunDay, planned: Sequence[Run], numbers: Mapping[str, Mapping[int, int]], place: int
) -> list[Made]:
    """The pulls of an earlier day, made or planned, in the parts of this one and with its fittings' numbers."""
    through = [numbers.get(factor.name, {}) for factor in day.refit_factors]
    return [
        replace(pull, day=place, fittings=tuple(own.get(f, 1) for own, f in zip(through, pull.fittings, strict=True)))
        for pull in _of_the_same_parts(day, one.day, [*one.made(), *planned_pulls(one.day, planned)])
    ]


def _through_nights(
    days: Sequence[BegunDay], rows: Sequence[Sequence[Pull] | Sequence[Run]]
) -> list[dict[str, dict[int, int]]]:
    """For each day and refit factor, to each fitting of that day its number through the nights.

    A part that not every day has is fitted afresh each day, behind the fitting 1 of the days without it.
    """
    names = set.intersection(*({factor.name for factor in one.day.refit_factors} for one in days))
    alike = [
        DayRows("", _with_parts(one.day, names), own, one.plan.document if one.plan else {})
        for one, own in zip(days, rows, strict=True)
    ]
    through = through_nights(alike).fittings
    found = []
    for place, (one, own) in enumerate(zip(days, rows, strict=True)):
        numbers = fittings_of(one.day, own)
        found.append({
            name: dict(zip(each, through[place][name], strict=True))
            if name in names
            else {number: number + 1 for number in each}
            for name, each in numbers.items()
        })  # fmt: skip
    return found


def _with_parts(day: DayFile, names: set[str]) -> DayFile:
    """A day with some of its refit parts; `model_copy` would carry along what was worked out of all of them."""
    kept = {name: getattr(day, name) for name in DayFile.model_fields}
    parts = tuple(one for one in day.factor if not one.refit or one.name in names)
    return DayFile.model_construct(**{**kept, "factor": parts})


def replanned_since(folder: Path, document: Mapping[str, Any]) -> tuple[Note, ...]:
    """What is said of a plan when the rest of another of its days was planned anew after it, and is followed.

    Parameters
    ----------
    folder : Path
        Of one of the days that were planned together.
    document : mapping
        What its plan.json holds.
    """
    if campaign_link(document) is None:
        return ()
    own = planned_at(folder)
    later = []
    for other in days_together(folder, document):
        if other.resolve() == folder.resolve():
            continue
        one = _read(other)
        if one is not None and one.plan and REPLACED in one.plan.document and (at := planned_at(other)) > own:
            later.append((at, other))
    if not later:
        return ()
    last = max(later)[1]
    names = [other.resolve().name for _, other in later]
    return (plan_notes.other_day_replanned(names, command("plan", last), command("plan", folder, "--from-now")),)


def planned_at(folder: Path) -> float:
    """When the plan of a folder was last drawn, planned anew or taken back [s since 1970]; 0 where no journal says."""
    drawn = plan_events(scan_journal(folder).events)
    if not drawn:
        return 0.0
    last = drawn[-1]
    return last.clock.utc if last.clock else dt.datetime.fromisoformat(last.at).timestamp()


def _read(folder: Path | None) -> BegunDay | None:
    """A day, None where there is none or a file of it is wrong."""
    with suppress(InputError):
        return None if folder is None else begun_day(folder, read_day_file(folder))
    return None


def pulls_of(one: BegunDay) -> Sequence[Made]:
    """The pulls of a day as they will be: those made, and those that its plan still asks for."""
    made, runs = one.made(), one.plan.runs if one.plan else ()
    if not one.standing.made:
        return planned_pulls(one.day, runs)
    due = [run for runs in one.standing.due_stints for run in runs]
    if not due:
        return made
    fitted, first = one.standing.fitted, due[0].configuration
    names = [factor.name for factor in one.day.refit_factors]
    shifts = [now - 1 + (fitted[name] != first[name]) for name, now in zip(names, one.fitted_now(), strict=True)]
    later = planned_pulls(one.day, due)
    return [
        *made,
        *(
            replace(pull, fittings=tuple(own + shift for own, shift in zip(pull.fittings, shifts, strict=True)))
            for pull in later
        ),
    ]


def _parts(day: DayFile) -> set[tuple[str, ...]]:
    """The parts of a day with their levels."""
    return {(factor.name, *factor.levels) for factor in day.factor}


def _end(one: BegunDay) -> dt.datetime:
    """When a day is over, by its own finish or by the one that its rest was planned for."""
    minutes = one.plan.finish_minute(one.day) if one.plan else one.day.length_minutes
    return one.day.begin + dt.timedelta(minutes=minutes)


def _of_the_same_parts(day: DayFile, other: DayFile, pulls: Sequence[Made]) -> list[Made]:
    """The pulls of another day in the parts of this one; those with a part on that this one lacks are left out."""
    levels = {factor.name: factor.levels for factor in day.factor}
    places = {factor.name: place for place, factor in enumerate(other.refit_factors)}
    found = []
    for pull in pulls:
        known = all(
            level in levels[name] if name in levels else level == other.baseline[name]
            for name, level in pull.configuration.items()
        )
        if known:
            configuration = {name: pull.configuration.get(name, level) for name, level in day.baseline.items()}
            fittings = tuple(
                pull.fittings[places[factor.name]] if factor.name in places else 1 for factor in day.refit_factors
            )
            found.append(replace(pull, configuration=configuration, fittings=fittings))
    return found
