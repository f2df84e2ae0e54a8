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
from doe.planning.search.searches import Searched, both_kinds, search_both

# Every order of the pairs keeps this share of the best plan's worth, or pairs are not the default.
PAIRS_KEEP = 0.95


@dataclass(frozen=True)
class Choice:
    """The plan, and how it came about.

    Attributes
    ----------
    searched : Searched
    found : Found
        The search that was gone on with.
    arrays : DayArrays
        With the configurations that the plan may use.
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
    history: History | None = None,
    progress: Progress | None = None,
) -> Choice | None:
    """Search, decide, draw.

    Parameters
    ----------
    day : DayFile
    seed : int
    effort : str
        A key of `searches.EVALUATIONS`.
    fresh_refit : bool, optional
        Whether the plan consists of back-to-back pairs with a fresh refit in every slot; by default where at least six
        fit and cost next to nothing.
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
    pairs, why_not = _pairs(searched.mixed, found, fresh_refit, np.random.default_rng([seed, 2]))
    arrays, skeleton = (searched.mixed, pairs.plan) if pairs else (searched.arrays, found.plan)
    # Pairs are judged as a whole beforehand: every one of their orders is good enough.
    drawn = draw(arrays, skeleton, np.random.default_rng([seed, 3]), thresholds=(0.0,) if pairs else THRESHOLDS)
    return Choice(searched, found, arrays, skeleton, drawn, pairs, why_not)


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
