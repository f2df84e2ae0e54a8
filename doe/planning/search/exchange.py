"""The search: block plans first, then exchange moves from the best of them, for a fixed number of evaluations."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from doe.planning.arrays.batch import Batch, join, tidy
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import values_of
from doe.planning.search.constructions import constructions
from doe.planning.search.fill import fill
from doe.planning.search.moves import neighbours

Aim = Callable[[DayArrays, Batch], tuple[np.ndarray, np.ndarray]]
"""What plans are worth, and which questions they ask."""
Progress = Callable[[float, float], None]
"""Called with the share of the search that is done and the best worth so far."""

# In each quarter of the search: chains that climb, and changed copies of each that are tried at a step.
_STAGES = ((12, 24), (6, 36), (3, 48), (1, 96))
_SAME_QUESTIONS = 2  # chains at first that ask the same questions
_STEP_BACK = 0.01  # how much worse a step may be at first, as a share of the best
_FOR_NOTHING = 1e-3  # a question that adds less is not worth fitting its part; the way to one that adds more is free
_FULL_STINTS, _FULL_PULLS = 24, 150  # plans up to this size are searched with all evaluations


@dataclass
class Found:
    """What a search came to.

    Attributes
    ----------
    plan : Batch
        One plan, the best; of plans that are worth as much, one that asks fewer questions.
    worth : float
    evaluations : int
    by_questions : dict
        Best worth found for each set of questions asked, with its plan.
    stopped : bool
        Whether it was interrupted.
    """

    plan: Batch
    worth: float = -np.inf
    evaluations: int = 0
    by_questions: dict[tuple[int, ...], tuple[float, Batch]] = field(default_factory=dict)
    stopped: bool = False
    _preference: float = -np.inf

    def note(self, plans: Batch, values: np.ndarray, asked: np.ndarray) -> None:
        """Keep the best plan, and the best worth of each set of questions."""
        self.evaluations += len(plans)
        preference = values - _FOR_NOTHING * asked.sum(axis=1)
        best = int(preference.argmax())
        if preference[best] > self._preference:
            self._preference = float(preference[best])
            self.worth, self.plan = float(values[best]), plans.row(best)
        falling = np.argsort(-values, kind="stable")
        sets, first = np.unique(asked[falling], axis=0, return_index=True)
        for row, number in zip(sets, falling[first].tolist(), strict=True):
            key = tuple(np.flatnonzero(row).tolist())
            if key not in self.by_questions or values[number] > self.by_questions[key][0]:
                self.by_questions[key] = float(values[number]), plans.row(number)


def search(
    arrays: DayArrays,
    *,
    mixed: bool,
    evaluations: int,
    random: np.random.Generator,
    known: Batch | None = None,
    afresh: bool = True,
    progress: Progress | None = None,
) -> Found | None:
    """Look for the plan that is worth most.

    Parameters
    ----------
    arrays : DayArrays
    mixed : bool
        Whether two changes may be on at once.
    evaluations : int
        How many plans are looked at; never the wall clock, so that a seed gives the same plan everywhere.
    random : Generator
    known : Batch, optional
        Plans to start from.
    afresh : bool
        Whether to start from block plans besides.
    progress : callable, optional

    Returns
    -------
    Found or None
        None when nothing fits into the day.
    """
    starts = [] if known is None else [fill(arrays, known)]
    if afresh or not starts:
        starts += [constructions(arrays, range(len(arrays.day.questions)), mixed=mixed, random=random)]
    return climb(arrays, join(starts), evaluations=evaluations, random=random, progress=progress)


def climb(
    arrays: DayArrays,
    start: Batch,
    *,
    evaluations: int,
    random: np.random.Generator,
    aim: Aim = values_of,
    progress: Progress | None = None,
) -> Found | None:
    """Look for the best plan from some plans on, by `aim`; see `search`."""
    start = start[start.stints > 0]
    if not len(start):
        return None
    values, asked = aim(arrays, start)
    found = Found(start.row(0))
    found.note(start, values, asked)
    chains, affordable = _first_chains(start, values, asked), _affordable(found.plan, evaluations)
    try:
        _climb(arrays, found, chains, affordable, aim, random, progress)
    except KeyboardInterrupt:
        found.stopped = True
    return found


def _affordable(plan: Batch, evaluations: int) -> int:
    """Fewer evaluations for large plans, of which each costs more; the start doesn't count."""
    stints, pulls = plan.order.shape[1], int(plan.pulls.sum())
    share = min(1.0, (_FULL_STINTS / stints) ** 2) * min(1.0, _FULL_PULLS / pulls)
    return max(int(evaluations * share), _STAGES[0][0] * _STAGES[0][1])


def _first_chains(plans: Batch, values: np.ndarray, asked: np.ndarray) -> list[tuple[Batch, float]]:
    """The best plans to climb from, at most two that ask the same questions."""
    chains: list[tuple[Batch, float]] = []
    seen: dict[bytes, int] = {}
    for number in np.argsort(-values, kind="stable").tolist():
        key = asked[number].tobytes()
        if seen.setdefault(key, 0) < _SAME_QUESTIONS:
            seen[key] += 1
            chains.append((plans.row(number), float(values[number])))
        if len(chains) == _STAGES[0][0]:
            break
    return chains


def _climb(
    arrays: DayArrays,
    found: Found,
    chains: list[tuple[Batch, float]],
    evaluations: int,
    aim: Aim,
    random: np.random.Generator,
    progress: Progress | None,
) -> None:
    """Each chain steps to the best of its changed copies, at first also to a slightly worse one."""
    begun = found.evaluations
    while (done := (found.evaluations - begun) / evaluations) < 1:
        most, copies = _STAGES[int(done * len(_STAGES))]
        chains = sorted(chains, key=lambda chain: -chain[1])[:most]
        parents = join([_copies(plan, copies) for plan, _ in chains])
        children = fill(arrays, tidy(neighbours(arrays, parents, random)), random)
        values, asked = aim(arrays, children)
        found.note(children, values, asked)
        allowance = _STEP_BACK * found.worth * (1.0 - done) ** 2
        for chain, of_chain in enumerate(values.reshape(len(chains), copies)):
            best = int(of_chain.argmax())
            if of_chain[best] > chains[chain][1] - allowance:
                chains[chain] = (children.row(chain * copies + best), float(of_chain[best]))
        if progress:
            progress(min(1.0, (found.evaluations - begun) / evaluations), found.worth)


def _copies(plan: Batch, count: int) -> Batch:
    return Batch(*(np.repeat(a, count, axis=0) for a in (plan.order, plan.pulls, plan.fresh)))
