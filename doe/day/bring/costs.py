"""What a day costs, and each of its questions: the cell by the hour, the material by the fitting.

A question pays for its own fittings and for the minutes of its own pulls; the baseline's fittings are shared by the
changes of their part, and everything else, such as warm-up, baseline pulls and breaks, by all questions alike. So the
questions' costs add up to the day's.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from doe.day.bring.parts_moved import Move, cost_of_fitting, moves_of
from doe.day.clock import change_minutes, fresh_refit
from doe.day.records import Pull, Run
from doe.day.schema import Configuration, DayFile

Question = tuple[str, str]


@dataclass(frozen=True, slots=True)
class QuestionCost:
    """What the answer to one question costs."""

    factor: str
    level: str
    cost: float


@dataclass(frozen=True, slots=True)
class Cost:
    """What some hours in the cell cost; money in `currency`."""

    currency: str
    hours: float  #: by the clock, breaks included
    cell: float  #: the hours at their price
    material: float
    questions: tuple[QuestionCost, ...]  #: of what is asked; they add up to `total`

    @property
    def total(self) -> float:
        """Cell and material."""
        return self.cell + self.material

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {**asdict(self), "total": self.total}


def cost_of(
    day: DayFile, rows: Sequence[Run | Pull], begin: float = 0.0, before: Configuration | None = None
) -> Cost | None:
    """What the rows cost.

    Parameters
    ----------
    day : DayFile
    rows : sequence of Run or Pull
        Planned runs, or the pulls that were made, voided and throw-away ones included.
    begin : float
        Minute of the day from which the hours count.
    before : Configuration, optional
        As in `moves_of`.

    Returns
    -------
    Cost or None
        None where day.toml has no price, or no row has a time.
    """
    minutes = [row.minute for row in rows if row.minute is not None]
    if not minutes or not _priced(day):
        return None
    asked = _asked(day, rows)
    hours, rate = max(max(minutes) - begin, 0.0) / 60, day.day.per_hour or 0.0
    worked: defaultdict[Question, float] = defaultdict(float)  # minutes of its own
    taken: defaultdict[Question, float] = defaultdict(float)  # money for material
    all_moves = moves_of(day, rows, before)
    for row, moves in zip(rows, all_moves, strict=True):
        _spread(worked, [one for one in asked if row.configuration[one[0]] == one[1]], day.cell.pull_minutes)
        for move in moves:
            paying = _paying(move, asked)
            _spread(worked, paying, _minutes(day, move))
            _spread(taken, paying or asked, cost_of_fitting(move.factor, move.entered) or 0.0)
    own = sum(worked.values())
    pace = min(1.0, 60 * hours / own) if own else 1.0  # a day may be quicker than day.toml has it
    shared = (60 * hours - pace * own) / max(len(asked), 1)
    return Cost(
        currency=day.day.currency,
        hours=hours,
        cell=hours * rate,
        material=_material(all_moves),
        questions=tuple(QuestionCost(*one, taken[one] + (pace * worked[one] + shared) * rate / 60) for one in asked),
    )


def _material(all_moves: Sequence[Sequence[Move]]) -> float:
    """What all fittings cost."""
    return sum(cost_of_fitting(move.factor, move.entered) or 0.0 for moves in all_moves for move in moves)


def _priced(day: DayFile) -> bool:
    """Whether day.toml says what anything costs that a day takes."""
    return day.day.per_hour is not None or any(
        cost_of_fitting(factor, level) is not None for factor in day.factor for level in factor.levels
    )


def _asked(day: DayFile, rows: Sequence[Run | Pull]) -> list[Question]:
    """The changes that are on in a pull that counts."""
    counted = [row.configuration for row in rows if row.counts]
    return [
        (factor.name, change.level)
        for factor, change in day.questions
        if any(configuration[factor.name] == change.level for configuration in counted)
    ]


def _spread(shares: defaultdict[Question, float], paying: Sequence[Question], size: float) -> None:
    """Share a size out among some questions, in place."""
    for question in paying:
        shares[question] += size / len(paying)


def _paying(move: Move, asked: Sequence[Question]) -> list[Question]:
    """The questions for which something is moved: that of the level, or, of the baseline, all of its part."""
    of_part = [question for question in asked if question[0] == move.factor.name]
    own = [question for question in of_part if question[1] == move.entered]
    return own or (of_part if move.entered == move.factor.baseline else [])


def _minutes(day: DayFile, move: Move) -> float:
    """The minutes that a move takes by day.toml."""
    if move.left == move.entered:
        return fresh_refit(day, move.factor.name, move.entered).minutes if move.factor.refit else 0.0
    return change_minutes(move.factor.change_of(move.left), move.factor.change_of(move.entered))
