"""The next step in words: big and plain, to be read from two metres away with an engine running."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

from doe.words.cell.limit_words import range_text, wait_text
from doe.words.day.coming.baseline_words import baseline_line
from doe.words.day.pull_words import fitted_text, pull_line, setting_text
from doe.words.notes import Note
from doe.words.numbers import duration, several

if TYPE_CHECKING:
    from doe.words.day.coming.seen_ahead import Begin, Day, Ending, Step, UpNext

Clock = Callable[[float], str]  # minute of the day -> "HH:MM"

VALUE = "000.0"
BLOCKED = "what is left of the plan can't be made with what is on"
_ON_TIME_MINUTES = 2.0
_HALF_HOUR = 30.0


def next_text(coming: UpNext, clock: Clock) -> str:
    """All of it: what to do, what to type, what comes after, how the clock stands."""
    return "\n".join(f"{head:<6}{line}".rstrip() for head, line in _lines(coming, clock))


def _lines(coming: UpNext, clock: Clock) -> Iterator[tuple[str, str]]:
    """Each line with its head."""
    if coming.ending is not None and (coming.closed or coming.done or coming.blocked):
        yield from _end_lines(coming, coming.ending)
        return
    if coming.past_finish:
        yield from _past_lines(coming, clock)
        return
    if coming.step is None:
        yield from _no_plan_lines(coming)
        return
    yield from _now_lines(coming, coming.step, clock)
    yield from _begin_lines(coming)
    yield "TYPE", record_line(coming)
    for when, line in other_lines(coming):
        yield "", f"{when}?  {line}"
    if coming.then is not None:
        yield "THEN", f"{coming.then.do or 'the same again'}; {_first_pull_text(coming.day, coming.then, clock)}"
    else:
        yield "THEN", f"the plan is done: {coming.ending.command if coming.ending else _command(coming, 'next')}"
    yield from _baseline_lines(coming)
    yield from _clock_lines(coming, clock)
    yield "MADE", _progress_text(coming)


def _baseline_lines(coming: UpNext) -> Iterator[tuple[str, str]]:
    """Whether the engine still makes its number."""
    if coming.baseline is not None and (said := baseline_line(coming.baseline, coming.day.metric.unit)):
        yield "BASE", said


def _first_pull_text(day: Day, step: Step, clock: Clock) -> str:
    """When the first pull of a later step starts: as it looks now, and as planned."""
    planned = clock(step.planned_start)
    looks = clock(step.end - day.cell.pull_minutes) if step.end is not None else planned
    if looks == planned:
        return f"its first pull at {planned}, as planned"
    return f"its first pull at {looks} as it looks now, planned at {planned}"


def _now_lines(coming: UpNext, step: Step, clock: Clock) -> Iterator[tuple[str, str]]:
    """What to do, and how many pulls."""
    day = coming.day
    head = "NOW"
    if coming.warming_up:
        yield head, f"warm the engine up until {clock(day.cell.warm_up_minutes)}"
        head = ""
    if step.do:
        yield head, f"{step.do}  ({step.minutes:g} min)"
        head = ""
    until = step.until if step.until is not None else step.planned_end
    yield head, f"{pulls_text(step)}, until {clock(until)}"
    yield "WITH", fitted_text(day, step.configuration)


def _begin_lines(coming: UpNext) -> Iterator[tuple[str, str]]:
    """What the pull must begin with; what to wait for stands first."""
    waiting = [begin for begin in coming.begins if begin.wait]
    head = "WAIT"
    for begin in waiting:
        yield head, wait_text(begin.limit, begin.now or 0.0)
        head = ""
    head = "BEGIN"
    for begin in coming.begins:
        if begin not in waiting:
            yield head, _begin_text(begin)
            head = ""


def _begin_text(begin: Begin) -> str:
    """A range, and what is known of the number."""
    asked = f"with {range_text(begin.limit)}"
    if begin.now is not None:
        return f"{asked}: it is {begin.now:g} now"
    if begin.last is not None and not begin.limit.low <= begin.last <= begin.limit.high:
        return f"{asked}; the last pull began with {begin.last:g}, and is marked"
    return asked


def lost(on: Sequence[str], steps: Sequence[int], folder: str) -> Note:
    """Steps that can't be made any more, since a part is on that can't be taken back."""
    which = f"step {steps[0]}" if len(steps) == 1 else f"{len(steps)} steps, from step {steps[0]} on,"
    text = (
        f"{' and '.join(on)} is on and can't be taken back, so {which} of the plan can't be made any more:"
        f" {from_now(folder)} plans the rest anew"
    )
    return Note("one-way-part-on", "", text, "serious")


def from_now(folder: str) -> str:
    """The line that plans the rest of a day."""
    return f"{f'doe plan {folder}'.rstrip()} --from-now"


def short_text(coming: UpNext) -> str:
    """The next step of a plan on half a line, for the end of what `doe record` prints."""
    step = coming.step
    if coming.ending is None and coming.standing.blocked:
        return f"{BLOCKED}: {from_now(coming.folder)}  plans the rest anew"
    if step is None:
        return f"{coming.ending.says}: {coming.ending.command}" if coming.ending else "the plan is done"
    due = pulls_text(step)
    return f"{step.do} ({step.minutes:g} min), then {due}" if step.do else f"{due}, nothing to change"


def pulls_text(step: Step) -> str:
    """How many pulls: "1 throw-away pull, then 3 that count"."""
    if not step.throw_away:
        return f"{step.pulls} pull{'s' * (step.pulls != 1)}"
    first = f"{step.throw_away} throw-away pull{'s' * (step.throw_away != 1)}"
    return f"{first}, then {step.pulls} that count{'s' * (step.pulls == 1)}" if step.pulls else first


def record_line(coming: UpNext) -> str:
    """What to type after the pull."""
    return f"{_command(coming, 'record')} {VALUE}"


def other_lines(coming: UpNext) -> Iterator[tuple[str, str]]:
    """What to type where the work before the step could not be done: when, and the line."""
    step = coming.step
    if step is None:
        return
    for factor in coming.day.factor:
        before, after = step.before[factor.name], step.configuration[factor.name]
        if before != after:
            line = f"{record_line(coming)} --set {setting_text(factor.name, before)}"
            yield f"{factor.name} is still {before}", line
    if step.fresh:
        yield f"{step.fresh} was not fitted afresh", f"{record_line(coming)} --kept"


def _clock_lines(coming: UpNext, clock: Clock) -> Iterator[tuple[str, str]]:
    """How the day stands against the clock."""
    behind, finish, day = coming.behind, coming.finish, coming.day
    if behind is None or finish is None:
        yield "CLOCK", f"today is not the day's date, {day.day.date}: the times are the planned ones"
        if coming.today is not None:
            yield "", f"is it made today?  put date = {coming.today} into [day] of day.toml"
        return
    ends = f"the plan ends at {clock(finish)}"
    if abs(behind) < _ON_TIME_MINUTES:
        yield "CLOCK", f"on time; {ends}"
    else:
        yield "CLOCK", f"{duration(abs(behind))} {'behind' if behind > 0 else 'ahead of'} the plan; {ends}"
    if coming.overrun > _ON_TIME_MINUTES:
        yield "", f"that is {duration(coming.overrun)} after the day's finish, {clock(coming.must_end)}"
    if coming.late:
        yield "LATE", f"{from_now(coming.folder)}  plans the rest anew, so that it ends in time"


def _end_lines(coming: UpNext, ending: Ending) -> Iterator[tuple[str, str]]:
    """Nothing is to be pulled any more."""
    if coming.blocked:
        yield "NOW", f"{BLOCKED}: {_made_text(coming)}"
        yield "TYPE", f"{from_now(coming.folder)}  plans the rest anew"
        yield "", f"are there no more pulls to be made?  {ending.command}"
        return
    yield "NOW", f"{ending.says}: {_made_text(coming)}"
    yield "TYPE", ending.command
    if coming.closed:
        yield "", f"are there more pulls after all?  {_command(coming, 'judge')} --reopen"


def _past_lines(coming: UpNext, clock: Clock) -> Iterator[tuple[str, str]]:
    """The day's hours are over, or its date."""
    day = coming.day
    finish = f"the day's finish, {clock(coming.must_end)}, has passed"
    passed = f"the day was on {day.day.date}" if coming.over else finish
    if not coming.counted:
        yield "NOW", f"{passed}, and no pull counts: put the hours of [day] in day.toml right"
        yield "TYPE", f"{_command(coming, 'plan')} --new"
        return
    yield "NOW", f"{passed}: {_made_text(coming)}"
    if coming.ending is not None:
        yield "TYPE", coming.ending.command
    yield "", f"was one more pull made?  {record_line(coming)}"
    if coming.over:
        yield "", f"more pulls on another day?  doe plan {coming.another} --after {coming.folder or '.'}"
    elif (longer := _longer(coming)) is not None:
        yield "", f"going on today?  {_command(coming, 'plan')} --from-now --finish {clock(longer)}"


