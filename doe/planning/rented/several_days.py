"""Several rented days as one sealed campaign: a plan for each, and what they settle together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from doe.day.files.dayfile import read_day_file
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.after_day import refuse_other_parts
from doe.planning.drawn.result import Plan, Practice
from doe.planning.drawn.saving import refuse_when_begun
from doe.planning.rented.after_each import AfterDay, after_each, shares_of
from doe.planning.rented.drawn_days import drawn_orders, plans_of, with_orders
from doe.planning.rented.exchange_days import OneDay, Progress, Together, plan_together
from doe.planning.rented.fixed_days import promise_of
from doe.planning.rented.rivals import compared_days
from doe.planning.rented.sufficient_days import needless, sufficient_days
from doe.planning.rented.wish_costs import wish_costs
from doe.planning.search.searches import EVALUATIONS, seed_or_new
from doe.planning.wishes.prices import Priced
from doe.planning.wishes.wished import NOTHING_MORE, MoreWishes, with_wishes
from doe.words.day.pull_words import quoted
from doe.words.phrases import WIDTH
from doe.words.plans.rented_words import rented_screen, rented_text
from doe.words.result import Told
from doe.words.screen import Screen

TOGETHER = "together"  # key of plan.json: what was found out of all days besides their plans
_RIVALS = 1 / 4  # of a search's evaluations, for each day of those who come back


@dataclass(frozen=True, slots=True)
class OnDays:
    """On which days a question is asked."""

    factor: str
    level: str
    days: tuple[int, ...]  #: numbers of the days on which it has counted pulls; 1 is the first


@dataclass(frozen=True, slots=True, repr=False)
class SeveralDays(Told):
    """The plans of some days that are judged together."""

    folders: tuple[Path, ...]  #: in the order of their dates
    plans: tuple[Plan, ...]  #: each with the promise of all days together
    seed: int
    after_each: tuple[AfterDay, ...] = ()  #: where they stand when each day but the last is done
    if_filled: float | None = None  #: questions settled when the whole days are taken; None where the plans take them
    needless: tuple[int, ...] = ()  #: numbers of the days without any one of which almost as much is settled

    @property
    def names(self) -> tuple[str, ...]:
        """Of the folders, without their paths."""
        return tuple(folder.resolve().name for folder in self.folders)

    @property
    def typed(self) -> tuple[str, ...]:
        """The folders as they are typed in a command."""
        return tuple(quoted(str(folder)) for folder in self.folders)

    @property
    def expected_settled(self) -> float:
        """Questions settled when all days are done."""
        return self.plans[-1].expected_settled

    @property
    def compared(self) -> Mapping[str, Practice]:
        """What other ways would settle on the same hours."""
        return self.plans[-1].compared

    @property
    def wishes(self) -> tuple[Priced, ...]:
        """What the tester wished of any of the days, each with its price."""
        return self.plans[-1].wishes

    @property
    def wishes_cost(self) -> float | None:
        """Questions that all wishes cost together; None without one."""
        return self.plans[-1].wishes_cost

    @property
    def on_days(self) -> tuple[OnDays, ...]:
        """Which question is asked on which days, in file order."""
        return tuple(
            OnDays(question.factor, question.level, tuple(
                number
                for number, plan in enumerate(self.plans, start=1)
                if any(run.configuration[question.factor] == question.level for run in plan.runs if run.counts)
            ))
            for question in self.plans[-1].questions
        )  # fmt: skip

    def to_dict(self) -> dict[str, Any]:
        """Full precision; a plan each, as ``doe plan --json`` has it."""
        return {
            "seed": self.seed,
            "expected_settled": self.expected_settled,
            "questions": [asdict(question) for question in self.plans[-1].questions],
            "on_days": [asdict(one) for one in self.on_days],
            "days": [
                {"folder": str(folder), "date": plan.day.day.date.isoformat(), **plan.to_dict()}
                for folder, plan in zip(self.folders, self.plans, strict=True)
            ],
            "compared": {name: practice.to_dict() for name, practice in self.compared.items()},
            **self._of_all_days(),
            "wishes": [asdict(wish) for wish in self.wishes],
            "wishes_cost": self.wishes_cost,
        }

    def _of_all_days(self) -> dict[str, Any]:
        return {
            "after_each": [asdict(one) for one in self.after_each],
            "if_filled": self.if_filled,
            "needless": list(self.needless),
        }

    def to_frame(self) -> Any:
        """One tidy row per question, with the numbers of its days (a pandas DataFrame)."""
        frame = self.plans[-1].to_frame()
        frame["days"] = [list(one.days) for one in self.on_days]
        return frame

    def screen(self) -> Screen:
        """What to do, a line a day and a line a question."""
        return rented_screen(self)

    def full_text(self, width: int = WIDTH) -> str:
        """What they settle together, a line a day, what stands when each is done, and other ways."""
        return rented_text(self, width)

    def save(self) -> None:
        """Write each day's plan into its folder; the plans before are kept.

        Raises
        ------
        InputError
            Pulls that count are logged on one of them: then nothing is written.
        """
        for folder, plan in zip(self.folders, self.plans, strict=True):
            refuse_when_begun(folder, plan.day)
        for folder, plan in zip(self.folders, self.plans, strict=True):
            replace(plan, made={**plan.made, TOGETHER: self._of_all_days()}).save(folder)


def plan_days(
    folders: Sequence[Path | str],
    *,
    seed: int | None = None,
    effort: str = "normal",
    fill: bool = False,
    wishes: MoreWishes = NOTHING_MORE,
    progress: Progress | None = None,
) -> SeveralDays:
    """Plan some days together. Nothing is written: `SeveralDays.save` does.

    Parameters
    ----------
    folders : sequence of path
        One or more, with different dates or hours, and one set of parts, gains, noise and metric.
    seed : int, optional
    effort : {"quick", "normal", "long"}
    fill : bool
        Whether to take the whole days, also where fewer hours settle almost as much.
    wishes : MoreWishes
        Of each day, beside those of its day.toml.
    progress : callable, optional

    Raises
    ------
    InputError
        A day.toml is wrong, the days don't go together, pulls are logged already, or nothing fits into one of them.
    """
    found = days_in_order(folders)
    for folder, day in found:
        refuse_when_begun(folder, day)
    seed = seed_or_new(seed)
    wished = [with_wishes(day, wishes) for _, day in found]
    together = plan_together(wished, seed=seed, effort=effort, progress=progress)
    for (folder, _), one in zip(found, together.days, strict=True):
        if one.plan is None:
            raise InputError(
                f"{folder}: nothing that could be answered fits into this day; leave it out, or lengthen it"
            )
    return _several(found, wished, together, seed, effort, fill=fill)


def _several(
    found: Sequence[tuple[Path, DayFile]],
    wished: Sequence[DayFile],
    together: Together,
    seed: int,
    effort: str,
    *,
    fill: bool,
) -> SeveralDays:
    """From the searched whole days to plans that are enough, and what they are compared with."""
    enough = sufficient_days(together, seed=seed, effort=effort, fill=fill)
    drawn = drawn_orders(enough, together.settled, seed)
    days = with_orders(enough, drawn)
    arrays = [day.arrays for day in days]
    runs = [day.runs for day in days if day.plan is not None]
    shares = shares_of(arrays, runs)
    folders = tuple(folder for folder, _ in found)
    plans = plans_of(enough, drawn, [day for _, day in found], folders, shares=shares, seed=seed, effort=effort)
    rivals = compared_days(days, seed=seed, evaluations=int(_RIVALS * EVALUATIONS[effort]))
    prices = wish_costs(together, wished, seed=seed, effort=effort)
    return SeveralDays(
        folders=folders,
        plans=tuple(
            replace(plan, compared=rivals, wishes=prices.wishes, wishes_cost=prices.together) for plan in plans
        ),
        seed=seed,
        after_each=after_each(arrays, runs, shares),
        if_filled=_settled(together) if any(map(_short, enough.days)) else None,
        needless=tuple(number + 1 for number in needless(together)),
    )


def _settled(together: Together) -> float:
    """Questions settled by the searched plans of whole days, pull by pull."""
    promise = promise_of([day.arrays for day in together.days], [day.runs for day in together.days])
    return 0.0 if promise is None else promise.settled


def _short(day: OneDay) -> bool:
    """Whether a day's plan takes fewer hours than it has."""
    return day.within.length < day.arrays.length


