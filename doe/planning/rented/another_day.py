"""What another rented day would buy, before it is paid for: a what-if, which writes nothing and leaves plans alone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from doe.day.files.campaign_link import campaign_link, missing_days
from doe.day.files.which_folder import another_day as folder_for_another
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.begun_day import BegunDay, begun_day
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.other_days import fixed
from doe.planning.drawn.exact import Promise, exact, runs_of
from doe.planning.rented.coming_back import Verdict, settled_by_any
from doe.planning.rented.exchange_days import OneDay, Progress, Together, improved, plan_together, settled_by
from doe.planning.rented.fixed_days import promise_of, promise_of_made
from doe.planning.search.searches import EVALUATIONS, both_kinds, search_both, seed_or_new
from doe.planning.under_way.linked_days import pulls_of
from doe.planning.wishes.wished import NOTHING_MORE, MoreWishes, with_wishes
from doe.words.day.pull_words import quoted
from doe.words.plans.another_words import another_text
from doe.words.result import Answer
from doe.words.significance import settled_of

_SHARE = 1 / 4  # of a search's evaluations, for each of the days
_SWEEPS = 2


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely a question is settled: half for a gain worth having that is found, half for none that is told."""

    factor: str
    level: str
    now: float
    then: float  #: with another day


@dataclass(frozen=True, slots=True, repr=False)
class AnotherDay(Answer):
    """One day more, with the hours of the last one."""

    folders: tuple[Path, ...]  #: in the order of their dates
    planned: bool  #: the days have plans, which stay as they are
    begun: bool  #: pulls are logged, so that the other day has a verdict of its own, with half of the risk
    questions: tuple[Chance, ...]
    hours: float  #: of that day, breaks included
    cost: float | None  #: of those hours; None where day.toml has no price
    currency: str
    seed: int

    @property
    def settled(self) -> float:
        """Questions that the days as they are settle."""
        return sum(question.now for question in self.questions)

    @property
    def more(self) -> float:
        """Questions settled with another day."""
        return sum(question.then for question in self.questions)

    @property
    def typed(self) -> tuple[str, ...]:
        """The folders as they are typed in a command."""
        return tuple(quoted(str(folder)) for folder in self.folders)

    @property
    def another(self) -> str:
        """A folder that isn't there yet, for that day, as it is typed."""
        return folder_for_another(self.folders[-1])

    def to_dict(self) -> dict[str, Any]:
        """Full precision."""
        return {
            **asdict(self),
            "folders": [str(folder) for folder in self.folders],
            "settled": self.settled,
            "more": self.more,
        }

    def to_text(self) -> str:
        """What it would add, question by question, and how to have it."""
        return another_text(self)


def another_day(
    found: Sequence[tuple[Path, DayFile]],
    *,
    seed: int | None = None,
    effort: str = "normal",
    wishes: MoreWishes = NOTHING_MORE,
    progress: Progress | None = None,
) -> AnotherDay:
    """What one more day like the last would settle.

    Days that have plans stay as they are, and the other one is planned behind them; days without are planned with it,
    for this answer.

    Parameters
    ----------
    found : sequence of (Path, DayFile)
        Days that go together, in the order of their dates; see `several_days.days_in_order`.
    seed : int, optional
    effort : {"quick", "normal", "long"}
    wishes : MoreWishes
        Of the days that are planned.
    progress : callable, optional

    Raises
    ------
    InputError
        Only some have a plan, or not one in common; or they have had their verdict.
    """
    seed = seed_or_new(seed)
    standing = [begun_day(folder, day) for folder, day in found]
    planned = [one.plan is not None for one in standing]
    if any(planned) or any(one.made() for one in standing):
        _refuse_other_campaigns(found, standing)
        return _behind(found, standing, wishes, seed, effort)
    wished = [with_wishes(day, wishes) for _, day in found]
    together = plan_together(wished, seed=seed, effort=effort, progress=progress)
    return _with_them(found, together, seed, effort)


