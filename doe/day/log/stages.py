"""What a question's next verdict has: the n-th final one 1/2^(n-1) of the first risk, less what early looks took.

The levels of all verdicts add up to twice the first risk, however often somebody comes back; nothing is assumed of how
they correlate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from doe.day.log.looks import Look
from doe.day.schema import DayFile
from doe.words.significance import risk_of

Question = tuple[str, str]  # factor, level

SPENT = 1e-10  # a stage with no more than this left is over, and a look at less is none
_LEAST = 1e-9  # a level: from about the 27th verdict on the last is given again, where 1 - level would lose its digits


@dataclass(frozen=True, slots=True)
class Stage:
    """Where a question stands."""

    number: int  #: of the final verdict that is due
    left: float  #: two-sided, of the family: what that verdict, or looks before it, may spend
    whole: float  #: the risk that verdict number 1 had

    def look(self, spend: float) -> Stage:
        """After an early look. A stage that looks have used up gives way to the next, which pays what is missing."""
        number, left = self.number, self.left - spend
        while left <= SPENT:
            number += 1
            left += level_of(number, self.whole)
        return Stage(number, left, self.whole)

    def verdict(self) -> Stage:
        """After the final verdict, which spends all that is left."""
        return Stage(self.number + 1, level_of(self.number + 1, self.whole), self.whole)


def level_of(number: int, risk: float) -> float:
    """Risk of the n-th final verdict, of which the first has `risk`."""
    return max(math.ldexp(risk, 1 - number), _LEAST)


def stage_of(ledgers: Sequence[Sequence[Look]], question: Question, risk: float) -> Stage:
    """Where a question stands in the ledgers of the days that are judged together.

    Parameters
    ----------
    ledgers : sequence of sequence of Look
        One a day, each oldest first.
    question : tuple of str
        Factor and level.
    risk : float
        Of the first verdict: 1 - confidence.

    Returns
    -------
    Stage
        Its number is one more than the largest among the days; the looks of all days since are taken from its risk.
    """
    reached = [_reached(ledger, question) for ledger in ledgers]
    number = 1 + max((number for number, _ in reached), default=0)
    spent = [look for _, looks in reached for look in looks]
    together = {time: risk for time, risk, shared in spent if shared}  # it stands in the ledger of each of its days
    alone = sum(risk for _, risk, shared in spent if not shared)
    return Stage(number, level_of(number, risk), risk).look(alone + sum(together.values()))


def stages_of(ledgers: Sequence[Sequence[Look]], day: DayFile) -> tuple[Stage, ...]:
    """Where each question of day.toml stands, in file order."""
    risk = risk_of(day.analysis.confidence)
    return tuple(stage_of(ledgers, (factor.name, change.level), risk) for factor, change in day.questions)


def due_on(day: DayFile, ledgers: Sequence[Sequence[Look]]) -> tuple[tuple[str, Stage], ...]:
    """Each question of day.toml by its name, in file order, and where it stands."""
    names = [f"{factor.name} {change.level}" for factor, change in day.questions]
    return tuple(zip(names, stages_of(ledgers, day), strict=True))


def early_looks(ledgers: Sequence[Sequence[Look]]) -> int:
    """Early looks since the last final verdict of each day; one at several days together is one."""
    looks = [look for ledger in ledgers for look in _open(ledger)]
    return len({look.time for look in looks if _shared(look)}) + sum(not _shared(look) for look in looks)


def _open(ledger: Sequence[Look]) -> list[Look]:
    finals = [at for at, look in enumerate(ledger) if look.final]
    return [look for look in ledger[finals[-1] + 1 if finals else 0 :] if look.risk_spent > 0]


def _shared(look: Look) -> bool:
    """Whether several days were looked at together."""
    return look.seen is not None and look.seen.days > 1


def _reached(ledger: Sequence[Look], question: Question) -> tuple[int, list[tuple[str, float, bool]]]:
    """Number of the last final verdict on a question, 0 where there is none, and the looks since.

    Of each look its time, what it spent on the question, and whether it was at several days together.
    """
    number: int = 0
    looks: list[tuple[str, float, bool]] = []
    for look in ledger:
        told = look.to(*question)
        if told is None or told.number is None:
            continue
        if look.final:
            number, looks = max(number, told.number), []
        elif told.number > number:
            looks.append((look.time, told.spent, _shared(look)))
    return number, looks
