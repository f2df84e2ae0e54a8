"""What is fitted or switched on the way: every change of what is on, over the rows of a plan or log."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from doe.day.bring.quantities import Quantity, read_quantity
from doe.day.clock import order_text
from doe.day.fittings import fresh_text, refitted_between
from doe.day.records import Pull, Run
from doe.day.schema import Configuration, DayFile, Factor


@dataclass(frozen=True, slots=True)
class Move:
    """One part or fluid that is fitted, or one setting that is switched."""

    factor: Factor
    left: str  #: the level that was on; the same as `entered` where the same part is fitted afresh
    entered: str


def moves_of(day: DayFile, rows: Sequence[Run | Pull], before: Configuration | None = None) -> list[tuple[Move, ...]]:
    """What is moved before each row, aligned with `rows`.

    Parameters
    ----------
    day : DayFile
    rows : sequence of Run or Pull
        Everything that was made or is planned, in the order of making.
    before : Configuration, optional
        What is fitted before the first row; by default the baseline, or, before a planned run, what its orders leave.
    """
    found: list[tuple[Move, ...]] = [()] * len(rows)
    order = sorted(range(len(rows)), key=lambda at: rows[at].install)
    if order:
        found[order[0]] = tuple(_first_moves(day, rows[order[0]], before))
    for earlier, later in pairwise(order):
        found[later] = tuple(_between(day, rows[earlier], rows[later]))
    return found


def _first_moves(day: DayFile, row: Run | Pull, before: Configuration | None) -> Iterator[Move]:
    orders = row.do if isinstance(row, Run) else ""
    for factor in day.factor:
        level = row.configuration[factor.name]
        left = before[factor.name] if before else _left(factor, level, ordered=order_text(factor, level) in orders)
        if isinstance(row, Pull) and before is None:
            left = factor.baseline
        if left != level or fresh_text(factor, level) in orders:
            yield Move(factor, left, level)


def _left(factor: Factor, entered: str, *, ordered: bool) -> str:
    """What was on before a planned run: the same where nothing is ordered, else the baseline, or some change."""
    if not ordered:
        return entered
    return factor.baseline if entered != factor.baseline or not factor.change else factor.change[0].level


def _between(day: DayFile, before: Run | Pull, after: Run | Pull) -> Iterator[Move]:
    fitted = refitted_between(day, before, after)
    for factor in day.factor:
        left, entered = before.configuration[factor.name], after.configuration[factor.name]
        if left != entered or factor.name in fitted:
            yield Move(factor, left, entered)


def times_entered(all_moves: Sequence[Sequence[Move]]) -> Counter[tuple[str, str]]:
    """How often each level is fitted or switched on, by factor and level."""
    return Counter((move.factor.name, move.entered) for moves in all_moves for move in moves)


def material_of(factor: Factor, level: str) -> Quantity | None:
    """What one fitting of a level takes; a level that says nothing takes what its factor says."""
    change = factor.change_of(level)
    text = (change.per_fitting if change else "") or factor.per_fitting
    return read_quantity(text) if text else None


def cost_of_fitting(factor: Factor, level: str) -> float | None:
    """What the material of one fitting costs; a level that says nothing costs what its factor says."""
    change = factor.change_of(level)
    own = change.per_fitting_cost if change else None
    return factor.per_fitting_cost if own is None else own
