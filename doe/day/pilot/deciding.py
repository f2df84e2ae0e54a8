"""The pull that an entry means: its run, parts, install, count and time, from the plan and the clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from doe.day.log.making import crossed_by, made_before, stands_behind
from doe.day.log.marks.asked import Doubt
from doe.day.names import name_key
from doe.day.pilot.entries import Entry
from doe.day.pilot.notices import notices
from doe.day.pilot.slips.doubting import doubts_about, is_ahead
from doe.day.pilot.slips.forgotten import Forgotten, fitted_then, next_set_by_clock
from doe.day.pilot.standing import Standing, refitted
from doe.day.pull_columns import nothing_said
from doe.day.records import Count, Pull, Run
from doe.day.schema import Configuration, DayFile
from doe.errors import InputError
from doe.words.day.doubt_words import unheeded_text
from doe.words.day.pull_words import quoted, setting_text
from doe.words.notes import Note

_EARLY_MINUTES = 0.5


class Decided(NamedTuple):
    """One pull as it will be logged."""

    pull: Pull
    fresh: str | None  #: recorded with the pull: the plan does not order it
    notices: tuple[Note, ...] = ()
    doubts: tuple[Doubt, ...] = ()  #: what is asked once it is logged


def decide(standing: Standing, entry: Entry, moment: dt.datetime, now: dt.datetime) -> Decided:
    """The pull that an entry means.

    Parameters
    ----------
    standing : Standing
        The day so far.
    entry : Entry
        What the tester says.
    moment : datetime
        The pull's end, local time without offset.
    now : datetime
        When it was typed, the same way.

    Raises
    ------
    InputError
        The entry speaks of a pull, run or refit that there is not.
    """
    number, whole = standing.next_number, standing
    original = _original(standing, entry)
    after, crossed = None, None
    if original is not None:
        standing = replace(standing, pulls=made_before(standing.pulls, original.number))
        moment = moment if entry.time else original.time or moment
        crossed = crossed_by(whole.made, original, moment) if entry.time else None
    elif entry.time is not None and (then := standing.at(moment)) is not standing:
        standing, after = then, stands_behind(standing.pulls, then.last)
    minute = standing.day.minute_at(moment)
    early = _is_early(standing, entry, moment, minute) and original is None
    forgotten = (
        None if early or is_ahead(standing.day, entry, moment, now) else _forgotten(standing, entry, original, minute)
    )
    run, configuration = _run_of(standing, entry, original, minute, early=early)
    if forgotten:
        run, configuration = forgotten.run, forgotten.run.configuration
    kept = original.count if original and not entry.settings else "yes"
    count = entry.count or ("warm-up" if early else run.count if run else kept)
    install, fresh, ordered = _install(standing, entry, original, run, configuration, minute)
    behind = standing.later or _behind(whole, original)
    if original is not None and entry.settings:
        _check_one_fitting(whole, original, behind, configuration, install)
    overnight = _kept_overnight(standing, entry, original, configuration)
    pull = Pull(
        number=number,
        run=run.run if run else None,
        time=moment,
        minute=minute,
        install=install,
        configuration=configuration,
        values=_values(standing.day, entry, original),
        count=count,
        void=f"spoiled: {entry.spoiled}" if entry.spoiled else unheeded_text(entry.unheeded) or None,
        fresh=fresh or ordered,
        further={**(original.further if original else nothing_said()), **entry.said},
        kept=overnight,
        after=after,
    )
    doubts = doubts_about(standing, entry, pull, forgotten, crossed=crossed, now=now, behind=behind)
    return Decided(pull, fresh, notices(standing, entry, pull, early=early), doubts)


def _original(standing: Standing, entry: Entry) -> Pull | None:
    """The pull that is logged again."""
    if entry.redo is None:
        return None
    for pull in standing.pulls:
        if pull.number == entry.redo:
            return pull
    known = f"the log has pulls 1 to {standing.pulls[-1].number}" if standing.pulls else "no pull is logged yet"
    raise InputError(f"--redo {entry.redo}: there is no such pull; {known}")


def _behind(standing: Standing, original: Pull | None) -> Sequence[Pull]:
    """The pulls that were made after one that is logged again."""
    if original is None:
        return ()
    places = [at for at, pull in enumerate(standing.made) if pull.number == original.number]
    return standing.made[places[0] + 1 :] if places else ()


def _is_early(standing: Standing, entry: Entry, moment: dt.datetime, minute: float) -> bool:
    """Whether a pull lies in the warm-up; on another date than the day's the clock says nothing.

    Nor does it once a pull counts: the engine is warm, whatever the clock shows. Only a time that the tester says lies
    before that pull.
    """
    day = standing.day
    if entry.count or entry.run or not day.is_on(moment):
        return False
    counted = [pull for pull in standing.pulls if pull.counts]
    if counted and (entry.time is None or any(pull.time and pull.time <= moment for pull in counted)):
        return False
    return minute < day.cell.warm_up_minutes - _EARLY_MINUTES


def _forgotten(standing: Standing, entry: Entry, original: Pull | None, minute: float) -> Forgotten | None:
    """What the clock says where the tester says nothing of parts and steps."""
    said = entry.settings or entry.run or entry.count or entry.fresh or entry.install or entry.kept is not None
    if original is not None or said or entry.together or standing.later:
        return None
    return next_set_by_clock(standing, minute)


def _run_of(
    standing: Standing, entry: Entry, original: Pull | None, minute: float, *, early: bool
) -> tuple[Run | None, Configuration]:
    """The planned run that a pull fulfils, and what was fitted."""
    if entry.run is not None:
        run = _planned(standing, entry.run)
        return run, {**run.configuration, **entry.settings}
    if original is not None and not entry.settings:
        return standing.by_number.get(original.run or 0), original.configuration
    if standing.later:
        return _run_then(standing, entry, minute, early=early)
    as_it_is = early or entry.count == "warm-up" or entry.together
    from_plan = standing.due[0].configuration if standing.due and not as_it_is else standing.fitted
    configuration = {**(original.configuration if original else from_plan), **entry.settings}
    count = "warm-up" if early else entry.count
    return _open_run(standing, configuration, count, here_only=entry.together), configuration


def _run_then(standing: Standing, entry: Entry, minute: float, *, early: bool) -> tuple[Run | None, Configuration]:
    """The same for a pull that is entered late: of the sets between which it was made, no later one."""
    fitted, _, steps = fitted_then(standing, minute)
    configuration = {**fitted, **entry.settings}
    count = "warm-up" if early else entry.count
    fitting = (run for run in steps if run.configuration == configuration and count in (None, run.count))
    return next(fitting, None), configuration


def _planned(standing: Standing, number: int) -> Run:
    """The run with this number."""
    if not standing.runs:
        raise InputError(f"--run {number}: there is no plan here, so no step of one; leave --run out")
    if number not in standing.by_number:
        raise InputError(f"--run {number}: the plan has steps {standing.runs[0].run} to {standing.runs[-1].run}")
    return standing.by_number[number]


def _open_run(standing: Standing, configuration: Configuration, count: Count | None, *, here_only: bool) -> Run | None:
    """The first open run of this stint with this configuration and count, else the first of the next stint."""
    stints = standing.due_stints
    here = [run for stint in stints if stint[0].stint == standing.stint for run in stint]
    later = next((stint for stint in stints if stint[0].stint > standing.stint and not here_only), ())
    fitting = (run for run in (*here, *later) if run.configuration == configuration and count in (None, run.count))
    return next(fitting, None)


def _install(
    standing: Standing,
    entry: Entry,
    original: Pull | None,
    run: Run | None,
    configuration: Configuration,
    minute: float,
) -> tuple[int, str | None, str | None]:
    """The install, the fresh refit that is recorded, and the one that the plan ordered."""
    if standing.later:
        fitted, install, _ = fitted_then(standing, minute)
        another = entry.fresh or refitted(standing.day, fitted, configuration)
        most = max(pull.install for pull in (*standing.pulls, *standing.later))
        return entry.install or (most + 1 if another else install), entry.fresh, None
    if original is not None and not (entry.settings or entry.fresh or entry.kept is not None or entry.install):
        return original.install, None, None
    ordered = standing.fresh_ordered(run) if run else None
    if entry.kept is not None and not (entry.kept and _is_morning(standing)):
        _check_kept(standing, entry.kept, run, ordered)
        ordered = None
    if standing.last is None:
        return entry.install or 1, entry.fresh, None
    changed = refitted(standing.day, standing.last.configuration, configuration)  # row by row, as the log is read
    begins = bool(changed or entry.fresh or ordered)
    return (
        entry.install or standing.install + begins,
        entry.fresh if entry.fresh not in changed else None,
        ordered if ordered not in changed else None,
    )


def _check_one_fitting(
    standing: Standing,
    original: Pull,
    behind: Sequence[Pull],
    configuration: Configuration,
    install: int,
) -> None:
    """A pull logged again with another part leaves every fitting with one: nobody can have fitted two at once.

    Raises
    ------
    InputError
        Other pulls of its fitting have other parts, or it lies between pulls of one fitting.
    """
    day = standing.day
    changed = refitted(day, original.configuration, configuration)
    if not changed:
        return
    others = [pull for pull in standing.made if pull.number != original.number]
    later = {pull.number for pull in behind}
    mixed = any(pull.install == install and refitted(day, pull.configuration, configuration) for pull in others)
    before_and_behind = {pull.number in later for pull in others if pull.install == original.install}
    if mixed or len(before_and_behind) > 1:
        from doe.words.day.fix_words import redo_splits

        raise InputError(redo_splits(original.number, [setting_text(name, configuration[name]) for name in changed]))


def _check_kept(standing: Standing, kept: tuple[str, ...], run: Run | None, ordered: str | None) -> None:
    """`--kept` without a part, or in the course of a day, only where the plan orders a fresh refit.

    Raises
    ------
    InputError
        It orders none here, or of another part.
    """
    where = f"step {run.run}" if run else "this pull"
    names = [factor.name for factor in standing.day.refit_factors]
    if ordered is None and names and _is_morning(standing):
        raise InputError(
            f"--kept: the plan orders no fresh refit before {where}; leave it out, or name what stayed on since the day"
            f" before: --kept {quoted(names[0])}"
        )
    if ordered is None:
        raise InputError(f"--kept: the plan orders no fresh refit before {where}; leave it out")
    if others := [name for name in kept if name != ordered]:
        raise InputError(f"--kept {others[0]}: before {where} the plan orders a fresh refit of {ordered} only")


def _is_morning(standing: Standing) -> bool:
    """Whether nothing but warm-up was made today: what is on may be on since the day before."""
    return all(pull.count == "warm-up" for pull in standing.made)


def _kept_overnight(
    standing: Standing, entry: Entry, original: Pull | None, configuration: Configuration
) -> tuple[str, ...]:
    """The parts that stayed on since the day before, as the day's first pull says.

    Raises
    ------
    InputError
        A warm-up pull of this day says that something else was on.
    """
    if not _is_morning(standing):
        return ()
    if entry.kept is None:
        said = original.kept if original else ()
        return tuple(name for name in said if name != entry.fresh and name not in entry.settings)
    changed = refitted(standing.day, standing.fitted, configuration) if standing.last else []
    if standing.last and (both := [name for name in entry.kept if name in changed]):
        number, level = standing.last.number, standing.fitted[both[0]]
        raise InputError(
            f"--kept {both[0]}: pull {number}, made this morning, says that {both[0]} {level} was on; if that was"
            f" wrong, put it right first: doe record --redo {number} --set"
            f" {setting_text(both[0], configuration[both[0]])}"
        )
    return entry.kept


def _values(day: DayFile, entry: Entry, original: Pull | None) -> dict[str, float]:
    """Every number of the pull by its name; one that is logged again keeps what isn't said anew."""
    own = {name_key(name): name for name in (day.metric.name, *day.log.columns)}
    named = {own.get(name_key(name), name): value for name, value in entry.numbers.items()}
    kept = dict(original.values) if original else {}
    if entry.spoiled:
        kept.pop(day.metric.name, None)
    return {**kept, **({} if entry.value is None else {day.metric.name: entry.value}), **named}
