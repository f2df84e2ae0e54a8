"""Day folders judged: one day, or several as one campaign."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from doe.analysis.judging.ask import Ask
from doe.analysis.judging.judgement import Judgement
from doe.analysis.judging.looks import next_look, shares, with_conditional_power
from doe.analysis.judging.randomisation import randomisation_tests
from doe.analysis.judging.settle import Costs
from doe.analysis.judging.verdicts import judge_trial, withheld
from doe.analysis.trials.campaign import read_days
from doe.analysis.trials.from_folders import CountedPulls, DayFolder, planned_trial, trial_of_days
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.day.log.looks import Look, read_looks, write_looks
from doe.day.traced import unit_of
from doe.errors import DoeError, InputError
from doe.words.day.seal_words import seal_broken
from doe.words.judgements import judge_notes
from doe.words.notes import Note


def judge_day(
    folder: Path | str | Sequence[Path | str],
    *,
    metric: str | None = None,
    method: str = "auto",
    look: bool = False,
    final: bool = False,
    checks: bool = True,
) -> Judgement:
    """Judge a day folder, or several as one campaign. Writes nothing: see `judge_and_log`.

    Parameters
    ----------
    folder : path or sequence of path
    metric : str, optional
        Another column or reading than the sealed metric.
    method : {"auto", "kenward-roger", "install-means"}
    look : bool
        Show the gains although the plan is not finished, at the risk that the look may spend.
    final : bool
        No more pulls will be made, although the plan is not finished.
    checks : bool
        Look for what the verdicts hang on as well, such as a single pull; without it, a sixth of the time.

    Returns
    -------
    Judgement
        While the plan is unfinished, noise and progress only, unless `look` or `final` ask for more.

    Raises
    ------
    InputError
        A file is wrong.
    DoeError
        There is nothing to judge.
    """
    return _judged(folder, metric, method, look, final, checks=checks)[0]


def judge_and_log(
    folder: Path | str | Sequence[Path | str],
    *,
    metric: str | None = None,
    method: str = "auto",
    look: bool = False,
    final: bool = False,
) -> Judgement:
    """Judge as `judge_day` does, and write a new look and the risk that it spent to looks.csv."""
    judgement, new = _judged(folder, metric, method, look, final)
    if new is not None:
        where = Path(folder) if isinstance(folder, str | Path) else Path(folder[0])
        write_looks(where, [*read_looks(where), new])
    return judgement


def _judged(
    folder: Path | str | Sequence[Path | str],
    metric: str | None,
    method: str,
    look: bool,
    final: bool,
    *,
    checks: bool = True,
) -> tuple[Judgement, Look | None]:
    folders = [folder] if isinstance(folder, str | Path) else list(folder)
    days = read_days([Path(f) for f in folders])
    if len(days) > 1 and (look or final):
        raise InputError(_one_by_one(days, "--look" if look else "--final"))
    first = days[0].day
    name = metric or first.metric.name
    trial, values, names, notes = trial_of_days(days, name)
    known = KnownNoise.of(first.noise.model_dump() if name == first.metric.name else None)
    looks_of = [read_looks(day.folder) for day in days]
    kept, late = _before_closing(trial, days, looks_of)
    trial, values, names = trial.take(kept), values[kept], tuple(names[i] for i in kept)
    ask = replace(_ask(days, name, method, names, (*notes, *late)), checks=checks)
    closed = [any(x.final for x in looks) for looks in looks_of]
    finished = all(day.finished() for day in days)
    if not (look or final or all(over or day.finished() for over, day in zip(closed, days, strict=True))):
        return withheld(trial, values, known, ask, _progress(days, trial)), None
    if len(days) > 1:
        return judge_trial(trial, values, known, _after_early_looks(ask, looks_of)), None
    looks, new, planned = looks_of[0], None, trial
    if looks or not finished:
        planned = planned_trial(first, days[0].plan.runs) if days[0].plan else trial
        turn = next_look(looks, trial, planned, first, ended=finished or final)
        new = turn if turn not in looks and (look or final) and not finished else None
        if turn.risk_spent <= 0:
            why = "so little is new that no risk may be spent on a look yet"
            return withheld(trial, values, known, ask, _progress(days, trial, why)), None
        ask = replace(ask, risk=turn.risk_spent, look=(turn.look, turn.risk_spent), final=turn.final)
    judgement = _with_randomisation(judge_trial(trial, values, known, ask), days[0], name, trial, values)
    if ask.look and not ask.final:
        left = 1 - first.analysis.confidence - sum(x.risk_spent for x in (*looks, new) if x is not None)
        judgement = with_conditional_power(judgement, shares(trial, planned, first), left)
    return judgement, new


def _ask(days: Sequence[DayFolder], metric: str, method: str, names: tuple[str, ...], notes: Sequence[Note]) -> Ask:
    """What these days ask: smallest gains and the unit hold for the sealed metric only."""
    first = days[0].day
    sealed_metric = metric == first.metric.name
    return Ask(
        metric=metric,
        unit=unit_of(first, metric),
        scale=first.metric.scale,
        confidence=first.analysis.confidence,
        method=method,
        smallest_gain=_smallest(days) if sealed_metric else {},
        costs=lambda factor, level: _costs(days, factor, level),
        read_as=tuple(line for day in days for line in day.read_as),
        notes=(*(note for day in days for note in day.notes), *notes, *_noise_taken(days), *_seal_notes(days, metric)),
        sealed=_sealed(days, metric),
        pull_names=names,
    )


def _one_by_one(days: Sequence[DayFolder], option: str) -> str:
    """Where an early look, or the end of a day, belongs: to its own day."""
    open_days = [day.folder for day in days if not day.finished()] or [days[-1].folder]
    return (
        f"{option} is for one day folder; a campaign is judged when its days are over. "
        f"To end a day before its plan is done: doe judge {open_days[0]} --final"
    )


def _after_early_looks(ask: Ask, looks_of: Sequence[Sequence[Look]]) -> Ask:
    """A campaign has the risk that the early looks at its days have left: the levels of all looks add up."""
    early = [x for looks in looks_of for x in looks if not x.final]
    if not early:
        return ask
    left = 1 - ask.confidence - sum(x.risk_spent for x in early)
    if left <= 0:
        raise DoeError("the early looks at these days have spent all of the risk: nothing is left for the campaign")
    return replace(ask, risk=left, look=(len(early) + 1, left), final=True)


def _with_randomisation(
    judgement: Judgement, day: DayFolder, metric: str, trial: Trial, values: np.ndarray
) -> Judgement:
    """Add the randomisation p of each judged change; a supplementary number, never the verdict's."""
    if day.plan is None:
        return judgement
    tests = randomisation_tests(day.plan, CountedPulls.of(day, metric).counted[: trial.pulls], trial, values)
    changes = tuple(
        gain if gain.gain is None else replace(gain, randomisation_p=test.p, randomisation_p_smallest=test.smallest)
        for gain, test in zip(judgement.changes, tests, strict=True)
    )
    return replace(judgement, changes=changes)


