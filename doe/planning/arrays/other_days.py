"""Other days as one day's plan can count on them: their pulls, made or planned, fixed before it begins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.day.log.looks import Look
from doe.day.log.stages import stages_of
from doe.day.schema import DayFile
from doe.planning.arrays.history import History, Made, history_of


@dataclass(frozen=True, slots=True)
class OtherDays:
    """The other days of a campaign, as the rest of one of its days counts on them.

    Attributes
    ----------
    number : int
        The place of the day whose rest is planned, 0 for the first.
    made : mapping of int to sequence of Made
        As in `fixed`.
    ledgers : tuple of tuple of Look
        The verdicts that each was shown.
    """

    number: int
    made: Mapping[int, Sequence[Made]]
    ledgers: tuple[tuple[Look, ...], ...]

    def before(
        self, day: DayFile, own: Sequence[Made], fitted_now: Sequence[int], ledger: Sequence[Look]
    ) -> History | None:
        """Their pulls, and behind them the day's own, with the risk that is left to all of them; None without a pull.

        Parameters
        ----------
        day : DayFile
        own : sequence of Made
            The day's own pulls, whose fittings begin at 1.
        fitted_now : sequence of int
            For each refit factor the number of the day's fitting that is on.
        ledger : sequence of Look
            The verdicts that the day itself was shown.
        """
        together, begun = _one_after_the_other(day, self.made, self.number)
        together += _behind(own, begun, self.number)
        if not together:
            return None
        history = history_of(day, together, (begun + np.array(fitted_now, int)).tolist(), self.number, [])
        return replace(history, stages=stages_of([ledger, *self.ledgers], day))


@dataclass(frozen=True, slots=True)
class EarlierDays:
    """The days with which one goes on, as its rest counts on them: a part may have stayed on over a night.

    Attributes
    ----------
    made : tuple of Made
        Their pulls, with the number of their day and the fittings numbered through the nights.
    fittings : tuple of mapping of int to int
        For each refit factor, to a fitting of the day itself, which begin at 1, its number through the nights.
    number : int
        The place of the day whose rest is planned.
    ledgers : tuple of tuple of Look
        The verdicts that each was shown.
    """

    made: tuple[Made, ...]
    fittings: tuple[Mapping[int, int], ...]
    number: int
    ledgers: tuple[tuple[Look, ...], ...]

    def before(
        self, day: DayFile, own: Sequence[Made], fitted_now: Sequence[int], ledger: Sequence[Look]
    ) -> History | None:
        """As `OtherDays.before`."""
        together = [*self.made, *(replace(one, fittings=self._through(one.fittings), day=self.number) for one in own)]
        if not together:
            return None
        history = history_of(day, together, self._through(fitted_now), self.number, [])
        return replace(history, stages=stages_of([ledger, *self.ledgers], day))

    def _through(self, fittings: Sequence[int]) -> tuple[int, ...]:
        return tuple(numbers[own] for numbers, own in zip(self.fittings, fittings, strict=True))


def fixed(day: DayFile, made: Mapping[int, Sequence[Made]], number: int) -> History | None:
    """The pulls of other days; None where there are none.

    Parameters
    ----------
    day : DayFile
        The day whose plan counts on them.
    made : mapping of int to sequence of Made
        By the place of their day in the campaign; the fittings of each day begin at 1, and none goes on over a night.
    number : int
        The place of `day`.
    """
    together, begun = _one_after_the_other(day, made, number)
    return history_of(day, together, (begun + 1).tolist(), number, []) if together else None


def _one_after_the_other(
    day: DayFile, made: Mapping[int, Sequence[Made]], number: int
) -> tuple[list[Made], np.ndarray]:
    """The pulls of all days but one, and for each refit factor how many fittings they took."""
    together: list[Made] = []
    begun = np.zeros(len(day.refit_factors), int)
    for place in sorted(made):
        own = made[place]
        if not own or place == number:
            continue
        together += _behind(own, begun, place)
        begun = begun + np.max([one.fittings for one in own], axis=0) if len(begun) else begun
    return together, begun


def _behind(own: Sequence[Made], begun: np.ndarray, place: int) -> list[Made]:
    """The pulls of one day, its fittings numbered behind those of the days before."""
    return [replace(one, fittings=tuple((np.array(one.fittings, int) + begun).tolist()), day=place) for one in own]
