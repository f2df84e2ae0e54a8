"""A new plan for the rest of a day that runs late, or that shall leave something out.

It looks at time and voids only, never at readings. What was made is fixed; three plans are compared: the old one cut at
the end, the old one with its sets evened out, and one searched anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from doe.day.clock import Position
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import (
    AFTER,
    CAMPAIGN,
    DROPPED,
    FINISH_MINUTE,
    FINISH_THEN,
    REPLACED,
    STILL_ON,
    dropped_in,
    finish_text,
)
from doe.day.files.seal import seal_entries
from doe.day.files.which_folder import command
from doe.day.log.planned.followed import followed_plan
from doe.day.pilot.settings.added_change import day_without
from doe.day.schema import DayFile
from doe.errors import DoeError, InputError
from doe.planning.arrays.batch import Batch
from doe.planning.arrays.begun_day import BegunDay, begun_day
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.drawn.promises import promised
from doe.planning.drawn.result import Plan, Replaced
from doe.planning.drawn.saving import changes_logged
from doe.planning.drawn.what_if import with_finish_of
from doe.planning.search.exchange import Found, Progress
from doe.planning.search.searches import search_both, seed_or_new
from doe.planning.under_way.alternatives import alternatives_of, offered
from doe.planning.under_way.anew import enough, searched_rest, settled_without
from doe.planning.under_way.choosing import (
    CUT,
    FULL_WAYS,
    NOT_DRAWN,
    SEARCH,
    WAYS,
    asked_for,
    best_of,
    cut_off,
    evened,
    worth_of,
)
from doe.planning.under_way.joined import PART_JOINED, joined_entries, refuse_broken_seal
from doe.planning.under_way.kept_order import NOT_BY_THE_CLOCK, kept_order, lost_order
from doe.planning.under_way.linked_days import others_of
from doe.planning.under_way.more_breaks import refuse_breaks_behind
from doe.planning.under_way.rest import Wishes, arrays_of_rest, as_batch, mixes
from doe.planning.wishes.prices import prices_of, refusal
from doe.planning.wishes.wished import left_of_wishes, with_wishes
from doe.words.day.log_notes import unanswered
from doe.words.notes import Note
from doe.words.plans.replan_words import nothing_fits

_PULLS_LEFT = 3  # of spare time from which it is told what the hours would add


@dataclass(frozen=True)
class _Rest:
    """The rest of a day, and what a search of it came to.

    Attributes
    ----------
    begun : BegunDay
    position : Position
    wishes : Wishes
    mixed : bool
        Whether two changes may be on at once.
    arrays : DayArrays
    due : Batch
        What the old plan still asks for; without pulls where that is nothing.
    whole : Found or None
        Searched with all the hours that are left.
    """

    begun: BegunDay
    position: Position
    wishes: Wishes
    mixed: bool
    arrays: DayArrays
    due: Batch
    whole: Found | None

    def with_wishes_of(self, day: DayFile) -> DayArrays:
        """The rest of the day with some of its wishes."""
        return arrays_of_rest(replace(self.begun, day=day), self.position, self.wishes, mixed=self.mixed)


def replan(
    folder: Path,
    *,
    day: DayFile | None = None,
    now: float | None = None,
    wishes: Wishes | None = None,
    seed: int | None = None,
    effort: str = "normal",
    take: int | None = None,
    fill: bool = False,
    progress: Progress | None = None,
) -> Plan:
    """Plan the rest of a day. Nothing is written: `Plan.save` does, and keeps the plan that is replaced.

    All ways are in `Plan.replaced.ways`.

    Parameters
    ----------
    folder : Path
    day : DayFile, optional
        The day with observed minutes, another finish, another break; by default as day.toml has it, with the finish
        that was said last.
    now : float, optional
        Minute of the day from which to plan; by default the end of the last pull.
    wishes : Wishes, optional
    seed : int, optional
    effort : str
    take : int, optional
        The number of the way that is taken; by default the best one.
    fill : bool
        Whether to take all the hours that are left, also where fewer settle almost as much.
    progress : callable, optional

    Raises
    ------
    InputError
        A file is wrong, there is no such way, or a further break lies behind.
    DoeError
        No further set that would answer anything fits.
    """
    as_sealed = read_day_file(folder)
    day = day or with_finish_of(as_sealed, followed_plan(folder, as_sealed))
    wishes = wishes or Wishes()
    begun = begun_day(folder, day)
    wishes = _with_earlier_drops(begun, wishes)
    changed = PART_JOINED if wishes.added else NOT_BY_THE_CLOCK if wishes != Wishes() else ""
    if [factor.change for factor in day.factor] != [factor.change for factor in as_sealed.factor]:
        changed = changed or "a changeover takes other minutes than those that the order was drawn for"
    seed = seed_or_new(seed)
    _refuse_nothing_left(folder, day, wishes)
    if wishes.added:
        refuse_broken_seal(folder, day_without(as_sealed, wishes.added))
        wishes = replace(wishes, keep=(*wishes.keep, *wishes.added))
    seen = changes_logged(folder)
    refuse_breaks_behind(begun, as_sealed, now, command("log", folder))
    others, told = others_of(folder, begun)
    begun = replace(begun, day=with_wishes(left_of_wishes(day, begun.standing.made), wishes.more), others=others)
    rest = _searched(begun, begun.position(now), wishes, seed, effort, progress)
    names = FULL_WAYS if fill else WAYS
    plans = _plans(rest, names, seed, effort)
    worths = {name: worth_of(rest.arrays, plan) for name, plan in plans.items()}
    if not any(value > 0 for value in worths.values()):
        if why := refusal(begun.day, rest.with_wishes_of):
            raise InputError(why)
        raise DoeError(_nothing_fits(folder, rest, by_clock=now is not None))
    by_number = None if take is None else asked_for(take, worths, names)
    made = {
        name: _plan(rest, plan, seed, Replaced(rest.arrays.begin, name, worths, seen, dropped=wishes.drop), changed)
        for name, plan in plans.items()
        if worths[name] > 0
    }
    ways = alternatives_of(names, made, worths, begun.plan)
    taken = by_number or best_of({way.name: way.weighed for way in offered(ways)})
    replaced = Replaced(rest.arrays.begin, taken, worths, seen, ways, wishes.drop)
    plan = _among(made[taken], replaced, finish_text(as_sealed))
    prices = prices_of(begun.day, worths[taken], partial(_without, rest, plans[taken], seed, effort))
    whole = None if fill else _if_filled(rest, plan)
    notes = (*told, *plan.notes)
    return replace(plan, notes=notes, wishes=prices.wishes, wishes_cost=prices.together, if_filled=whole)


def _with_earlier_drops(begun: BegunDay, wishes: Wishes) -> Wishes:
    """The wishes, and what an earlier plan of the day dropped: it stays so until it is kept, or that is taken back."""
    if begun.plan is None:
        return wishes
    asked = {(factor.name, change.level) for factor, change in begun.day.questions}
    before = dropped_in(begun.plan.document.get(REPLACED) or {})
    still = [one for one in before if one in asked and one not in (*wishes.keep, *wishes.added)]
    return replace(wishes, drop=tuple(dict.fromkeys([*still, *wishes.drop])))


def _nothing_fits(folder: Path, rest: _Rest, *, by_clock: bool) -> str:
    """Why the rest of a day can't be planned, and what is left to do."""
    day, begin = rest.begun.day, rest.position.minute
    left = day.length_minutes - begin
    slow = [
        (f"{factor.name} {change.level}", change.minutes_on)
        for factor, change in day.questions
        if (factor.name, change.level) not in rest.wishes.drop and change.minutes_on + day.cell.pull_minutes > left
    ]
    return nothing_fits(
        day.end.strftime("%Y-%m-%d %H:%M"),
        left,
        pull_fits=left >= day.cell.pull_minutes,
        slow=slow,
        by_clock=by_clock,
        judge=command("judge", folder, "--final"),
    )


