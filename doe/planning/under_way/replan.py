"""A new plan for the rest of a day that runs late, or that shall leave something out.

It looks at time and voids only, never at readings. What was made is fixed; three plans are compared: the old one cut at
the end, the old one with its longest stints shortened, and one searched anew.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from doe.day.clock import Position
from doe.day.files.campaign_link import CAMPAIGN
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import FINISH_MINUTE, REPLACED
from doe.day.files.seal import seal_entries
from doe.day.files.which_folder import command
from doe.day.log.overnight import AFTER, STILL_ON
from doe.day.pilot.settings.added_change import day_without
from doe.day.records import Stint
from doe.day.schema import DayFile
from doe.errors import DoeError, InputError
from doe.planning.arrays.batch import Batch, join, tidy
from doe.planning.arrays.begun_day import BegunDay, begun_day
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import Levels, candidate_levels, may_be_on
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import history_of
from doe.planning.arrays.worth import values_of
from doe.planning.drawn.promises import promised
from doe.planning.drawn.result import Plan, Replaced
from doe.planning.drawn.saving import changes_logged
from doe.planning.search.exchange import Found, Progress, search
from doe.planning.search.fill import fill
from doe.planning.search.plain_orders import plain_orders
from doe.planning.search.searches import EVALUATIONS, Searched, search_both
from doe.planning.under_way.alternatives import alternatives_of
from doe.planning.under_way.joined import PART_JOINED, joined_entries, refuse_broken_seal
from doe.planning.under_way.kept_order import NOT_BY_THE_CLOCK, kept_order, lost_order
from doe.planning.wishes.prices import prices_of, refusal, translated
from doe.planning.wishes.wished import NOTHING_MORE, MoreWishes, left_of_wishes, with_wishes

CUT, SHORTEN, SEARCH = "the old plan, cut at the end", "the old plan, longest sets shortened", "searched anew"
WAYS = (CUT, SHORTEN, SEARCH)  # a tester takes one by its number, from 1
_NOT_DRAWN = {
    SHORTEN: "which sets were shortened depends on the order that was drawn",
    SEARCH: "the rest was searched anew, and its order was not drawn",
}
_CLEARLY_BETTER = 1.005  # what a searched plan must settle more, or the old one, which the tester knows, is kept


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the tester says of the rest of the day; changes as (factor, level)."""

    drop: tuple[tuple[str, str], ...] = ()  #: no more pulls with them
    keep: tuple[tuple[str, str], ...] = ()  #: they get pulls in any case
    added: tuple[tuple[str, str], ...] = ()  #: they join the day now: they get pulls, and are of its questions
    more: MoreWishes = NOTHING_MORE  #: of the rest of the day, beside what those of day.toml have left


def replan(
    folder: Path,
    *,
    day: DayFile | None = None,
    now: float | None = None,
    wishes: Wishes | None = None,
    seed: int | None = None,
    effort: str = "normal",
    take: int | None = None,
    progress: Progress | None = None,
) -> Plan:
    """Plan the rest of a day. Nothing is written: `Plan.save` does, and keeps the plan that is replaced.

    All ways are in `Plan.replaced.ways`.

    Parameters
    ----------
    folder : Path
    day : DayFile, optional
        The day with observed minutes, another finish, another break; by default as day.toml has it.
    now : float, optional
        Minute of the day from which to plan; by default the end of the last pull.
    wishes : Wishes, optional
    seed : int, optional
    effort : str
    take : int, optional
        The number of the way that is taken; by default the best one.
    progress : callable, optional

    Raises
    ------
    InputError
        A file is wrong, or there is no such way.
    DoeError
        No further pull fits.
    """
    as_sealed = read_day_file(folder)
    day = day or as_sealed
    wishes = wishes or Wishes()
    changed = PART_JOINED if wishes.added else NOT_BY_THE_CLOCK if wishes != Wishes() else ""
    if [factor.change for factor in day.factor] != [factor.change for factor in as_sealed.factor]:
        changed = changed or "a changeover takes other minutes than those that the order was drawn for"
    seed = secrets.randbelow(2**31) if seed is None else seed
    _refuse_nothing_left(day, wishes)
    if wishes.added:
        refuse_broken_seal(folder, day_without(as_sealed, wishes.added))
        wishes = replace(wishes, keep=(*wishes.keep, *wishes.added))
    seen = changes_logged(folder)
    begun = begun_day(folder, day)
    begun = replace(begun, day=with_wishes(left_of_wishes(day, begun.standing.made), wishes.more))
    position = begun.position(now)
    searched = _as_fresh(begun, position, wishes, seed, effort, progress) if begun.plan is None else None
    mixed = searched.mixes if searched else _mixes(begun)
    rest = partial(_rest_of, begun, position, wishes, mixed)
    arrays = rest(begun.day)
    due = _as_batch(arrays, begun.due())
    plans = {}
    if due.pulls.any():
        plans = {CUT: _cut(arrays, due), SHORTEN: fill(arrays, due)}
    found = searched.found if searched else _searched(arrays, plans.get(SHORTEN), seed, effort, progress)
    if found is not None:
        plans[SEARCH] = found.plan
    worths = {name: _worth(arrays, plan) for name, plan in plans.items()}
    if not any(value > 0 for value in worths.values()):
        if why := refusal(begun.day, rest):
            raise InputError(why)
        judge = command("judge", folder, "--final")
        raise DoeError(f"no further pull fits into the day; '{judge}' judges what was made")
    taken = _taken(worths) if take is None else _asked_for(take, worths)
    made = {
        name: _plan(begun, arrays, plan, seed, Replaced(arrays.begin, name, worths, seen), wishes.added, changed)
        for name, plan in plans.items()
        if worths[name] > 0
    }
    ways = alternatives_of(WAYS, made, begun.plan)
    plan = _among(made[taken], Replaced(arrays.begin, taken, worths, seen, ways))
    prices = prices_of(begun.day, worths[taken], partial(_without, rest, arrays, plans[taken], seed, effort))
    return replace(plan, wishes=prices.wishes, wishes_cost=prices.together)


