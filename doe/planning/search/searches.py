"""Both searches of a day: one change at a time, and two at once; and which of them to take."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.day.schema import DayFile
from doe.planning.arrays.batch import Batch
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.search.exchange import Found, Progress, search

EVALUATIONS = {"quick": 4_000, "normal": 32_000, "long": 300_000}
# Two changes at once must settle so much more, for they rest on the gains adding up. (Not a tenth more: one oil and a
# quick part would lose 7 %, and a few minutes more could make a day worse.)
MIXING_PAYS = 1.02
_SHARE_ONE_AT_A_TIME = 1 / 4


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
        The same day at another length: its plans are among those that the searches start from.
    share : float
        Of the effort's evaluations, to be spent.
    progress : callable, optional
    """
    both = len(mixed.levels) > len(single.levels)
    budget = int(share * EVALUATIONS[effort])
    first = int(budget * _SHARE_ONE_AT_A_TIME) if both else budget
    alone = search(
        single,
        mixed=False,
        evaluations=first,
        random=np.random.default_rng([seed, 0]),
        known=_plan_of(known.alone if known else None),
        progress=_part_of(progress, 0.0, first / budget),
    )
    crossed = None
    if both and not (alone and alone.stopped):
        crossed = search(
            mixed,
            mixed=True,
            evaluations=budget - first,
            random=np.random.default_rng([seed, 1]),
            known=_plan_of(known.crossed if known else None),
            progress=_part_of(progress, first / budget, 1.0),
        )
    return Searched(single, mixed, alone, crossed)


def _plan_of(found: Found | None) -> Batch | None:
    return found.plan if found else None


def _part_of(progress: Progress | None, begin: float, end: float) -> Progress | None:
    """Tell the progress of one of several searches."""
    if progress is None:
        return None
    tell = progress
    return lambda share, best: tell(begin + share * (end - begin), best)