def _searched(
    begun: BegunDay, position: Position, wishes: Wishes, seed: int, effort: str, progress: Progress | None
) -> _Rest:
    """The rest searched with all its hours; a day begun without a plan as a fresh one is."""
    of_kind = partial(arrays_of_rest, begun, position, wishes)
    if begun.plan is None:
        kinds = of_kind(mixed=False), of_kind(mixed=True)  # no plan says whether two changes may be on
        both = search_both(*kinds, seed=seed, effort=effort, progress=progress)
        arrays = of_kind(mixed=both.mixes)
        return _Rest(begun, position, wishes, both.mixes, arrays, as_batch(arrays, begun.due()), both.found)
    mixed = mixes(begun)
    arrays = of_kind(mixed=mixed)
    due = as_batch(arrays, begun.due())
    known = evened(arrays, due, up=True) if due.pulls.any() else None
    return _Rest(begun, position, wishes, mixed, arrays, due, searched_rest(arrays, known, seed, effort, progress))


def _plans(rest: _Rest, names: Sequence[str], seed: int, effort: str) -> dict[str, Batch]:
    """What each way comes to, where it comes to anything, in the order of their numbers."""
    plans = {}
    fill = names == FULL_WAYS
    if rest.due.pulls.any():
        plans = {CUT: cut_off(rest.arrays, rest.due), names[1]: evened(rest.arrays, rest.due, up=fill)}
    if rest.whole is not None:
        plans[SEARCH] = rest.whole.plan if fill else enough(rest.arrays, rest.whole, seed, effort)
    return plans


