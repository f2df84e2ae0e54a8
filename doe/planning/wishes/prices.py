"""What wishes cost: how many questions more would be settled without each of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from doe.day.schema import DayFile
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import History
from doe.planning.arrays.worth import values_of, worth
from doe.planning.search.choose import Choice
from doe.planning.search.constructions import constructions
from doe.planning.search.exchange import Found
from doe.planning.search.searches import Searched, both_kinds, search_both, translated
from doe.planning.wishes.wished import wishes_of, without_wishes
from doe.words.plans import wish_words

# Of a search's evaluations, for each wish and for all together: the searches begin with the plan that keeps them all.
_SHARE, _SHARE_OF_ALL = 1 / 4, 1 / 2

Without = Callable[[DayFile, float], float]
"""Questions settled on a day with fewer wishes, looked for with a share of a search's evaluations."""


@dataclass(frozen=True, slots=True)
class Priced:
    """A wish and its price."""

    wish: str  #: its key of day.toml, or the option's name
    value: Any
    text: str
    costs: float  #: in questions settled


@dataclass(frozen=True, slots=True)
class Prices:
    """What the wishes of a plan cost."""

    wishes: tuple[Priced, ...] = ()
    together: float | None = None  #: what all of them cost; None without a wish


def prices_of(day: DayFile, settled: float, without: Without, further: Sequence[Priced] = ()) -> Prices:
    """What each wish costs, and all of them: never less than the dearest.

    Parameters
    ----------
    day : DayFile
        With its wishes.
    settled : float
        Questions that the searched plan settles.
    without : callable
    further : sequence of Priced
        Wishes that day.toml has no key for.
    """
    wishes = wishes_of(day)
    priced = [
        Priced(wish.key, wish.value, wish.text, max(without(wish.without, _SHARE) - settled, 0.0)) for wish in wishes
    ]
    every = (*priced, *further)
    if not every:
        return Prices()
    together = max(wish.costs for wish in every)
    if len(wishes) > 1:
        together = max(together, without(without_wishes(day), _SHARE_OF_ALL) - settled)
    return Prices(every, together)


def prices_of_choice(
    choice: Choice, *, seed: int, effort: str, fresh_refit: bool | None, history: History | None
) -> Prices:
    """What the wishes of a whole day cost; with `fresh_refit` True also what the pairs do."""

    def without(day: DayFile, share: float) -> float:
        single, mixed = (replace(arrays, history=history) for arrays in both_kinds(day))
        before = choice.searched
        known = Searched(
            single, mixed, _moved(before.alone, before.single, single), _moved(before.crossed, before.mixed, mixed)
        )
        found = search_both(single, mixed, seed=seed, effort=effort, known=known, share=share).found
        return found.worth if found else 0.0

    pairs = []
    if fresh_refit and choice.pairs:
        lost = choice.found.worth - float(worth(choice.searched.mixed, choice.pairs.plan).settled[0])
        pairs.append(Priced("fresh_refit", True, wish_words.fresh_refit(), max(lost, 0.0)))
    return prices_of(choice.searched.single.day, choice.found.worth, without, pairs)


def _moved(found: Found | None, source: DayArrays, target: DayArrays) -> Found | None:
    """What was found as plans of the same day with more configurations."""
    return None if found is None else Found(translated(found.plan, source, target))


def refusal(day: DayFile, arrays_of: Callable[[DayFile], DayArrays]) -> str | None:
    """Why nothing fits into a day, in words, where its wishes are to blame; None where they aren't.

    Parameters
    ----------
    day : DayFile
    arrays_of : callable
        The arrays of a day with some of these wishes.
    """
    wishes = wishes_of(day)
    if not wishes or _fits(arrays_of(day)) or not _fits(arrays_of(without_wishes(day))):
        return None
    culprits = [wish.text for wish in wishes if _fits(arrays_of(wish.without))]
    return wish_words.impossible([wish.text for wish in wishes], culprits)


def _fits(arrays: DayArrays) -> bool:
    """Whether any block plan answers any question."""
    plans = constructions(arrays, range(len(arrays.day.questions)), mixed=False, random=np.random.default_rng(0))
    return bool(len(plans)) and bool((values_of(arrays, plans)[0] > 0).any())