def _among(plan: Plan, replaced: Replaced) -> Plan:
    """The plan with all the ways that it was taken from, in plan.json too."""
    ways = [asdict(way) for way in replaced.ways]
    return replace(plan, replaced=replaced, made={**plan.made, REPLACED: {**plan.made[REPLACED], "ways": ways}})


def _rest_of(begun: BegunDay, position: Position, wishes: Wishes, mixed: bool, day: DayFile) -> DayArrays:
    """The rest of the day with some of its wishes."""
    return arrays_of_rest(replace(begun, day=day), position, wishes, mixed=mixed)


def _mixes(begun: BegunDay) -> bool:
    """Whether a planned run has two changes on at once: the rest of the day rests on no more than its plan did."""
    planned = [run.configuration for run in begun.runs.values()]
    return any(sum(map(bool, _levels(begun.day, configuration))) > 1 for configuration in planned)


def _searched(arrays: DayArrays, due: Batch | None, seed: int, effort: str, progress: Progress | None) -> Found | None:
    """The rest searched anew, from the plain orders and from what is due."""
    starts = [plans for plans in (due, plain_orders(arrays)) if plans is not None]
    return search(
        arrays,
        mixed=arrays.most_away > 1,
        evaluations=EVALUATIONS[effort],
        random=np.random.default_rng([seed, 4]),
        known=join(starts) if starts else None,
        progress=progress,
    )


def _as_fresh(
    begun: BegunDay, position: Position, wishes: Wishes, seed: int, effort: str, progress: Progress | None
) -> Searched:
    """Both searches of a whole day, for one that began without a plan: no plan says whether two changes may be on."""
    single, mixed = (arrays_of_rest(begun, position, wishes, mixed=both) for both in (False, True))
    return search_both(single, mixed, seed=seed, effort=effort, progress=progress)


def _without(
    rest: Callable[[DayFile], DayArrays],
    arrays: DayArrays,
    plan: Batch,
    seed: int,
    effort: str,
    day: DayFile,
    share: float,
) -> float:
    """What the rest of the day settles with fewer wishes, looked for from a plan that keeps them all."""
    free = rest(day)
    found = search(
        free,
        mixed=free.most_away > 1,
        evaluations=int(share * EVALUATIONS[effort]),
        random=np.random.default_rng([seed, 6]),
        known=translated(plan, arrays, free),
    )
    return found.worth if found else 0.0


def _refuse_nothing_left(day: DayFile, wishes: Wishes) -> None:
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
            "--drop: every change of day.toml is dropped, so nothing is left to plan; 'doe judge FOLDER --final' judges"
            " what was made"
        )
    if faults:
        raise InputError(faults)