def _if_filled(rest: _Rest, plan: Plan) -> float | None:
    """Questions settled with all the hours that are left; None where the plan leaves none of note."""
    spare = plan.minutes_available - plan.minutes_used
    if rest.whole is None or not plan.questions or spare < _PULLS_LEFT * plan.day.cell.pull_minutes:
        return None
    return exact(rest.arrays, runs_of(rest.arrays, rest.whole.plan)).settled


def _without(rest: _Rest, plan: Batch, seed: int, effort: str, day: DayFile, share: float) -> float:
    """What the rest of the day settles with the wishes of `day`, looked for from a plan that keeps them all."""
    return settled_without(rest.with_wishes_of(day), plan, rest.arrays, share=share, seed=seed, effort=effort)


def _among(plan: Plan, replaced: Replaced, finish_then: str) -> Plan:
    """The plan with all the ways that it was taken from, and the finish of day.toml, in plan.json too."""
    ways = [asdict(way) for way in replaced.ways]
    entries = {**plan.made[REPLACED], FINISH_THEN: finish_then, "ways": ways}
    return replace(plan, replaced=replaced, made={**plan.made, REPLACED: entries})


def _refuse_nothing_left(folder: Path, day: DayFile, wishes: Wishes) -> None:
    """A plan needs a question, and nobody can leave out what must be made.

    Raises
    ------
    InputError
        Every change is dropped, or one is dropped and kept.
    """
    faults = [
        f"--drop and --keep {factor} {level}: say one of them"
        for factor, level in wishes.drop
        if (factor, level) in wishes.keep
    ]
    asked = {(factor.name, change.level) for factor, change in day.questions}
    if asked and asked <= set(wishes.drop):
        faults.append(
            "--drop: every change of day.toml is dropped, so nothing is left to plan;"
            f" '{command('judge', folder, '--final')}' judges what was made"
        )
    if faults:
        raise InputError(faults)


def _plan(rest: _Rest, plan: Batch, seed: int, replaced: Replaced, changed: str) -> Plan:
    """The rest of the day with its promise; `changed`: what makes the old order another one in any case."""
    begun = rest.begun
    found, _ = promised(rest.arrays, plan, seed)
    if why := changed or NOT_DRAWN.get(replaced.taken):
        order = lost_order(why)
    else:
        order = kept_order(begun.day, begun.plan, begun.standing, found.runs)
    joined = joined_entries(begun, rest.wishes.added, replaced.minute)
    made = {**_made_by(begun, replaced), **order.entries, **joined}
    notes = (*_unanswered(begun), *found.notes)
    return replace(found, orders=order.orders, made=made, replaced=replaced, notes=notes)


def _unanswered(begun: BegunDay) -> tuple[Note, ...]:
    """What was asked about pulls and not answered: the plan rests on them as they were logged."""
    asked = {doubt.pull: doubt.text for doubt in begun.standing.doubts}
    return (unanswered(asked),) if asked else ()


def _made_by(begun: BegunDay, replaced: Replaced) -> dict[str, Any]:
    """What plan.json holds besides; the seal and the family are those of the first plan."""
    old = begun.plan.document if begun.plan else {}
    return {
        **seal_entries(begun.day, old),
        **{key: old[key] for key in (AFTER, STILL_ON, CAMPAIGN) if key in old},
        "family_questions": [{"factor": factor, "level": level} for factor, level in begun.asked()],
        REPLACED: {
            "from_minute": replaced.minute,
            FINISH_MINUTE: begun.day.length_minutes,
            "taken": replaced.taken,
            "compared": dict(replaced.worths),
            DROPPED: [{"factor": factor, "level": level} for factor, level in replaced.dropped],
        },
    }