def _refuse_other_campaigns(found: Sequence[tuple[Path, DayFile]], standing: Sequence[BegunDay]) -> None:
    """Plans that stay must be those of these days, and their verdict still to come.

    Raises
    ------
    InputError
        They aren't, or it isn't.
    """
    folders = [folder for folder, _ in found]
    without = [str(folder) for folder, one in zip(folders, standing, strict=True) if one.plan is None]
    anew = f"doe plan {' '.join(quoted(str(folder)) for folder in folders)} --new"
    if without:
        raise InputError(f"{', '.join(without)}: no plan, and other days have one; '{anew}' plans them together")
    links = [campaign_link(one.plan.document) if one.plan else None for one in standing]
    if absent := missing_days(links):
        names = ", ".join(day.folder for day in absent)
        raise InputError(f"{folders[0]}: planned together with {names}; name all days that were planned together")
    if len(found) > 1 and (None in links or len({link.name for link in links if link}) > 1):
        raise InputError(f"{folders[0]}: these days were planned each by itself; '{anew}' plans them together")
    if judged := [str(folder) for folder, one in zip(folders, standing, strict=True) if _judged(one)]:
        after = f"doe plan {folder_for_another(folders[-1])} --after {quoted(str(folders[-1]))}"
        raise InputError(f"{', '.join(judged)}: judged already; '{after}' plans a further day for the next verdict")


def _judged(one: BegunDay) -> bool:
    return any(look.final for look in one.ledger)


def _next(day: DayFile) -> DayFile:
    """A day like it, a day later."""
    return day.model_copy(update={"day": day.day.model_copy(update={"date": day.day.date + dt.timedelta(days=1)})})


def _behind(
    found: Sequence[tuple[Path, DayFile]], standing: Sequence[BegunDay], wishes: MoreWishes, seed: int, effort: str
) -> AnotherDay:
    """Planned behind days that stay as they are."""
    made = {number: pulls_of(one) for number, one in enumerate(standing)}
    last = found[-1][1]
    day, begun = with_wishes(_next(last), wishes), any(one.made() for one in standing)
    single, mixed = both_kinds(day)
    now = promise_of_made(single, made)
    history = fixed(day, made, len(made))
    if begun and history is not None and now is not None:
        stages = zip(history.stages, now.asked.tolist(), strict=True)
        history = replace(history, stages=tuple(stage.verdict() if asked else stage for stage, asked in stages))
    kinds = (replace(single, history=history), replace(mixed, history=history))
    searched = search_both(*kinds, seed=seed, effort=effort, share=2 * _SHARE)
    then = None
    if searched.found is not None:
        arrays = searched.arrays
        then = exact(arrays, runs_of(arrays, searched.found.plan))
        if begun and now is not None:
            verdicts = [Verdict(now, single.confidence), Verdict(then, arrays.confidence)]
            chances = settled_by_any(single.smallest, verdicts, np.random.default_rng([seed, 31]))
            return _answer(found, _chances(now, single), chances, seed, planned=True, begun=True)
    return _answer(found, _chances(now, single), _chances(then or now, single), seed, planned=True, begun=begun)


def _with_them(found: Sequence[tuple[Path, DayFile]], together: Together, seed: int, effort: str) -> AnotherDay:
    """Planned with days that have no plan yet."""
    last = together.days[-1].arrays
    days = (*together.days, OneDay(replace(last, day=_next(last.day)), None))
    more = Together(days, settled_by(days))
    for sweep in range(_SWEEPS):
        more = improved(more, [seed, 20 + sweep], int(_SHARE * EVALUATIONS[effort]))
    now, then = (_chances(_promise(one), last) for one in (together, more))
    return _answer(found, now, then, seed, planned=False, begun=False)


def _promise(together: Together) -> Promise | None:
    return promise_of([day.arrays for day in together.days], [day.runs for day in together.days])


def _chances(promise: Promise | None, arrays: DayArrays) -> np.ndarray:
    return np.zeros(len(arrays.smallest)) if promise is None else settled_of(promise.real, promise.none)


def _answer(
    found: Sequence[tuple[Path, DayFile]],
    now: np.ndarray,
    then: np.ndarray,
    seed: int,
    *,
    planned: bool,
    begun: bool,
) -> AnotherDay:
    """Never less than without it."""
    day = found[-1][1]
    hours = day.length_minutes / 60
    worse = bool(then.sum() < now.sum())
    chances = zip(day.questions, now.tolist(), (now if worse else then).tolist(), strict=True)
    return AnotherDay(
        folders=tuple(folder for folder, _ in found),
        planned=planned,
        begun=begun,
        questions=tuple(Chance(factor.name, change.level, a, b) for (factor, change), a, b in chances),
        hours=hours,
        cost=None if day.day.per_hour is None else hours * day.day.per_hour,
        currency=day.day.currency,
        seed=seed,
    )
