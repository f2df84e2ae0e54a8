"""What day folders ask of their pulls: the words of day.toml that a judgement goes by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from doe.analysis.judging.ask import Ask
from doe.analysis.judging.ledger.planned_together import days_missing, judges_all, pulled_next
from doe.analysis.judging.settle import Costs
from doe.analysis.trials.from_folders import CountedPulls, DayFolder
from doe.analysis.trials.trial import Trial
from doe.day.clock import clock_text
from doe.day.files.limits import outside
from doe.day.files.planfile import ADDED
from doe.day.files.which_folder import another_day
from doe.day.schema import DayFile
from doe.day.traced import unit_of
from doe.errors import InputError
from doe.words.day.seal_words import seal_broken
from doe.words.judgements import judge_notes
from doe.words.notes import Note
from doe.words.verdicts import HIGHER, Better, check_better


def better_of(day: DayFile, metric: str, given: Better | None) -> Better:
    """What is better of a metric: [metric] says it of the sealed one, whoever asks of another one."""
    if given is None:
        return day.metric.better if metric == day.metric.name else HIGHER
    if metric == day.metric.name:
        raise InputError(f"--better {given}: of {metric}, which this day is about, day.toml says it: [metric] better")
    check_better(given)
    return given


def outside_limits(trial: Trial, days: Sequence[DayFolder], metric: str) -> np.ndarray:
    """Whether each pull has a number outside [limits] of its day, shape (pulls,)."""
    marked = np.zeros(trial.pulls, bool)
    for number, day in enumerate(days):
        counted = CountedPulls.of(day, metric).counted
        marked[trial.day == number] = [bool(outside(day.day, pull.values)) for pull in counted]
    return marked


def ask_of(
    days: Sequence[DayFolder], metric: str, better: Better, method: str, names: tuple[str, ...], notes: Sequence[Note]
) -> Ask:
    """What these days ask: smallest gains and the unit hold for the sealed metric only."""
    first = days[0].day
    sealed_metric = metric == first.metric.name
    return Ask(
        metric=metric,
        unit=unit_of(first, metric),
        scale=first.metric.scale,
        better=better,
        confidence=first.analysis.confidence,
        method=method,
        smallest_gain=_smallest(days) if sealed_metric else {},
        costs=lambda factor, level: _costs(days, factor, level),
        folders=tuple(str(day.folder) for day in days),
        next_day="" if (due := pulled_next(days)) is None else str(due),
        together=judges_all(days) if due is None and days_missing(days) else "",
        another=another_day(days[-1].folder),
        read_as=tuple(line for day in days for line in day.read_as),
        notes=(*(note for day in days for note in day.notes), *notes, *_noise_taken(days), *_seal_notes(days, metric)),
        sealed=_sealed(days, metric),
        pull_names=names,
    )


def _sealed(days: Sequence[DayFolder], metric: str) -> bool | None:
    seals = [day.seal for day in days]
    return (
        None
        if None in seals
        else (metric == days[0].day.metric.name and all(seal is not None and seal.whole for seal in seals))
    )


def _seal_notes(days: Sequence[DayFolder], metric: str) -> list[Note]:
    notes = []
    own = days[0].day.metric.name
    if metric != own:
        known = days[0].day.noise.of(metric, own)
        notes.append(judge_notes.other_metric(metric, own, None if known is None else known["source"]))
    for day in days:
        where = day.name if len(days) > 1 else ""
        if (seal := day.seal) is None:
            notes.append(judge_notes.not_sealed(where))
        elif not seal.whole:
            notes.append(judge_notes.seal_broken(where, seal_broken(seal)))
        for joined in (day.plan.document.get(ADDED) or []) if day.plan else []:
            name = f"{joined['factor']} {joined['level']}"
            notes.append(judge_notes.joined(where, name, clock_text(day.day, joined["from_minute"])))
    return notes


def _noise_taken(days: Sequence[DayFolder]) -> list[Note]:
    """Whose [noise] is taken, where the days' differ: that of the first, known before any of their pulls."""
    if all(day.day.own_noise == days[0].day.own_noise for day in days):
        return []
    return [judge_notes.noise_of_first_day(days[0].name)]


def _smallest(days: Sequence[DayFolder]) -> dict[tuple[str, str], float]:
    """The smallest gains of all days, which agree where several have one."""
    return {(f.name, c.level): c.smallest_gain for day in days for f, c in day.day.questions if c.smallest_gain}


def _costs(days: Sequence[DayFolder], factor: str, level: str) -> Costs | None:
    """What a pair takes on the last day that has the change: the next one will be most like it."""
    for day in reversed(days):
        for f, change in day.day.questions:
            if (f.name, change.level) == (factor, level):
                minutes = change.minutes_on + change.minutes_off
                return Costs(minutes, change.settling_pulls, day.day.cell.pull_minutes)
    return None
