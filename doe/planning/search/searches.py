"""Both searches of a day: one change at a time, and two at once; and which of them to take."""

from __future__ import annotations

import secrets
from dataclasses import dataclass

import numpy as np

from doe.day.schema import DayFile
from doe.planning.arrays.batch import Batch, join
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.search.exchange import Found, Progress, search
from doe.planning.search.plain_orders import plain_orders

EVALUATIONS = {"quick": 4_000, "normal": 32_000, "long": 300_000}
# Two changes at once must settle so much more, for they rest on the gains adding up. (Not a tenth more: one oil and a
# quick part would lose 7 %, and a few minutes more could make a day worse.)
MIXING_PAYS = 1.02
_SHARE_ONE_AT_A_TIME = 1 / 4


def seed_or_new(seed: int | None) -> int:
    """The seed that was asked for, or one that nobody chose."""
    return secrets.randbelow(2**31) if seed is None else seed


@dataclass(frozen=True)
class Searched:
    """What the searches came to.

    Attributes
    ----------
    single, mixed : DayArrays
        With the configurations that have at most one change on, and at most two.
    alone : Found or None
        Among the first; None where nothing fits.
    crossed : Found or None
        Among the second; None where there is no more to find, or the search was interrupted.
    """

    single: DayArrays
    mixed: DayArrays
    alone: Found | None
    crossed: Found | None

    @property
    def mixes(self) -> bool:
        """Whether two changes at once settle clearly more."""
        if self.crossed is None:
            return False
        return self.alone is None or self.crossed.worth >= MIXING_PAYS * self.alone.worth

    @property
    def found(self) -> Found | None:
        """The search to go on with."""
        return self.crossed if self.mixes else self.alone

    @property
    def arrays(self) -> DayArrays:
        """Those of the search to go on with."""
        return self.mixed if self.mixes else self.single

    @property
    def evaluations(self) -> int:
        """How many plans were looked at."""
        return sum(one.evaluations for one in (self.alone, self.crossed) if one)

    @property
    def stopped(self) -> bool:
        """Whether a search was interrupted."""
        return any(one.stopped for one in (self.alone, self.crossed) if one)


def efforts_up_to(effort: str) -> tuple[str, ...]:
    """The efforts to go through one after the other, so that more is never worse."""
    names = tuple(EVALUATIONS)
    return names[: names.index(effort) + 1]


def both_kinds(day: DayFile) -> tuple[DayArrays, DayArrays]:
    """The day with at most one change on at once, and with at most two."""
    return (
        day_arrays(day, candidate_levels(day, mixed=False)),
        day_arrays(day, candidate_levels(day, mixed=True)),
    )


def search_both(
    single: DayArrays,
    mixed: DayArrays,
    *,
    seed: int,
    effort: str,
    known: Searched | None = None,
    afresh: bool = True,
    share: float = 1.0,
    progress: Progress | None = None,
) -> Searched:
    """Search among plans with at most one change on, then among those with at most two.

    Parameters
    ----------
    single, mixed : DayArrays
    seed : int
    effort : str
        A key of `EVALUATIONS`.
    known : Searched, optional
        The same day at another length, or searched with less effort: its plans are among those that the searches start
        from.
    afresh : bool
        Whether to start from the plain orders and from block plans too.
    share : float
        Of the effort's evaluations, to be spent.
    progress : callable, optional
    """
    both = len(mixed.levels) > len(single.levels)
    budget = int(share * EVALUATIONS[effort])
    first = int(budget * _SHARE_ONE_AT_A_TIME) if both else budget
    plain = plain_orders(single) if afresh else None
    alone = search(
        single,
        mixed=False,
        evaluations=first,
        random=np.random.default_rng([seed, 0]),
        known=_starts(plain, known.alone if known else None),
        afresh=afresh,
        progress=_part_of(progress, 0.0, first / budget),
    )
    crossed = None
    if both and not (alone and alone.stopped):
        plain = None if plain is None else translated(plain, single, mixed)
        crossed = search(
            mixed,
            mixed=True,
            evaluations=budget - first,
            random=np.random.default_rng([seed, 1]),
            known=_starts(plain, known.crossed if known else None),
            afresh=afresh,
            progress=_part_of(progress, first / budget, 1.0),
        )
    return Searched(single, mixed, alone, crossed)


def translated(plans: Batch, source: DayArrays, target: DayArrays) -> Batch:
    """Plans in the numbers of other arrays, which have all their configurations."""
    return Batch(target.numbers_of(source.levels[plans.order]), plans.pulls, plans.fresh)


def _starts(plain: Batch | None, found: Found | None) -> Batch | None:
    """The plain orders, and the best plans that were found with any questions; None where there are none."""
    plans = [] if plain is None else [plain]
    if found is not None:
        plans += [found.plan, *(plan for _, plan in found.by_questions.values())]
    return join(plans) if plans else None


def _part_of(progress: Progress | None, begin: float, end: float) -> Progress | None:
    """Tell the progress of one of several searches."""
    if progress is None:
        return None
    tell = progress
    return lambda share, best: tell(begin + share * (end - begin), best)
