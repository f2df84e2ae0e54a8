"""What a tester should know at once of a pull that is being logged: each notice with its remedy."""

from __future__ import annotations

from collections.abc import Iterator

from doe.day.clock import clock_text, work_between
from doe.day.files.limits import outside
from doe.day.pilot.entries import Entry
from doe.day.pilot.standing import Standing
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.words.day import pull_notes
from doe.words.day.pull_words import setting_text
from doe.words.notes import Note

# Nobody is that much faster than day.toml says: the work was forgotten, or never done.
_HASTE_SHARE = 0.4
_LONG_WORK_MINUTES = 10.0  # shorter work fits into the cool-down


def notices(standing: Standing, entry: Entry, pull: Pull, *, early: bool) -> tuple[Note, ...]:
    """Everything odd about a pull, seen from the day before it.

    Parameters
    ----------
    standing : Standing
        The day before this pull.
    entry : Entry
        What the tester said.
    pull : Pull
        As it will be logged.
    early : bool
        It counts as warm-up because of the clock alone.
    """
    found = [*_warm_up_notice(standing.day, early), *_plan_notices(standing, pull, kept=entry.kept is not None)]
    if pull.after is not None:
        found += _late_notices(standing, pull)
    elif entry.redo is None:
        found += _work_notices(standing, entry, pull)
    if entry.redo is None:
        found += _time_notices(standing, pull)
    return (*found, *_value_notices(standing, pull))


def _late_notices(standing: Standing, pull: Pull) -> Iterator[Note]:
    """Where a late pull stands; a throw-away pull that it was made before."""
    yield pull_notes.entered_late(pull.after or 0)
    same_set = [one for one in standing.later if one.install == pull.install and one.void is None]
    thrown = [one.number for one in same_set if one.count == "settling" and one.configuration == pull.configuration]
    if pull.count == "yes" and thrown:
        yield pull_notes.before_the_throw_away_pull(pull.number, thrown[0])


def _warm_up_notice(day: DayFile, early: bool) -> Iterator[Note]:
    """A pull that is taken as warm-up."""
    if early:
        yield pull_notes.taken_as_warm_up(clock_text(day, day.cell.warm_up_minutes))


def _plan_notices(standing: Standing, pull: Pull, *, kept: bool) -> Iterator[Note]:
    """What the pull is to the plan."""
    run = standing.by_number.get(pull.run or 0)
    if pull.kept:
        yield pull_notes.still_on([f"{name} {pull.configuration[name]}" for name in pull.kept])
    elif kept:
        yield pull_notes.refit_not_done(pull.install)
    if run is None:
        if standing.runs and pull.count == "yes":
            yield pull_notes.outside_the_plan()
        return
    if run.run in standing.fulfilled:
        yield pull_notes.run_made_already(run.run, pull.number)
    if run.configuration != pull.configuration:
        yield pull_notes.fitted_otherwise(run.run)
    left = [due for due in standing.due if due.stint == standing.stint and due.stint < run.stint]
    if left:
        yield pull_notes.left_out(len(left))


def _work_notices(standing: Standing, entry: Entry, pull: Pull) -> Iterator[Note]:
    """Work that the plan asks for and that can hardly have been done; the throw-away pulls that work asks for."""
    day, last = standing.day, standing.last
    if last is None:
        return
    change = work_between(day, standing.fitted, pull.configuration, pull.fresh)
    redo = f"doe record --redo {pull.number}"
    passed = _minutes_worked(day, last, pull)
    planned = not (entry.settings or entry.fresh)
    long_work = planned and change.minutes >= _LONG_WORK_MINUTES
    if long_work and passed is not None and passed < _HASTE_SHARE * change.minutes:
        yield pull_notes.hardly_done(change.minutes, passed, f"{redo} {_undone(standing, pull)}")
    if pull.count == "yes" and change.settling_pulls:
        yield pull_notes.throw_away_due(change.settling_pulls, redo)


def _undone(standing: Standing, pull: Pull) -> str:
    """The options of a pull before which nothing was done."""
    before = standing.fitted
    settings = [setting_text(name, before[name]) for name, level in pull.configuration.items() if before[name] != level]
    return " ".join(f"--set {setting}" for setting in settings) or "--kept"


def _minutes_worked(day: DayFile, last: Pull, pull: Pull) -> float | None:
    """Minutes between the end of the last pull and the start of this one."""
    if last.minute is None or pull.minute is None:
        return None
    return max(0.0, pull.minute - last.minute - day.cell.pull_minutes)


def _time_notices(standing: Standing, pull: Pull) -> Iterator[Note]:
    """A date that is not the day's, a time that is not after the last one."""
    day, last = standing.day, standing.last
    if pull.time is None:
        return
    told = last is not None and last.time is not None and last.time.date() == pull.time.date()
    if not day.is_on(pull.time) and not told:
        yield pull_notes.not_the_date(pull.time.date(), day.day.date)
    if last is not None and last.time is not None and pull.time <= last.time:
        yield pull_notes.not_after(pull.time, last.number, last.time)


def _value_notices(standing: Standing, pull: Pull) -> Iterator[Note]:
    """A number outside [limits]."""
    for limit, number in outside(standing.day, pull.values):
        yield pull_notes.out_of_limits(limit, number)