def days_in_order(folders: Sequence[Path | str]) -> list[tuple[Path, DayFile]]:
    """The days by their dates, with their folders.

    Raises
    ------
    InputError
        A day.toml is wrong, or they don't go together.
    """
    found = [(Path(folder), read_day_file(Path(folder))) for folder in folders]
    found.sort(key=lambda one: (one[1].day.date, one[1].day.start))
    _refuse_what_does_not_go_together(found)
    return found


def _refuse_what_does_not_go_together(found: Sequence[tuple[Path, DayFile]]) -> None:
    """One campaign has one set of everything, and its days follow each other.

    Raises
    ------
    InputError
        Two days overlap, or something differs.
    """
    first_folder, first = found[0]
    if not first.questions:
        raise InputError(f"{first_folder}: a noise study asks nothing; days are planned together for their questions")
    faults = []
    for (folder, day), (other, after) in pairwise(found):
        if folder.resolve() == other.resolve():
            faults.append(f"{folder}: named twice; each day counts once")
        elif (day.day.date, day.day.start) == (after.day.date, after.day.start):
            faults.append(f"{other}/day.toml: it begins when {folder} does; give each day its own date")
    for folder, day in found[1:]:
        refuse_other_parts(first, day, folder)
        for what, ours, theirs in (
            ("[metric]", first.metric, day.metric),
            ("[analysis]", first.analysis, day.analysis),
            ("[noise]", first.noise, day.noise),
            ("a smallest_gain", _gains(first), _gains(day)),
        ):
            if ours != theirs:
                faults.append(f"{folder}/day.toml: {what} differs from {first_folder}; a campaign has one of each")
    if faults:
        raise InputError(faults)


def _gains(day: DayFile) -> list[float | None]:
    return [change.smallest_gain for _, change in day.questions]