def arrays_of_rest(begun: BegunDay, position: Position, wishes: Wishes, *, mixed: bool | None = None) -> DayArrays:
    """The rest of the day as arrays; `mixed`: whether two changes may be on at once, by default as in its plan."""
    day = begun.day
    numbers = {(factor.name, change.level): number for number, (factor, change) in enumerate(day.questions)}
    fitted = _levels(day, position.configuration)
    mixed = _mixes(begun) if mixed is None else mixed
    due = [_levels(day, stint.configuration) for stint in begun.due()]
    wanted = [*candidate_levels(day, mixed=mixed), *(levels for levels in due if may_be_on(day, levels))]
    dropped = [tuple(_question_levels(day, question)) for question in wishes.drop]
    kept = [levels for levels in wanted if not any(levels[f] == level for f, level in dropped)]
    arrays = day_arrays(day, list(dict.fromkeys([*kept, fitted])))
    forbidden = arrays.forbidden.copy()
    for factor, level in dropped:
        forbidden[:, arrays.levels[:, factor] == level] = True
    return replace(
        arrays,
        forbidden=forbidden,
        after=position,
        history=history_of(day, begun.made(), begun.fitted_now(), 0, begun.ledger) if begun.made() else None,
        family=len(begun.asked()) + len(wishes.added),
        must_ask=tuple(numbers[question] for question in wishes.keep),
    )


def _levels(day: DayFile, configuration: Mapping[str, str]) -> Levels:
    return tuple(factor.levels.index(configuration[factor.name]) for factor in day.factor)


def _question_levels(day: DayFile, question: tuple[str, str]) -> tuple[int, int]:
    """Number of the factor and of the level."""
    name, level = question
    place = [factor.name for factor in day.factor].index(name)
    return place, day.factor[place].levels.index(level)


def _as_batch(arrays: DayArrays, stints: Sequence[Stint]) -> Batch:
    """Stints as a batch of one plan; those with a dropped change are left out."""
    known = [(arrays.index.get(_levels(arrays.day, stint.configuration)), stint) for stint in stints]
    usable = [
        (number, stint.pulls, stint.fresh is not None)
        for number, stint in known
        if number is not None and not arrays.forbidden[number, number]
    ]
    order, pulls, fresh = ([row[column] for row in usable] for column in range(3))
    return tidy(Batch(np.array([order], int), np.array([pulls], int), np.array([fresh], bool)))


def _cut(arrays: DayArrays, due: Batch) -> Batch:
    """Pulls are taken off the end until the rest fits."""
    pulls = due.pulls.copy()
    while pulls.any() and timetable(arrays, Batch(due.order, pulls, due.fresh)).finish[0] > arrays.length + 1e-9:
        pulls[0, np.flatnonzero(pulls[0])[-1]] -= 1
    return tidy(Batch(due.order, pulls, due.fresh))


def _worth(arrays: DayArrays, plan: Batch) -> float:
    """Questions settled, -1 where the plan is empty or isn't allowed."""
    return float(values_of(arrays, plan)[0][0]) if plan.pulls.any() else -1.0


def _taken(worths: Mapping[str, float]) -> str:
    """The best, the old plan where a new one is hardly better."""
    old = {name: value for name, value in worths.items() if name != SEARCH}
    best_old = max(old, key=lambda name: old[name], default=SEARCH)
    if best_old == SEARCH or worths.get(SEARCH, -1.0) > _CLEARLY_BETTER * worths[best_old]:
        return SEARCH
    return best_old


def _asked_for(take: int, worths: Mapping[str, float]) -> str:
    """The way with a number.

    Raises
    ------
    InputError
        There is none, or it is not possible.
    """
    if not 1 <= take <= len(WAYS):
        raise InputError(f"--take {take}: there are ways 1 to {len(WAYS)}")
    if worths.get(WAYS[take - 1], -1.0) <= 0:
        raise InputError(f"--take {take}: {WAYS[take - 1]}: that is not possible any more; take another")
    return WAYS[take - 1]


def _plan(
    begun: BegunDay,
    arrays: DayArrays,
    plan: Batch,
    seed: int,
    replaced: Replaced,
    added: Sequence[tuple[str, str]],
    changed: str,
) -> Plan:
    """The rest of the day with its promise; `changed`: what makes the old order another one in any case."""
    found, _ = promised(arrays, plan, seed)
    if why := changed or _NOT_DRAWN.get(replaced.taken):
        order = lost_order(why)
    else:
        order = kept_order(begun.day, begun.plan, begun.standing, found.runs)
    made = {**_made_by(begun, replaced), **order.entries, **joined_entries(begun, added, replaced.minute)}
    return replace(found, orders=order.orders, made=made, replaced=replaced)


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
        },
    }
