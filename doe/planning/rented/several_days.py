"""Several rented days as one sealed campaign: a plan for each, what they settle together, what another would buy."""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from doe import __version__
from doe.day.files.campaign_link import CAMPAIGN, CampaignLink, LinkedDay
from doe.day.files.dayfile import read_day_file
from doe.day.files.seal import seal_entries, seal_of
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.after_day import refuse_other_parts
from doe.planning.arrays.batch import tidy
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.documents import DAY_DIGEST, drawn_from_day, family, stint_list
from doe.planning.drawn.exact import Promise, exact, runs_of
from doe.planning.drawn.promises import promised
from doe.planning.drawn.result import Plan
from doe.planning.drawn.saving import refuse_when_begun
from doe.planning.rented.another_day import AnotherDay, another_day
from doe.planning.rented.exchange_days import OneDay, Progress, Together, others, plan_together
from doe.planning.search.randomise import draw
from doe.planning.wishes.wished import NOTHING_MORE, MoreWishes, with_wishes
from doe.words.plans import plan_notes
from doe.words.plans.rented_words import rented_text
from doe.words.result import Answer

_NO_TEST = "days that are planned together are judged together, and that has no randomisation test"


@dataclass(frozen=True, slots=True)
class OnDays:
    """On which days a question is asked."""

    factor: str
    level: str
    days: tuple[int, ...]  #: numbers of the days on which it has counted pulls; 1 is the first


@dataclass(frozen=True, slots=True, repr=False)
class SeveralDays(Answer):
    """The plans of some days that are judged together."""

    folders: tuple[Path, ...]  #: in the order of their dates
    plans: tuple[Plan, ...]  #: each with the promise of all days together
    seed: int
    another: AnotherDay | None = None  #: where it was asked for

    @property
    def names(self) -> tuple[str, ...]:
        """Of the folders, without their paths."""
        return tuple(folder.resolve().name for folder in self.folders)

    @property
    def expected_settled(self) -> float:
        """Questions settled when all days are done."""
        return self.plans[-1].expected_settled

    @property
    def on_days(self) -> tuple[OnDays, ...]:
        """Which question is asked on which days, in file order."""
        return tuple(
            OnDays(question.factor, question.level, tuple(
                number
                for number, plan in enumerate(self.plans, start=1)
                if any(run.configuration[question.factor] == question.level for run in plan.runs if run.count == "yes")
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
            "another_day": asdict(self.another) if self.another else None,
        }

    def to_text(self) -> str:
        """What they settle together, a line a day, and what another day would buy."""
        return rented_text(self)

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
            plan.save(folder)


def plan_days(
    folders: Sequence[Path | str],
    *,
    seed: int | None = None,
    effort: str = "normal",
    wishes: MoreWishes = NOTHING_MORE,
    another: bool = False,
    progress: Progress | None = None,
) -> SeveralDays:
    """Plan some days together. Nothing is written: `SeveralDays.save` does.

    Parameters
    ----------
    folders : sequence of path
        One or more, with different dates or hours, and one set of parts, gains, noise and metric.
    seed : int, optional
    effort : {"quick", "normal", "long"}
    wishes : MoreWishes
        Of each day, beside those of its day.toml.
    another : bool
        Whether to look what another day like the last one would settle.
    progress : callable, optional

    Raises
    ------
    InputError
        A day.toml is wrong, the days don't go together, pulls are logged already, or nothing fits into one of them.
    """
    found = days_in_order(folders)
    for folder, day in found:
        refuse_when_begun(folder, day)
    seed = secrets.randbelow(2**31) if seed is None else seed
    wished = [with_wishes(day, wishes) for _, day in found]
    together = plan_together(wished, seed=seed, effort=effort, progress=progress)
    for (folder, _), one in zip(found, together.days, strict=True):
        if one.plan is None:
            raise InputError(
                f"{folder}: nothing that could be answered fits into this day; leave it out, or lengthen it"
            )
    more = another_day(together, seed=seed, effort=effort) if another else None
    drawn = _drawn(together, seed)
    plans = _plans(drawn, [day for _, day in found], [folder for folder, _ in found], seed, effort)
    return SeveralDays(tuple(folder for folder, _ in found), plans, seed, more)


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


def _drawn(together: Together, seed: int) -> list[OneDay]:
    """The days with their orders drawn, each given those of the others."""
    days = list(together.days)
    for number, day in enumerate(days):
        assert day.plan is not None
        order = draw(_given_others(days, number), day.plan, np.random.default_rng([seed, 3, number]))
        days[number] = OneDay(day.arrays, tidy(order.plan))
    return days


def _given_others(days: Sequence[OneDay], number: int) -> DayArrays:
    return replace(days[number].arrays, history=others(days, number))


def _plans(
    days: Sequence[OneDay], files: Sequence[DayFile], folders: Sequence[Path], seed: int, effort: str
) -> tuple[Plan, ...]:
    """A plan a day, each with the promise of all days."""
    shares = _shares(days)
    linked = tuple(
        LinkedDay(folder.resolve().name, day.day.date.isoformat(), share)
        for folder, day, share in zip(folders, files, shares, strict=True)
    )
    name = hashlib.sha256(json.dumps([seed, *map(seal_of, files), *map(str, linked)]).encode()).hexdigest()[:12]
    found = []
    for number, (one, day) in enumerate(zip(days, files, strict=True)):
        assert one.plan is not None
        arrays = _given_others(days, number)
        plan, promise = promised(arrays, one.plan, seed)
        link = CampaignLink(name, number + 1, linked)
        note = plan_notes.planned_together([str(folder) for folder in folders])
        made = _document(arrays, one, day, promise, link, effort)
        found.append(replace(plan, notes=(note, *plan.notes) if len(days) > 1 else plan.notes, made=made))
    return tuple(found)


def _document(
    arrays: DayArrays, one: OneDay, day: DayFile, promise: Promise, link: CampaignLink, effort: str
) -> Mapping[str, Any]:
    """What plan.json holds besides."""
    assert one.plan is not None
    return {
        **seal_entries(day),
        DAY_DIGEST: drawn_from_day(day),
        CAMPAIGN: link.to_dict(),
        "program": __version__,
        "generator": f"numpy {np.__version__} PCG64",
        "effort": effort,
        "skeleton": stint_list(arrays, one.plan),
        "family": family(promise, float(arrays.confidence.min())),
        "orders": None,
        "not_randomised": _NO_TEST,
    }


def _shares(days: Sequence[OneDay]) -> list[float]:
    """Of the planned information, by the end of each day: final over present variance of the gains, averaged."""
    final = _precision(days)
    asked = np.isfinite(final)
    found = []
    for count in range(1, len(days) + 1):
        now = _precision(days[:count])[asked]
        found.append(float(np.mean(np.where(np.isfinite(now), (final[asked] / now) ** 2, 0.0))) if asked.any() else 1.0)
    return [min(share, 1.0) for share in np.maximum.accumulate(found).tolist()]


def _precision(days: Sequence[OneDay]) -> np.ndarray:
    """Standard errors of the gains with the pulls of some days, inf where there is none."""
    last = len(days) - 1
    arrays, plan = _given_others(days, last), days[last].plan
    assert plan is not None
    return np.asarray(exact(arrays, runs_of(arrays, plan)).precision.se)
