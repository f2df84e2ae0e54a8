"""Several day folders as one campaign: in the order of their dates, each once, with one set of questions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path

from doe.analysis.trials.from_folders import DayFolder
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.errors import InputError


def read_days(folders: Sequence[Path]) -> list[DayFolder]:
    """Read day folders that are taken together, by date whatever the order in which they are named.

    Days of one date go by their start, then by their path.

    Raises
    ------
    InputError
        A file is wrong, a day is there twice, or the days don't ask the same; all of it at once.
    """
    days = [DayFolder.read(folder) for folder in sorted(folders, key=lambda folder: Path(folder).resolve().as_posix())]
    days.sort(key=lambda day: (day.day.day.date, day.day.day.start))
    if faults := [*_twice(days), *_other_questions(days)]:
        raise InputError(faults)
    if len(days) == 1:
        return days
    return [_called(day, name) for day, name in zip(days, short_names([day.folder for day in days]), strict=True)]


def _called(day: DayFolder, name: str) -> DayFolder:
    """The day with its name in the campaign, in front of its notes too."""
    return replace(day, name=name, notes=tuple(note.under(name) for note in day.notes))


def short_names(folders: Sequence[Path]) -> list[str]:
    """The folders' names, with as many of their parents as it takes to tell them apart."""
    parts = [folder.resolve().parts for folder in folders]
    longest = max(map(len, parts))
    names = [["/".join(path[-length:]) for path in parts] for length in range(1, longest + 1)]
    return next((own for own in names if len(set(own)) == len(folders)), names[0])


def _twice(days: Sequence[DayFolder]) -> Iterator[str]:
    """A folder that is named twice, or that is the copy of another: its pulls would count twice."""
    for one, other in combinations(days, 2):
        if one.folder.resolve() == other.folder.resolve():
            yield f"{one.folder}: named twice; each day of a campaign counts once"
        elif one.day.day.date == other.day.day.date and _same_pulls(one.pulls, other.pulls):
            yield (
                f"{other.folder}: it holds the same pulls as {one.folder}, a copy of the day; name one of them, or put"
                " its own date in day.toml if it is another day"
            )


def _same_pulls(one: Sequence[Pull], other: Sequence[Pull]) -> bool:
    """Whether all pulls of the shorter log are in the other one."""
    short, long = sorted(([(p.time, p.configuration, p.values) for p in pulls] for pulls in (one, other)), key=len)
    return bool(short) and all(pull in long for pull in short)


def _other_questions(days: Sequence[DayFolder]) -> Iterator[str]:
    """What differs from the first day and may not: one campaign has one of each."""
    first = days[0].day
    for other in days[1:]:
        for what, a, b in (
            ("the metric", first.metric, other.day.metric),
            ("the correction", _corrections(first), _corrections(other.day)),
            ("[analysis]", first.analysis, other.day.analysis),
            ("the factors", [f.name for f in first.factor], [f.name for f in other.day.factor]),
            ("the baseline", first.baseline, other.day.baseline),
            ("what is refitted (refit)", _refit(days[0]), _refit(other)),
            *_gains(days[0], other),
        ):
            if a != b:
                yield f"{other.folder}/day.toml: {what} differs from {days[0].folder}: one campaign has one of each"


def _corrections(day: DayFile) -> tuple[object, ...]:
    """What the numbers contain, and what they are corrected to on reading: standards are never mixed."""
    cell = day.cell
    return (
        cell.correction, cell.correct_to, cell.efficiency, cell.friction_power, cell.pressure, cell.altitude_m,
    )  # fmt: skip


def _refit(day: DayFolder) -> set[str]:
    return {factor.name for factor in day.day.refit_factors}


def _gains(one: DayFolder, other: DayFolder) -> Iterator[tuple[str, float | None, float | None]]:
    """The smallest gains of the changes that both days have."""
    gains = {(factor.name, change.level): change.smallest_gain for factor, change in one.day.questions}
    for factor, change in other.day.questions:
        if (factor.name, change.level) in gains:
            wanted = gains[factor.name, change.level]
            yield f"the smallest_gain of {factor.name} {change.level}", wanted, change.smallest_gain