def _before_closing(
    trial: Trial, days: Sequence[DayFolder], looks_of: Sequence[Sequence[Look]]
) -> tuple[np.ndarray, list[Note]]:
    """Rows of the pulls that were there when each day said "no more pulls today", and what is left out."""
    kept, notes = [], []
    for number, (day, looks) in enumerate(zip(days, looks_of, strict=True)):
        own = np.flatnonzero(trial.day == number)
        closing = next((x for x in looks if x.final), None)
        counted = len(own) if closing is None else min(closing.pulls, len(own))
        kept.append(own[:counted])
        if counted < len(own):
            where = day.name if len(days) > 1 else ""
            notes.append(judge_notes.after_closing(where, len(own) - counted))
    return np.concatenate(kept), notes


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
        notes.append(judge_notes.other_metric(metric, own))
    for day in days:
        where = day.name if len(days) > 1 else ""
        if (seal := day.seal) is None:
            notes.append(judge_notes.not_sealed(where))
        elif not seal.whole:
            notes.append(judge_notes.seal_broken(where, seal_broken(seal)))
    return notes


def _noise_taken(days: Sequence[DayFolder]) -> list[Note]:
    """Whose [noise] is taken, where the days' differ: that of the first, known before any of their pulls."""
    if all(day.day.noise == days[0].day.noise for day in days):
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


def _progress(
    days: Sequence[DayFolder],
    trial: Trial,
    why: str = "--look shows the gains and spends some of the risk, --final ends the day",
) -> Note:
    planned = sum(run.count == "yes" for day in days if day.plan for run in day.plan.runs)
    return judge_notes.not_finished(trial.pulls, planned, why)
