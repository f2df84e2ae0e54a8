"""Planning a day: from hours, parts and noise to the run order that settles most questions."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np

from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import START_STUDY
from doe.day.schema import DayFile
from doe.errors import DoeError, InputError
from doe.planning.arrays.after_day import EarlierDay, earlier_day
from doe.planning.arrays.batch import Batch, tidy
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import History
from doe.planning.drawn.break_even import break_even
from doe.planning.drawn.compare import compared
from doe.planning.drawn.documents import DAY_DIGEST, drawn_from_day, made_by, order_lines
from doe.planning.drawn.dropping import drops_of, longer_day
from doe.planning.drawn.exact import Promise, exact, runs_of
from doe.planning.drawn.noise_study import plan_noise_study
from doe.planning.drawn.promises import promised
from doe.planning.drawn.result import Plan
from doe.planning.drawn.saving import refuse_when_begun
from doe.planning.search.choose import Choice, choose
from doe.planning.search.exchange import Progress
from doe.planning.search.searches import both_kinds, efforts_up_to, seed_or_new
from doe.planning.wishes.prices import prices_of_choice, refusal
from doe.planning.wishes.wished import NOTHING_MORE, MoreWishes, with_wishes
from doe.words.notes import Note
from doe.words.plans import plan_notes
from doe.words.plans.plan_words import in_vain_text


def plan_day(
    folder: Path | str,
    *,
    seed: int | None = None,
    effort: str = "normal",
    fresh_refit: bool | None = None,
    fill: bool = False,
    after: Path | str | None = None,
    wishes: MoreWishes = NOTHING_MORE,
    progress: Progress | None = None,
) -> Plan:
    """Plan the day of a folder. Nothing is written: `Plan.save` does.

    Parameters
    ----------
    folder : Path or str
        The day folder.
    seed : int, optional
        Draws the order; by default a new one, which the plan keeps.
    effort : {"quick", "normal", "long"}
        How many orders are looked at.
    fresh_refit : bool, optional
        Whether to plan back-to-back pairs with a fresh refit in every slot; by default where they cost next to nothing.
    fill : bool
        Whether to take the whole day, also where fewer hours settle almost as much.
    after : Path or str, optional
        Folder of an earlier day with which this one will be judged together.
    wishes : MoreWishes, optional
        Beside those of day.toml.
    progress : callable, optional
        Called with the share of the search that is done and the best worth so far.

    Raises
    ------
    InputError
        day.toml is wrong, or pulls have been logged already.
    DoeError
        Nothing fits into the day.
    """
    folder = Path(folder)
    day = read_day_file(folder)
    refuse_when_begun(folder, day)
    return plan_of(
        day,
        seed=seed,
        effort=effort,
        fresh_refit=fresh_refit,
        fill=fill,
        after=after,
        wishes=wishes,
        progress=progress,
    )


def plan_of(
    day: DayFile,
    *,
    seed: int | None = None,
    effort: str = "normal",
    fresh_refit: bool | None = None,
    fill: bool = False,
    after: Path | str | None = None,
    wishes: MoreWishes = NOTHING_MORE,
    progress: Progress | None = None,
) -> Plan:
    """Plan a day that need not be a folder; see `plan_day`."""
    seed = seed_or_new(seed)
    wished = with_wishes(day, wishes)
    if not day.questions:
        if after is not None or fresh_refit is not None:
            what = "an earlier day (--after)" if after is not None else "back-to-back pairs (--fresh-refit)"
            raise InputError(f"a noise study changes nothing, and goes without {what}; leave it out")
        return plan_noise_study(day, seed)
    earlier = earlier_day(day, Path(after)) if after is not None else None
    history = earlier.history if earlier else None
    choice = best_choice(
        wished, seed=seed, effort=effort, fresh_refit=fresh_refit, fill=fill, history=history, progress=progress
    )
    if choice is None:
        if why := refusal(wished, lambda day: both_kinds(day)[0]):
            raise InputError(why)
        raise DoeError(_nothing_fits(wished))
    prices = prices_of_choice(choice, seed=seed, effort=effort, fresh_refit=fresh_refit, history=history)
    plan = _finished(choice, seed, effort, earlier)
    return replace(
        plan, wishes=prices.wishes, wishes_cost=prices.together, made={**plan.made, DAY_DIGEST: drawn_from_day(day)}
    )


def best_choice(
    day: DayFile,
    *,
    seed: int,
    effort: str,
    fresh_refit: bool | None = None,
    fill: bool = False,
    history: History | None = None,
    progress: Progress | None = None,
) -> Choice | None:
    """The choice of this effort or of less, whichever drawn plan settles more; see `choose`."""
    choice = None
    for step in efforts_up_to(effort):
        further = choose(
            day,
            seed=seed,
            effort=step,
            fresh_refit=fresh_refit,
            fill=fill,
            history=history,
            before=choice,
            progress=progress,
        )
        choice = _better(choice, further)
        if choice and choice.searched.stopped:
            break
    return choice


def _better(before: Choice | None, now: Choice | None) -> Choice | None:
    """The choice whose drawn plan settles more, pull by pull; what was searched last counts for both."""
    if before is None or now is None or drawn_settles(now) >= drawn_settles(before):
        return now or before
    return replace(before, searched=now.searched, found=now.found)


def drawn_settles(choice: Choice) -> float:
    """Questions settled by the drawn plan, pull by pull."""
    return _promise_of(choice.arrays, tidy(choice.drawn.plan)).settled


def _nothing_fits(day: DayFile) -> str:
    """What to tell when no question can get an interval in these hours."""
    arrays = day_arrays(day, candidate_levels(day, mixed=False))
    longer = longer_day(arrays, list(range(len(day.questions))))
    if longer.minutes is None:
        return (
            f"nothing fits: {in_vain_text('answers a question of day.toml', longer.in_vain)}; for parts"
            f" that are refitted a noise study with install_df would help ('{START_STUDY}')"
        )
    whole = math.ceil(longer.minutes)
    return (
        f"nothing fits: {whole} minute{'s are' if whole > 1 else ' is'} missing for the first question to get an"
        " interval at all; make the day longer, or shorten changeovers, warm-up or breaks"
    )


def _finished(choice: Choice, seed: int, effort: str, earlier: EarlierDay | None) -> Plan:
    """The plan with its promise and what it is compared with."""
    arrays = choice.arrays
    plan, promise = promised(arrays, tidy(choice.drawn.plan), seed)
    kept = [question for question, asked in enumerate(promise.asked) if asked]
    return replace(
        plan,
        if_filled=_promise_of(choice.searched.arrays, choice.found.plan).settled if choice.sufficient.short else None,
        compared=compared(arrays),
        one_at_a_time_settled=one_at_a_time_settled(choice),
        break_even_interplay=break_even_interplay(choice, promise),
        drops=drops_of(arrays, choice.found, kept),
        notes=(*_stopped(choice), *(earlier.notes if earlier else ()), *plan.notes),
        orders=order_lines(choice.drawn),
        made={**made_by(choice, list(plan.runs), promise, seed, effort), **(earlier.document if earlier else {})},
    )


def _stopped(choice: Choice) -> list[Note]:
    """That the search was interrupted, and how far it had come."""
    searched = choice.searched
    return [plan_notes.search_stopped(searched.evaluations)] if searched.stopped else []


def one_at_a_time_settled(choice: Choice) -> float | None:
    """What the best plan that never has two changes on together settles; None where there is no other kind."""
    searched = choice.searched
    if searched.alone is None or searched.crossed is None:
        return None
    return _promise_of(searched.single, searched.alone.plan).settled


def break_even_interplay(choice: Choice, promise: Promise) -> float | None:
    """The interplay at which one change at a time would be better for the same questions."""
    searched = choice.searched
    asked = tuple(np.flatnonzero(promise.asked).tolist())
    if searched.alone is None or asked not in searched.alone.by_questions:
        return None
    return break_even(promise, _promise_of(searched.single, searched.alone.by_questions[asked][1]))


def _promise_of(arrays: DayArrays, plan: Batch) -> Promise:
    return exact(arrays, runs_of(arrays, plan))
