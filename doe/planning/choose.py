"""From a day to the plan that is worth most: one change at a time, two at once, or pairs with fresh refits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.day.schema import DayFile
from doe.planning.batch import Batch
from doe.planning.candidates import candidate_levels
from doe.planning.day_arrays import DayArrays, day_arrays
from doe.planning.fresh_pairs import FEWEST_PAIRS, Pairs, eligible, fresh_pairs
from doe.planning.randomise import Drawn, draw
from doe.planning.search import Found, Progress, search

EVALUATIONS = {"quick": 4_000, "normal": 32_000, "long": 300_000}
# Two changes at once must settle so much more, for they rest on the gains adding up.
MIXING_PAYS = 1.05
_SHARE_ONE_AT_A_TIME = 1 / 4
# Every order of the pairs keeps this share of the best plan's worth, or pairs are not the default.
PAIRS_KEEP = 0.95


@dataclass(frozen=True)
class Choice:
    """The searched plan, and the order that was drawn from it.

    Attributes
    ----------
    arrays : DayArrays
        With the configurations that the plan may use.
    skeleton : Batch
        The searched plan.
    drawn : Drawn
    found : Found
        The search that it came from.
    single : DayArrays
        With the configurations that have one change on at most.
    one_at_a_time : Found or None
        The search among these; None where there is no other.
    pairs : Pairs or None
        Set when the plan consists of back-to-back pairs.
    no_pairs_because : str
        Why not, in words; empty where they are out of the question.
    evaluations : int
    stopped : bool
        Whether the search was interrupted.
    """

    arrays: DayArrays
    skeleton: Batch
    drawn: Drawn
    found: Found
    single: DayArrays
    one_at_a_time: Found | None
    pairs: Pairs | None
    no_pairs_because: str
    evaluations: int
    stopped: bool


def choose(
    day: DayFile, *, seed: int, effort: str, fresh_refit: bool | None = None, progress: Progress | None = None
) -> Choice | None:
    """Search, decide, draw.

    Parameters
    ----------
    day : DayFile
    seed : int
    effort : str
        A key of `EVALUATIONS`.
    fresh_refit : bool, optional
        Whether the plan consists of back-to-back pairs with a fresh refit in every slot; by default where at least six
        fit and cost next to nothing.
    progress : callable, optional

    Returns
    -------
    Choice or None
        None when nothing that could be answered fits into the day.
    """
    single_random, mixed_random, pair_random, draw_random = (
        np.random.default_rng([seed, stream]) for stream in range(4)
    )
    single = day_arrays(day, candidate_levels(day, mixed=False))
    mixed = day_arrays(day, candidate_levels(day, mixed=True))
    both = len(mixed.levels) > len(single.levels)
    budget = EVALUATIONS[effort]
    first = int(budget * _SHARE_ONE_AT_A_TIME) if both else budget
    alone = search(single, mixed=False, evaluations=first, random=single_random, progress=progress)
    crossed = None
    if both and not (alone and alone.stopped):
        crossed = search(mixed, mixed=True, evaluations=budget - first, random=mixed_random, progress=progress)
    found = _better(alone, crossed)
    if found is None or found.worth <= 0:
        return None
    arrays = mixed if found is crossed else single
    pairs, why_not = _pairs(mixed, found, fresh_refit, pair_random)
    if pairs:
        arrays = mixed
    skeleton = pairs.plan if pairs else found.plan
    # Pairs are judged as a whole beforehand: every one of their orders is good enough.
    drawn = draw(arrays, skeleton, draw_random, **({"threshold": 0.0} if pairs else {}))
    searches = [one for one in (alone, crossed) if one]
    return Choice(
        arrays=arrays,
        skeleton=skeleton,
        drawn=drawn,
        found=found,
        single=single,
        one_at_a_time=alone if both else None,
        pairs=pairs,
        no_pairs_because=why_not,
        evaluations=sum(one.evaluations for one in searches),
        stopped=any(one.stopped for one in searches),
    )


def _better(alone: Found | None, crossed: Found | None) -> Found | None:
    """One at a time, unless two at once settle clearly more."""
    if crossed is None or (alone and crossed.worth < MIXING_PAYS * alone.worth):
        return alone
    return crossed


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
        return None, f"fewer than {FEWEST_PAIRS} back-to-back pairs with fresh refits fit into the day"
    if not wanted and pairs.least < PAIRS_KEEP * found.worth:
        return None, "back-to-back pairs with fresh refits would settle less"
    return pairs, ""