def _longer(coming: UpNext) -> float | None:
    """A finish by which the rest can be made, its first changeover and pull begun only now; None where no day has one.

    The plan's end as it looks now takes it that the first pull is just being made.
    """
    if coming.finish is None or coming.step is None:
        return None
    pull = coming.day.cell.pull_minutes
    wanted = _HALF_HOUR * math.ceil((coming.finish + coming.step.minutes + pull) / _HALF_HOUR)
    least = (coming.now or 0.0) + coming.step.minutes + pull
    longest = min(wanted, coming.day.latest_finish_minute)
    return longest if longest > least else None


def _made_text(coming: UpNext) -> str:
    """How many pulls there are."""
    if not coming.standing.runs:
        return f"{several(coming.counted, 'pull')} that count{'s' * (coming.counted == 1)}"
    if coming.counted > coming.made:
        left = coming.planned - coming.made
        return f"{several(coming.counted, 'pull')} that count{'s' * (coming.counted == 1)} made, {left} not"
    return f"{coming.made} of {coming.planned} pulls that count were made"


def _progress_text(coming: UpNext) -> str:
    """How many pulls there are, and how many come; those of a plan that was replaced, or of none, are made as well."""
    if coming.counted > coming.made:
        return f"{coming.counted} made; {coming.planned - coming.made} to come (pulls that count)"
    return f"{coming.made} of {coming.planned} pulls that count"


def _no_plan_lines(coming: UpNext) -> Iterator[tuple[str, str]]:
    """Nothing is planned."""
    day, standing = coming.day, coming.standing
    yield "NOW", f"there is no plan; fitted is {fitted_text(day, standing.fitted)}"
    if standing.last is not None:
        yield "LAST", pull_line(day, standing.last)
    yield from _baseline_lines(coming)
    yield from _begin_lines(coming)
    yield "TYPE", record_line(coming)
    other = [(factor.name, level) for factor in day.factor for level in factor.levels]
    for name, level in [(name, level) for name, level in other if standing.fitted[name] != level][:1]:
        yield "", f"with something else fitted?  {record_line(coming)} --set {setting_text(name, level)}"
    if not standing.pulls:
        yield "PLAN", f"{_command(coming, 'plan')}  draws up the order and the clock, before the first pull"


def _command(coming: UpNext, name: str) -> str:
    """A command line with the folder where it is needed."""
    return f"doe {name} {coming.folder}".rstrip()
