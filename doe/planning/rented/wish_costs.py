"""What the wishes of several days cost: how many questions more all days together would settle without each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from doe.day.schema import DayFile
from doe.planning.rented.exchange_days import OneDay, Together, improved, settled_by
from doe.planning.search.searches import EVALUATIONS, MIXING_PAYS, both_kinds, translated
from doe.planning.wishes.prices import Priced, Prices
from doe.planning.wishes.wished import Wish, wishes_of, without_wishes

# Of a search's evaluations, for each wish and day, and for all wishes together: the searches begin with the plans that
# keep them all.
_SHARE, _SHARE_OF_ALL = 1 / 8, 1 / 4


@dataclass(frozen=True)
class _Search:
    """What is searched from, and how long."""

    together: Together
    seed: int
    effort: str

    def without(self, days: Sequence[DayFile], share: float) -> float:
        """Questions settled on days with fewer wishes."""
        known = self.together.days
        mixes = any(day.arrays.most_away > 1 for day in known)
        found = 0.0
        for mixed in (True,) if mixes else (False, True):
            begun = []
            for file, day in zip(days, known, strict=True):
                arrays = both_kinds(file)[int(mixed)]
                plan = day.plan and translated(day.plan, day.arrays, arrays)
                begun.append(OneDay(arrays, plan))
            evaluations = int(share * EVALUATIONS[self.effort])
            settled = improved(Together(tuple(begun), settled_by(begun)), [self.seed, 40], evaluations).settled
            if mixes or not mixed or settled >= MIXING_PAYS * found:
                found = max(found, settled)
        return found


def wish_costs(together: Together, days: Sequence[DayFile], *, seed: int, effort: str) -> Prices:
    """What each wish costs, whichever days have it, and all of them: never less than the dearest.

    Parameters
    ----------
    together : Together
        Whole days.
    days : sequence of DayFile
        The same with their wishes.
    seed : int
    effort : str
    """
    search = _Search(together, seed, effort)
    priced = [
        Priced(wish.key, wish.value, wish.text, _more(search.without(_without(days, wish), _SHARE), together))
        for wish in _wishes(days)
    ]
    if not priced:
        return Prices()
    dearest = max(wish.costs for wish in priced)
    if len(priced) > 1:
        dearest = max(dearest, _more(search.without([without_wishes(day) for day in days], _SHARE_OF_ALL), together))
    return Prices(tuple(priced), dearest)


def _more(settled: float, together: Together) -> float:
    return max(settled - together.settled, 0.0)


def _wishes(days: Sequence[DayFile]) -> list[Wish]:
    """Every wish of any day, once."""
    return list({wish.text: wish for day in days for wish in wishes_of(day)}.values())


def _without(days: Sequence[DayFile], wish: Wish) -> list[DayFile]:
    """The days without one wish, where they have it."""
    return [next((own.without for own in wishes_of(day) if own.text == wish.text), day) for day in days]
