"""What comes next: what to fit, how many pulls, until when, what to type, and what comes after that."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from doe.day.clock import clock_text
from doe.day.clocks.day_clock import day_time
from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import another_day, as_typed
from doe.day.log.journal import scan_journal
from doe.day.log.marks.ledger_names import was_judged
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.pilot.coming.sealed_edits import NO_EDITS, SealedEdits, edits_to_tell
from doe.day.pilot.coming.steps import Step, after, forecast, steps_due
from doe.day.pilot.standing import Standing
from doe.day.schema import DayFile
from doe.words.day.upnext_words import from_now, next_text, other_lines, record_line
from doe.words.notes import Note, in_document
from doe.words.result import Answer

if TYPE_CHECKING:
    from doe.day.pilot.coming.baseline_check import BaselineCheck
    from doe.day.pilot.coming.begins import Begin
    from doe.day.pilot.coming.ending import Ending
    from doe.day.pilot.coming.ways import Alternative


_ON_TIME_MINUTES = 2.0
_STILL_MAKING = dt.timedelta(hours=12)  # so long after its last pull a day on a wrong date goes on


@dataclass(frozen=True, repr=False)
class UpNext(Answer):
    """What to do now, and what comes after."""

    day: DayFile
    standing: Standing
    folder: str = ""  #: as it is typed, "" where it is left out
    today: dt.date | None = None
    now: float | None = None  #: minute of the day; None on another date than the day's
    step: Step | None = None
    then: Step | None = None
    finish: float | None = None  #: when the plan will be done, as it looks now [minute of the day]
    edits: SealedEdits = NO_EDITS  #: of what is sealed, that nobody was told of
    notes: tuple[Note, ...] = ()  #: on the log
    ending: Ending | None = None  #: what is due where no pull is, or after the last one
    must_end: float = 0.0  #: when the plan has to be done [minute of the day]
    over: bool = False  #: no pull is due: the day was closed, or lies in the past
    ways: tuple[Alternative, ...] = ()  #: to plan the rest of a day that is late, where they were looked for
    best_way: str = ""  #: the name of the best of them
    no_way: str = ""  #: why there is none
    gauges: tuple[tuple[str, float], ...] = ()  #: what the gauges show now, by the names of [limits]
    another: str = ""  #: a folder next door for a further day, as it is typed, where this one is over

    @property
    def begins(self) -> tuple[Begin, ...]:
        """What the next pull must begin with."""
        from doe.day.pilot.coming.begins import begins_of  # `doe record` tells the next step without it

        return begins_of(self.day, self.standing.last, dict(self.gauges))

    @cached_property
    def baseline(self) -> BaselineCheck | None:
        """Whether the engine still makes its number."""
        from doe.day.pilot.coming.baseline_check import baseline_check  # as in `begins`

        return baseline_check(self.day, self.standing.made)

    @property
    def warming_up(self) -> bool:
        """Whether the engine is to be warmed up still; on another date only before the first pull."""
        warm_up = self.day.cell.warm_up_minutes
        return not self.standing.made and warm_up > 0 and (self.now is None or self.now < warm_up)

    @property
    def behind(self) -> float | None:
        """Minutes behind the plan, negative ahead of it; None where the clock says nothing."""
        if self.step is None or self.step.end is None:
            return None
        planned = self.standing.by_number[self.step.run].minute
        return self.step.end - planned

    @property
    def overrun(self) -> float:
        """Minutes by which the plan will end after its finish, as it looks now; 0 where it won't."""
        return max(0.0, (self.finish or 0.0) - self.must_end)

    @property
    def late(self) -> bool:
        """Whether the plan can't be made any more: not to its last pull."""
        return self.overrun > max(self.day.cell.pull_minutes, _ON_TIME_MINUTES)

    @property
    def past_finish(self) -> bool:
        """Whether the day's finish has passed, or the date of a day that was made."""
        return self.over or (self.now is not None and self.now > self.must_end)

    @property
    def counted(self) -> int:
        """Pulls that count, in the plan or not."""
        return sum(pull.counts for pull in self.standing.pulls)

    @property
    def closed(self) -> bool:
        """Whether somebody said that no more pulls will be made."""
        return self.ending is not None and self.ending.closes

    @property
    def blocked(self) -> bool:
        """Whether there are hours left, and nothing of the plan can be made in them with what is on."""
        return self.standing.blocked and not (self.closed or self.past_finish)

    @property
    def done(self) -> bool:
        """Whether the plan has no pull left."""
        return bool(self.standing.runs) and self.step is None and not self.standing.blocked

    @property
    def state(self) -> str:
        """What is due, in a word or two for JSON."""
        if self.ending is not None and (self.closed or self.done):
            return self.ending.state
        if self.past_finish:
            return "past the finish"
        if self.blocked:
            return "blocked"
        return "no plan" if not self.standing.runs else "late" if self.late else "pull"

    @property
    def line(self) -> str | None:
        """What to type; None where the hours are over and no pull counts."""
        if self.state in ("no plan", "pull", "late"):
            return record_line(self)
        if self.state == "blocked":
            return from_now(self.folder)
        return self.ending.command if self.ending is not None and (self.done or self.counted) else None

    @property
    def made(self) -> int:
        """Counted runs that have their pull."""
        return sum(run.counts and run.run in self.standing.fulfilled for run in self.standing.runs)

    @property
    def planned(self) -> int:
        """Counted runs of the plan."""
        return sum(run.counts for run in self.standing.runs)

    def to_dict(self) -> dict[str, Any]:
        """All of it, for machines."""
        day, standing, step = self.day, self.standing, self.step
        return {
            "state": self.state,
            "pull": standing.next_number,
            "fitted": standing.fitted,
            "install": standing.install,
            "step": _step_dict(day, step) if step else None,
            "then": _step_dict(day, self.then) if self.then else None,
            "type": self.line,
            "otherwise": [{"when": when, "type": line} for when, line in other_lines(self)],
            "begin": [begin.to_dict() for begin in self.begins],
            "made": self.made,
            "planned": self.planned,
            "behind_minutes": self.behind,
            "finish": clock_text(day, self.finish) if self.finish is not None else None,
            "baseline": self.baseline.to_dict() if self.baseline else None,
            "alternatives": [asdict(way) for way in self.ways],
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """Big and plain, to be read from two metres away."""
        return next_text(self, partial(clock_text, self.day))

    def ways_text(self) -> str:
        """The ways to plan the rest of a day that is late, and how one is taken."""
        from doe.words.plans.replan_words import offered_text

        return self.no_way or offered_text(
            self.ways,
            len(self.day.questions),
            partial(clock_text, self.day),
            f"doe next {self.folder}".rstrip(),
            self.best_way,
        )


def _step_dict(day: DayFile, step: Step) -> dict[str, Any]:
    """One set of pulls."""
    return {
        "run": step.run,
        "do": step.do,
        "minutes": step.minutes,
        "configuration": step.configuration,
        "throw_away": step.throw_away,
        "pulls": step.pulls,
        "planned_clock": clock_text(day, step.planned_start),
        "planned_until": clock_text(day, step.planned_end),
        "until": clock_text(day, step.until) if step.until is not None else None,
    }


def up_next(
    folder: Path,
    *,
    now: dt.datetime | Stamp | None = None,
    typed: str | None = None,
    gauges: Sequence[str] = (),
) -> UpNext:
    """What to do now. Nothing is written: that `edits` were told is noted by who tells them (`note_edits`).

    Parameters
    ----------
    folder : Path
        The day folder.
    now : datetime or Stamp, optional
        Local time, or what the clocks said; by default they are asked.
    typed : str, optional
        The folder as it stands in the lines to type, "" where it is left out; by default as the tester needs it.
    gauges : sequence of str
        What the gauges show, as "oil_temp_c=97".

    Raises
    ------
    InputError
        day.toml, the plan or the log is wrong; or a gauge is none of [limits].
    """
    day = read_day_file(folder)
    shown = _shown(day, gauges)
    plan = followed_plan(folder, day)
    log = read_log(folder, day, plan, salvage=True)
    standing = Standing(day, plan.runs if plan else (), log.pulls, log.left_out, doubts=log.doubts)
    moment, _, told = day_time(scan_journal(folder).events, now or read_clock())
    edits = edits_to_tell(
        folder, day, plan.document if plan else {}, scan_journal(folder).events, begun=bool(log.pulls)
    )
    typed = as_typed(folder) if typed is None else typed
    coming = next_of(standing, moment, typed, list(dict.fromkeys([*edits.notes, *log.notes, *told])))
    coming = replace(
        coming,
        another=another_day(folder) if coming.over else "",
        edits=edits,
        gauges=shown,
        must_end=plan.finish_minute(day) if plan else day.length_minutes,
    )
    if not (coming.past_finish or coming.then is None or was_judged(folder)):
        return coming  # what ends a day is loaded when it is asked for: a tester waits for the next step
    from doe.day.pilot.coming.ending import ending_of, is_closed

    ends = coming.past_finish or coming.then is None or is_closed(folder)
    return replace(coming, ending=ending_of(folder, day)) if ends else coming


def _shown(day: DayFile, gauges: Sequence[str]) -> tuple[tuple[str, float], ...]:
    """What the gauges show; raises InputError as `up_next`."""
    if not gauges:
        return ()
    from doe.day.pilot.said import gauges_of  # only then: a tester waits for what is loaded

    return tuple(gauges_of(day, gauges))


def next_of(standing: Standing, now: dt.datetime, typed: str = "", notes: Sequence[Note] = ()) -> UpNext:
    """What to do now, from where the day stands, without what is due after its last pull."""
    day = standing.day
    now = now.replace(tzinfo=None)
    minute, over = day.minute_at(now) if day.is_on(now) else None, _is_over(standing, now)
    begun = UpNext(
        day,
        standing,
        typed,
        now.date(),
        minute,
        notes=(*notes, *standing.lost_notes(typed)),
        must_end=day.length_minutes,
        over=over,
    )
    steps = steps_due(standing)
    if not steps:
        return begun
    seen = [forecast(standing, steps[0], minute)]
    for step in steps[1:]:
        seen.append(after(day, seen[-1], step))
    return replace(begun, step=seen[0], then=seen[1] if seen[1:] else None, finish=seen[-1].until)


def _is_over(standing: Standing, now: dt.datetime) -> bool:
    """Whether a day with pulls lies in the past: one whose date is wrong goes on as long as pulls are made."""
    counted = [pull for pull in standing.made if pull.counts]
    last = counted[-1].time if counted else None
    return last is not None and now > standing.day.end and now - last > _STILL_MAKING
