"""From a day to its plan: search, decide whether back-to-back pairs will do, draw the order."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from doe.day.schema import DayFile
from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import History
from doe.planning.search.cut_short import for_any_hour
from doe.planning.search.exchange import Found, Progress
from doe.planning.search.fresh_pairs import FEWEST_PAIRS, Pairs, eligible, fresh_pairs
from doe.planning.search.randomise import Drawn, draw, draw_any
from doe.planning.search.searches import EVALUATIONS, Searched, both_kinds, search_both
from doe.planning.search.sufficient import Sufficient, sufficient

# Every order of the pairs keeps this share of the best plan's worth, or pairs are not the default.
PAIRS_KEEP = 0.96
CUT_KEEPS = 0.975  # of what the whole day settles, when shortness and the order for a day cut short have taken theirs
FILLED_KEEPS = 0.995  # the same of a plan that takes all hours, since they will be there: next to nothing for a cut
# The same share of what the whole day settles is kept when shortness and the random draw have taken theirs; a little
# less is left to them, for the promise pull by pull is not quite what the search measures.
ALL_KEEP = 0.965
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
    sufficient : Sufficient
        The plan that is enough, before it was ordered.
    skeleton : Batch
        The plan before its order was drawn.
    drawn : Drawn
    pairs : Pairs or None
        Set when the plan consists of back-to-back pairs.
    no_pairs_because : str
        Why not, in words; empty where they are out of the question.
    """

    searched: Searched
    found: Found
    arrays: DayArrays
    sufficient: Sufficient
    skeleton: Batch
    drawn: Drawn
    pairs: Pairs | None
    no_pairs_because: str


def choose(
    day: DayFile,
    *,
    seed: int,
    effort: str,
    fresh_refit: bool | None = None,
    fill: bool = False,
    history: History | None = None,
    before: Choice | None = None,
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
    before : Choice, optional
        What less effort came to with this seed: it is gone on from, and nothing that settles less will do.
    progress : callable, optional

    Returns
    -------
    Choice or None
        None when nothing that could be answered fits into the day.
    """
    single, mixed = (replace(arrays, history=history) for arrays in both_kinds(day))
    known = before.searched if before else None
    afresh = known is None
    searched = search_both(single, mixed, seed=seed, effort=effort, known=known, afresh=afresh, progress=progress)
    found = searched.found
    if found is None or found.worth <= 0:
        return None
    least = before.drawn.worth if before else 0.0
    evaluations = EVALUATIONS[effort]
    way = sufficient(
        searched,
        least=least,
        evaluations=evaluations,
        seed=seed,
        fill=fill,
        before=before.sufficient if before else None,
    )
    arrays, skeleton = way.arrays, way.plan
    for_pairs = searched.mixed if fresh_refit else _with_length(searched.mixed, PAIRS_MAY_TAKE * arrays.length)
    pairs, why_not = _pairs(for_pairs, found, fresh_refit, np.random.default_rng([seed, 2]))
    random = np.random.default_rng([seed, 3])
    if pairs:
        # They are judged as a whole beforehand: every one of their orders is good enough.
        drawn = draw_any(searched.mixed, pairs.plan, random)
        return Choice(searched, found, searched.mixed, way, pairs.plan, drawn, pairs, why_not)
    if not searched.stopped:
        needed = max(least, (FILLED_KEEPS if fill else CUT_KEEPS) * found.worth)
        skeleton = for_any_hour(
            arrays, skeleton, least=needed, evaluations=evaluations, random=np.random.default_rng([seed, 6])
        )
    bounds = (max(least, ALL_KEEP * found.worth), ALL_KEEP * found.worth)
    drawn = draw(arrays, skeleton, random, least=bounds)
    return Choice(searched, found, way.whole_day, way, skeleton, drawn, None, why_not)


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
