"""The randomisation test: the drawn order against the orders that might have been drawn, read from orders.txt."""

from __future__ import annotations

from collections.abc import Sequence
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


def randomisation_tests(
    plan: PlanFile | None, pulls: Sequence[Pull], trial: Trial, values: np.ndarray
) -> list[Randomisation]:
    """Test every change against the stored orders.

    Readings, minutes, slots, fittings and the other changes' columns stay; only the tested change's labels are
    permuted. Each time least squares on the means over its fittings (slots for a quick change), the drift refitted:
    the share of orders with |T*| >= |T|. Exact whatever the drift.

    Parameters
    ----------
    plan : PlanFile or None
    pulls : sequence of Pull
        The counted pulls, in the order of `trial`.
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
    found = _orders(plan, pulls)
    if isinstance(found, str):
        return [Randomisation(reason=found)] * count
    slot_of, orders, letters = found
    return [_test(trial, values, i, slot_of, orders, letters) for i in range(count)]


_Orders = tuple[np.ndarray, np.ndarray, dict[str, dict[str, str]]]


def _orders(plan: PlanFile | None, pulls: Sequence[Pull]) -> _Orders | str:
    """Slot of each pull, the orders as letters, shape (orders, slots), and their meaning; or why there is none."""
    if plan is None:
        return "no plan"
    described = plan.document.get("orders")
    if not described or len(plan.orders) < 2:
        return str(plan.document.get("not_randomised") or "the order was not drawn at random")
    slots: list[list[int]] = described["slots"]
    slot_of_run = {run: k for k, runs in enumerate(slots) for run in runs}
    made = [pull.run for pull in pulls]
    if None in made or len(set(made)) != len(made) or set(made) != set(slot_of_run):
        return "pulls beyond the plan, or planned pulls that were not made"
    orders = np.array([list(order) for order in plan.orders if len(order) == len(slots)])
    return np.array([slot_of_run[run] for run in made if run is not None]), orders, described["letters"]


def _test(
    trial: Trial,
    values: np.ndarray,
    change: int,
    slot_of: np.ndarray,
    orders: np.ndarray,
    letters: dict[str, dict[str, str]],
) -> Randomisation:
    factor, level = trial.factors[change], trial.levels[change]
    codes = {letter: fitted[factor] for letter, fitted in letters.items()}
    fitted = np.array([[codes[letter] for letter in order] for order in orders])
    on = fitted == level
    others = [name for f, name in zip(trial.factors, trial.levels, strict=True) if f == factor and name != level]
    comparable = np.ones(len(orders), bool)
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
