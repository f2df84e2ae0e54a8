"""The randomisation test: the drawn order against the orders that might have been drawn, read from orders.txt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.trials.trial import Trial, averaging
from doe.day.files.planfile import PlanFile
from doe.day.records import Pull
from doe.stats.fixed_effects import ColumnSpace, column_sizes, column_space
from doe.stats.rounding import only_rounding
from doe.words.significance import NOTABLE

_TIE = 1e-9


@dataclass(frozen=True, slots=True)
class Randomisation:
    """Randomisation p of one change, or why there is none."""

    p: float | None = None
    smallest: float | None = None  #: that could come out, whatever the readings
    reason: str = ""


@dataclass(frozen=True, slots=True)
class _Orders:
    """The orders that some pulls might have had, the one that they had first."""

    slot_of: np.ndarray  #: slot of each pull
    fitted: Mapping[str, np.ndarray]  #: by factor: the level in each slot, shape (orders, slots)

    def first(self, count: int) -> _Orders:
        return _Orders(self.slot_of, {factor: levels[:count] for factor, levels in self.fitted.items()})

    @property
    def count(self) -> int:
        return len(next(iter(self.fitted.values())))


def randomisation_tests(
    plans: Sequence[PlanFile | None], pulls: Sequence[Sequence[Pull]], trial: Trial, values: np.ndarray
) -> list[Randomisation]:
    """Test every change against the stored orders.

    Readings, minutes, slots, fittings and the other changes' columns stay; only the tested change's labels are
    permuted. Each time least squares on the means over its fittings (slots for a quick change), the drift refitted:
    the share of orders with |T*| >= |T|. Exact whatever the drift. The orders of days that were planned together were
    drawn independently of each other: those of all days are taken side by side.

    Parameters
    ----------
    plans : sequence of PlanFile or None
        Of each day.
    pulls : sequence of sequence of Pull
        The counted pulls of each day, in the order of `trial`.
    trial : Trial
    values : ndarray, shape (pulls,)

    Returns
    -------
    list of Randomisation, one per change

    References
    ----------
    Edgington & Onghena (2007), Randomization Tests, 4th ed., ch. 3.
    """
    count = len(trial.factors)
    found = [_orders(plan, own, tuple(dict.fromkeys(trial.factors))) for plan, own in zip(plans, pulls, strict=True)]
    orders = [one for one in found if not isinstance(one, str)]
    reasons = [one for one in found if isinstance(one, str)]
    if not reasons and all(one.count < 2 for one in orders):
        reasons = [_not_drawn(plan) for plan in plans]
    if reasons:
        return [Randomisation(reason=reasons[0])] * count
    together = _side_by_side(orders)
    return [_test(trial, values, i, together) for i in range(count)]


def _orders(plan: PlanFile | None, pulls: Sequence[Pull], factors: Sequence[str]) -> _Orders | str:
    """The orders of one day; only the one that was made where no other was drawn; or why there is none."""
    if plan is None:
        return "no plan"
    described = plan.document.get("orders")
    if described and len(plan.orders) > 1:
        slots: list[list[int]] = described["slots"]
        letters: dict[str, dict[str, str]] = described["letters"]
        rows = [[letters[letter] for letter in order] for order in plan.orders if len(order) == len(slots)]
    else:
        planned = [run for run in plan.runs if run.counts]
        slots, rows = [[run.run] for run in planned], [[dict(run.configuration) for run in planned]]
    slot_of_run = {run: k for k, runs in enumerate(slots) for run in runs}
    made = [pull.run for pull in pulls]
    if not slots:
        return _not_drawn(plan)
    if None in made or len(set(made)) != len(made) or set(made) != set(slot_of_run):
        return "pulls beyond the plan, or planned pulls that were not made"
    slot_of = np.array([slot_of_run[run] for run in made if run is not None])
    return _Orders(slot_of, {name: np.array([[slot[name] for slot in row] for row in rows]) for name in factors})


def _not_drawn(plan: PlanFile | None) -> str:
    return str((plan and plan.document.get("not_randomised")) or "the order was not drawn at random")


def _side_by_side(days: Sequence[_Orders]) -> _Orders:
    """The orders of all days: the j-th of each together, drawn independently, so as good as any pairing.

    A day with fewer than half as many orders as another keeps its own, so that it doesn't take theirs from the others;
    of the rest the fewest decide.
    """
    most = max(day.count for day in days)
    count = min(day.count for day in days if 2 * day.count >= most)
    cut = [day.first(count if 2 * day.count >= most else 1) for day in days]
    before = np.cumsum([0, *(next(iter(day.fitted.values())).shape[1] for day in cut)])
    slot_of = np.concatenate([day.slot_of + first for day, first in zip(cut, before[:-1], strict=True)])
    fitted = {
        name: np.hstack([np.broadcast_to(day.fitted[name], (count, day.fitted[name].shape[1])) for day in cut])
        for name in cut[0].fitted
    }
    return _Orders(slot_of, fitted)


def _test(
    trial: Trial,
    values: np.ndarray,
    change: int,
    orders: _Orders,
) -> Randomisation:
    factor, level = trial.factors[change], trial.levels[change]
    fitted, slot_of = orders.fitted[factor], orders.slot_of
    on = fitted == level
    others = [name for f, name in zip(trial.factors, trial.levels, strict=True) if f == factor and name != level]
    comparable = np.ones(orders.count, bool)
    for other in others:  # an order that swaps the tested change with another asks another question
        comparable &= ((fitted == other) == (fitted[0] == other)).all(axis=1)
    labels = on[comparable][:, slot_of].astype(float)
    if not np.array_equal(labels[0], trial.changes[:, change]):
        return Randomisation(reason="the pulls made are not those of the drawn order")
    grouping = trial.grouping(change)
    over = averaging(slot_of if grouping is None else grouping)
    moves = labels @ over.T
    others_kept = np.delete(trial.fixed().matrix, 1 + change, axis=1)
    kept = column_space(over @ others_kept, column_sizes(others_kept))
    correlation, usable = _partial_correlations(moves, over @ values, kept)
    if not usable[0]:
        return Randomisation(reason="the change can't be told from the drift on its fittings' means")
    alike = (moves == moves[0]).all(axis=1) | (moves == 1 - moves[0]).all(axis=1)
    smallest = float(alike.mean())
    if smallest > NOTABLE:
        return Randomisation(
            smallest=smallest, reason=f"too few orders: the smallest p that could come out is {smallest:.2g}"
        )
    p = float((np.abs(correlation) >= np.abs(correlation[0]) - _TIE).mean())
    return Randomisation(p, smallest)


def _partial_correlations(moves: np.ndarray, means: np.ndarray, kept: ColumnSpace) -> tuple[np.ndarray, np.ndarray]:
    """Correlation of readings and labels, the kept columns taken out of both; |T| rises with it (Frisch and Waugh)."""
    u = kept.basis
    y = means - u @ (u.T @ means)
    y = np.zeros_like(y) if only_rounding(y, means) else y
    x = moves - (moves @ u) @ u.T
    size = np.linalg.norm(x, axis=1)
    usable = size > 1e-9
    scale = np.where(usable, size, 1.0) * max(float(np.linalg.norm(y)), 1e-300)
    return np.where(usable, x @ y / scale, 0.0), usable
