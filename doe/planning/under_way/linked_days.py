"""The days that were planned together with one under way: what its rest counts on of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import read_clock
from doe.day.files.campaign_link import campaign_link
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import AFTER, REPLACED
from doe.day.files.which_folder import command
from doe.day.log.journal import scan_journal
from doe.day.log.marks.closing import closing_of
from doe.day.log.planned.followed import plan_events
from doe.day.pilot.coming.days_together import days_together
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.after_day import planned_pulls
from doe.planning.arrays.begun_day import BegunDay, begun_day
from doe.planning.arrays.history import Made
from doe.planning.arrays.other_days import OtherDays
from doe.words.notes import Note
from doe.words.plans import plan_notes


def others_of(folder: Path, begun: BegunDay) -> tuple[OtherDays | None, tuple[Note, ...]]:
    """The other days of the campaign that a day was planned with, None without one; and what is said of them.

    Of each its pulls that were made are counted, and those that its plan still asks for: not of a day that is closed,
    and not of an earlier one whose finish has passed. One that is not next door, or can't be read, is left out: nobody
    should have to mend another day's files while this day's engine is hot.
    """
    document = begun.plan.document if begun.plan else {}
    link = campaign_link(document)
    if link is None:
        before = document.get(AFTER)
        earlier = str(before.get("folder")) if isinstance(before, Mapping) else ""
        return None, (plan_notes.this_day_alone(earlier),) if earlier else ()
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
    return one.day.begin + dt.timedelta(minutes=max(minutes, one.day.length_minutes))


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
