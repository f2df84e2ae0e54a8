"""From a day to its plan: search, decide whether back-to-back pairs will do, draw the order."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from doe.day.schema import DayFile
from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import History
from doe.planning.search.exchange import Found, Progress
from doe.planning.search.fresh_pairs import FEWEST_PAIRS, Pairs, eligible, fresh_pairs
from doe.planning.search.randomise import THRESHOLDS, Drawn, draw
from doe.planning.search.searches import EVALUATIONS, Searched, both_kinds, search_both
from doe.planning.search.shorten import Shortened, shortest

# Every order of the pairs keeps this share of the best plan's worth, or pairs are not the default.
PAIRS_KEEP = 0.95
PAIRS_MAY_TAKE = 1.1  # times the hours of the shortest plan: what may be paid for an order that can be drawn


@dataclass(frozen=True)
class Choice:
    """The plan, and how it came about.

    Attributes
    ----------
    searched : Searched
    found : Found
        The search that was gone on with: what the whole day can settle.
    arrays : DayArrays
        With the configurations that the plan may use.
    skeleton : Batch
        The plan before its order was drawn.
    drawn : Drawn
    pairs : Pairs or None
        Set when the plan consists of back-to-back pairs.
    shortened : bool
        Whether the plan does with fewer hours than the day has.
    no_pairs_because : str
        Why not, in words; empty where they are out of the question.
    """

    searched: Searched
    found: Found
    arrays: DayArrays
    skeleton: Batch
    drawn: Drawn
    pairs: Pairs | None
    shortened: bool
    no_pairs_because: str


def choose(
    day: DayFile,
    *,
    seed: int,
    effort: str,
    fresh_refit: bool | None = None,
    fill: bool = False,
    history: History | None = None,
    progress: Progress | None = None,
) -> Choice | None:
    """Search, shorten, decide, draw.

    Parameters
    ----------
    day : DayFile
    seed : int
    effort : str
        A key of `searches.EVALUATIONS`.
    fresh_refit : bool, optional
        Whether the plan consists of back-to-back pairs with a fresh refit in every slot; by default where at least six
        fit and cost next to nothing.
    fill : bool
        Whether the plan takes the whole day, also where fewer hours settle almost as much.
    history : History, optional
        Of an earlier day with which this one is judged together.
    progress : callable, optional

    Returns
    -------
    Choice or None
        None when nothing that could be answered fits into the day.
    """
    single, mixed = (replace(arrays, history=history) for arrays in both_kinds(day))
    searched = search_both(single, mixed, seed=seed, effort=effort, progress=progress)
    found = searched.found
    if found is None or found.worth <= 0:
        return None
    short = None if fill else _shortest(searched, found, seed, effort)
    hours = searched.arrays.length if short is None else short.arrays.length
    for_pairs = searched.mixed if fresh_refit else _with_length(searched.mixed, PAIRS_MAY_TAKE * hours)
    pairs, why_not = _pairs(for_pairs, found, fresh_refit, np.random.default_rng([seed, 2]))
    if pairs:
        arrays, skeleton = searched.mixed, pairs.plan
    else:
        arrays, skeleton = (searched.arrays, found.plan) if short is None else (short.arrays, short.found.plan)
    # Pairs are judged as a whole beforehand: every one of their orders is good enough.
    drawn = draw(arrays, skeleton, np.random.default_rng([seed, 3]), thresholds=(0.0,) if pairs else THRESHOLDS)
    whole_day = searched.mixed if pairs else searched.arrays
    return Choice(searched, found, whole_day, skeleton, drawn, pairs, short is not None, why_not)


def _shortest(searched: Searched, found: Found, seed: int, effort: str) -> Shortened | None:
    """Fewer hours that settle almost as much; nothing is tried once the search was interrupted."""
    if searched.stopped:
        return None
    return shortest(
        searched.arrays,
        found,
        mixed=searched.mixes,
        evaluations=EVALUATIONS[effort],
        random=np.random.default_rng([seed, 5]),
    )


def _with_length(arrays: DayArrays, length: float) -> DayArrays:
    """The day with fewer hours, never with more."""
    return replace(arrays, length=min(arrays.length, length))


def _pairs(
    arrays: DayArrays, found: Found, wanted: bool | None, random: np.random.Generator
) -> tuple[Pairs | None, str]:
    """Back-to-back pairs, if they are wanted or cost next to nothing; else why not."""
    if not eligible(arrays):
        return None, ""
    if wanted is False:
        return None, "fresh refits are switched off"
    pairs = fresh_pairs(arrays, fewest=2 if wanted else FEWEST_PAIRS, random=random)
    if pairs is None:
        fewest = 2 if wanted else FEWEST_PAIRS
        return None, f"fewer than {fewest} back-to-back pairs with fresh refits fit into the day"
    if not wanted and pairs.least < PAIRS_KEEP * found.worth:
        return None, "back-to-back pairs with fresh refits would settle less"
    return pairs, ""
