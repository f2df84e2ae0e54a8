"""The plan as made beside the plan as done, one line a set of pulls, under every plan that the day had."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from doe.day.clock import clock_text
from doe.day.records import Pull, Run
from doe.day.schema import DayFile
from doe.report.sections.day_parts import DayParts
from doe.words.fitted import changed_text


@dataclass(frozen=True, slots=True)
class StintLine:
    """One set of pulls: what was planned, and what the log has of it."""

    number: int
    clock: str  #: planned start of its first pull
    do: str  #: what had to be done before it
    fitted: str  #: in words
    planned: int  #: counted pulls
    made: int  #: counted pulls, void ones left out
    void: int
    began: str  #: start of its first pull as made; "" when none was, or it has no time
    replaced: bool = False  #: another plan took its place before it was begun


def stint_lines(day: DayFile, runs: Sequence[Run], pulls: Sequence[Pull], *, replaced: bool = False) -> list[StintLine]:
    """Return one line for every planned set of pulls, in order; of a `replaced` plan what wasn't made is off."""
    groups = [list(group) for _, group in groupby(runs, key=lambda run: run.stint)]
    lines = [_line(day, group, [pull for pull in pulls if pull.run in {run.run for run in group}]) for group in groups]
    return [line if not replaced or line.made or line.void else _off(line) for line in lines]


def sets_of(parts: DayParts) -> Iterator[StintLine]:
    """Every set of pulls that a plan of the day asked for, the first plan first."""
    last = len(parts.stages) - 1
    later: set[int] = set()
    kept = []
    for number, stage in reversed(list(enumerate(parts.stages))):
        kept.append((number, [run for run in stage.runs if run.run not in later]))
        later |= {run.run for run in stage.runs}
    for number, runs in reversed(kept):
        if runs:
            yield from stint_lines(parts.day, runs, parts.pulls, replaced=number < last)


def unplanned(pulls: Sequence[Pull]) -> int:
    """Return how many counted pulls fulfil no row of the plan."""
    return sum(pull.run is None and pull.counts for pull in pulls)


def _off(line: StintLine) -> StintLine:
    return StintLine(line.number, line.clock, line.do, line.fitted, line.planned, 0, 0, "", replaced=True)


def _line(day: DayFile, runs: Sequence[Run], pulls: Sequence[Pull]) -> StintLine:
    first = runs[0]
    minutes = [pull.minute - day.cell.pull_minutes for pull in pulls if pull.minute is not None]
    return StintLine(
        number=first.stint,
        clock=first.clock,
        do=first.do,
        fitted=changed_text(first.configuration, day.baseline),
        planned=sum(run.count == "yes" for run in runs),
        made=sum(pull.counts for pull in pulls),
        void=sum(pull.void is not None for pull in pulls),
        began=clock_text(day, min(minutes)) if minutes else "",
    )
