"""Rehearsals: thousands of simulated days of one plan, with known truths, through the same judge."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import command, of_folder
from doe.day.log.looks import Look, read_looks
from doe.day.log.planned.followed import followed_plan
from doe.day.log.stages import stages_of
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.errors import DoeError, InputError
from doe.planning.arrays.assumptions import unit_of
from doe.simulation.other_truths import AS_PLANNED, OtherTruth
from doe.simulation.rehearsed_days import Counts, Truth, count
from doe.words.phrases import WIDTH
from doe.words.plans.rehearsal_screen import rehearsal_screen
from doe.words.plans.rehearsal_words import rehearsal_text
from doe.words.result import Told
from doe.words.screen import Screen, filled
from doe.words.significance import NOTABLE
from doe.words.verdicts import SIGNS
from doe.workers.spread import spread

_AT_ONCE = 250  # days a task: the same days whatever the number of workers
_PROMISED = ("nothing works", "smallest gain")  # the truths that a plan's promise is about


@dataclass(frozen=True, slots=True)
class ChangeShares:
    """How often each verdict came out for one change; shares of days."""

    factor: str
    level: str
    true_gain: float
    real_gain: float
    real_loss: float
    no_difference: float
    not_settled: float
    coverage: float | None  #: of the simultaneous interval; None where there is none
    before_and_after: float  #: one pull before and one after show at least the smallest gain


@dataclass(frozen=True, slots=True)
class Scenario:
    """One truth, rehearsed."""

    name: str  #: "nothing works", "smallest gain" or "as given"
    changes: tuple[ChangeShares, ...]
    family_coverage: float | None  #: all intervals hold together
    false_verdicts: float  #: days with any verdict that is wrong


@dataclass(frozen=True, slots=True)
class Broken:
    """What is left of the promise where something is otherwise than the plan believes."""

    otherwise: str  #: what, in words; "as planned" in the first
    settled: float  #: questions: half for each smallest gain found, half for each worthless change told to be so
    false_verdicts: float  #: share of days with any, where nothing works
    family_coverage: float | None  #: all intervals hold together, in the worse of both truths


@dataclass(frozen=True, slots=True, repr=False)
class Rehearsal(Told):
    """What a plan is worth, by trying it."""

    days: int
    seed: int
    scenarios: tuple[Scenario, ...]
    gain_unit: str = ""
    broken: tuple[Broken, ...] = ()  #: where other truths were asked for; the first is the truth as planned
    risk: float = NOTABLE  #: of the next verdict, at which the days were judged; where questions differ, the largest

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe rehearse --json`` prints."""
        return {
            "days": self.days,
            "seed": self.seed,
            "risk": self.risk,
            "scenarios": [asdict(scenario) for scenario in self.scenarios],
            "other_truths": [asdict(one) for one in self.broken],
        }

    def to_frame(self) -> Any:
        """One row per scenario and change (a pandas DataFrame)."""
        import pandas as pd

        rows = [{"scenario": s.name, **asdict(change)} for s in self.scenarios for change in s.changes]
        frame = pd.DataFrame(rows)
        frame.attrs["units"] = {"true_gain": self.gain_unit}
        return frame

    def screen(self) -> Screen:
        """What this plan answers, and how often it would be wrong."""
        return rehearsal_screen(self.days, self.seed, self.scenarios, self.broken, self.risk)

    def full_text(self, width: int = WIDTH) -> str:
        """The same sentence, and behind it the shares of all verdicts under each truth."""
        text = rehearsal_text(self.days, self.seed, self.scenarios, self.broken, self.risk, width)
        return f"{filled(self.screen().first, width)}\n\n{text}"


def rehearse(
    folder: Path | str,
    *,
    days: int = 2000,
    seed: int = 1,
    gains: Mapping[tuple[str, str], float] | None = None,
    others: Sequence[OtherTruth] = (),
    jobs: int = 1,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Rehearsal:
    """Rehearse the plan of a day folder.

    The noise is that of day.toml: its SDs are the truth, and where they come with df each simulated day is judged with
    a study of its own, drawn from its sampling distribution.

    Parameters
    ----------
    folder : path
        A day folder with a plan.
    days : int
        For each scenario.
    seed : int
        Same seed, same table, whatever the number of workers.
    gains : mapping of (factor, level) to float, optional
        A truth of one's own, beside "nothing works" and "smallest gain".
    others : sequence of OtherTruth
        What else may be so in the cell: "nothing works" and "smallest gain" are rehearsed with each.
    jobs : int
        Processes.
    progress : callable
        Told (days done, days in all).

    Returns
    -------
    Rehearsal

    Raises
    ------
    DoeError
        There is no plan, or no pull SD to simulate with.
    """
    folder = Path(folder)
    day = read_day_file(folder)
    plan = followed_plan(folder, day)
    if plan is None:
        raise DoeError(of_folder(folder, f"no plan to rehearse; '{command('plan', folder)}' draws one"))
    asked: dict[str, Any] = {"days": days, "seed": seed, "gains": gains, "others": others, "jobs": jobs}
    return rehearse_runs(day, plan.runs, ledger=read_looks(folder), progress=progress, **asked)


def rehearse_runs(
    day: DayFile,
    runs: Sequence[Run],
    *,
    days: int = 2000,
    seed: int = 1,
    gains: Mapping[tuple[str, str], float] | None = None,
    others: Sequence[OtherTruth] = (),
    ledger: Sequence[Look] = (),
    jobs: int = 1,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Rehearsal:
    """Rehearse runs that need not be saved; `ledger`: verdicts that were shown, the others as in `rehearse`."""
    if days < 1:
        raise InputError(f"--days {days}: expected 1 or more")
    if day.noise.pull_sd is None:
        raise DoeError("[noise] has no pull_sd: nothing to simulate the scatter with; a guess will do")
    truths = _truths(day, gains)
    asked = [Truth(gains) for gains in truths.values()]
    asked += [Truth(truths[name], other) for other in others for name in _PROMISED]
    sizes = [min(_AT_ONCE, days - first) for first in range(0, days, _AT_ONCE)]
    seeds = np.random.SeedSequence(seed).spawn(len(sizes))
    risks = tuple(stage.left for stage in stages_of([ledger], day))
    tasks = [(day, tuple(runs), risks, truth, n, s) for truth in asked for n, s in zip(sizes, seeds, strict=True)]
    done: list[Counts] = []
    for found in spread(count, tasks, chunk=1, jobs=jobs):  # a task is long beside the cost of sending it
        done.append(found)
        progress(sum(c.days for c in done), days * len(asked))
    parts = [done[first : first + len(sizes)] for first in range(0, len(done), len(sizes))]
    scenarios = [
        _scenario(day, name, truth, part)
        for (name, truth), part in zip(truths.items(), parts[: len(truths)], strict=True)
    ]
    broken = _broken(day, truths, scenarios, others, parts[len(truths) :]) if others else ()
    return Rehearsal(days, seed, tuple(scenarios), unit_of(day), tuple(broken), max(risks))


def _broken(
    day: DayFile,
    truths: Mapping[str, Mapping[tuple[str, str], float]],
    planned: Sequence[Scenario],
    others: Sequence[OtherTruth],
    parts: Sequence[Sequence[Counts]],
) -> Iterator[Broken]:
    """The promise as planned, then what each other truth leaves of it."""
    unit = unit_of(day)
    yield _what_is_left(AS_PLANNED.text(unit), *planned[: len(_PROMISED)])
    for other, *both in zip(others, parts[::2], parts[1::2], strict=True):
        found = [_scenario(day, name, truths[name], part) for name, part in zip(_PROMISED, both, strict=True)]
        yield _what_is_left(other.text(unit), *found)


def _what_is_left(otherwise: str, nothing: Scenario, smallest: Scenario) -> Broken:
    told = sum(change.no_difference for change in nothing.changes)
    seen = sum(change.real_gain for change in smallest.changes)
    held = [one.family_coverage for one in (nothing, smallest) if one.family_coverage is not None]
    return Broken(otherwise, (told + seen) / 2, nothing.false_verdicts, min(held, default=None))


def _truths(day: DayFile, gains: Mapping[tuple[str, str], float] | None) -> dict[str, dict[tuple[str, str], float]]:
    questions = [(f.name, c.level) for f, c in day.questions]
    good = SIGNS[day.metric.better]
    smallest = {(f.name, c.level): good * (c.smallest_gain or 0.0) for f, c in day.questions}
    truths = dict(zip(_PROMISED, (dict.fromkeys(questions, 0.0), smallest), strict=True))
    if gains:
        truths["as given"] = {question: gains.get(question, 0.0) for question in questions}
    return truths


def _scenario(day: DayFile, name: str, truth: Mapping[tuple[str, str], float], parts: Sequence[Counts]) -> Scenario:
    days = sum(part.days for part in parts)
    words = np.sum([part.words for part in parts], axis=0) / days
    covered = np.sum([part.covered for part in parts], axis=0) / days
    naive = np.sum([part.before_and_after for part in parts], axis=0) / days
    shown = parts[0].shown
    changes = tuple(
        ChangeShares(
            factor=factor.name,
            level=change.level,
            true_gain=truth[factor.name, change.level],
            real_gain=float(words[i, 0]),
            real_loss=float(words[i, 1]),
            no_difference=float(words[i, 2]),
            not_settled=float(words[i, 3]),
            coverage=float(covered[i]) if shown[i] else None,
            before_and_after=float(naive[i]),
        )
        for i, (factor, change) in enumerate(day.questions)
    )
    return Scenario(
        name,
        changes,
        sum(part.all_covered for part in parts) / days if shown.any() else None,
        sum(part.any_false for part in parts) / days,
    )
