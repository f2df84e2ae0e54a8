"""Which verdict is due on some days: a new one, or the same again where no counted pull is new."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from doe.analysis.judging.ask import Level
from doe.day.log.looks import Look, Seen
from doe.day.log.stages import SPENT, Question, Stage, early_looks, level_of, stage_of
from doe.stats.spending import increment


@dataclass(frozen=True, slots=True)
class Turn:
    """What is due."""

    levels: Mapping[Question, Level]
    spends: Mapping[Question, float]  #: 0 where the same pulls were judged before
    final: bool
    look: tuple[int, float] | None  #: number of the early look (or of the last word after some), and its risk
    information: float = 1.0  #: share of the planned information
    again: bool = False  #: no counted pull is new since it was shown

    @property
    def allowed(self) -> bool:
        """Whether it may be shown: a look that would have nothing to spend may not."""
        return all(level.risk > 0 for level in self.levels.values())

    @property
    def left(self) -> float:
        """What the question that has least will have left for its next verdict."""
        return min((level.next_risk for level in self.levels.values()), default=1.0)


def shown_before(ledgers: Sequence[Sequence[Look]], seen: Sequence[Seen], *, final: bool) -> tuple[Look, ...] | None:
    """The last verdict that these days together were shown, by day, where no counted pull is new since; None if one is.

    Leaving a day out, or another one in, is another verdict: to choose among days is to choose among results.

    Parameters
    ----------
    ledgers : sequence of sequence of Look
    seen : sequence of Seen
        What is there now, in the same order.
    final : bool
        Early looks don't count: the last word is due.
    """
    for looks in together(ledgers):
        old = all(not _new_pulls(look, now) for look, now in zip(looks, seen, strict=True))
        if old and (looks[0].final or not final):
            return looks
    return None


def together(ledgers: Sequence[Sequence[Look]]) -> Iterator[tuple[Look, ...]]:
    """The verdicts that were shown of just these days together, the last first, each as every day's ledger holds it."""
    by_time = [{look.time: look for look in ledger} for ledger in ledgers[1:]]
    for look in reversed(ledgers[0]):
        found = (look, *(others[look.time] for others in by_time if look.time in others))
        if len(found) == len(ledgers) and all(_days(one) == len(ledgers) for one in found):
            yield found


def _days(look: Look) -> int:
    return look.seen.days if look.seen else 1


def _new_pulls(look: Look, now: Seen) -> bool:
    """Whether a pull counts that was not in the log then; by their number, where nothing tells which they were."""
    if look.seen is None:
        return len(now.counted) > look.pulls
    return not now.counted.keys() <= look.seen.logged


def turn_of(
    ledgers: Sequence[Sequence[Look]],
    seen: Sequence[Seen],
    questions: Sequence[Question],
    risk: float,
    *,
    final: bool,
    information: float = 1.0,
) -> Turn:
    """The verdict that is due.

    Parameters
    ----------
    ledgers : sequence of sequence of Look
        One a day, each oldest first.
    seen : sequence of Seen
        What is there now, one a day.
    questions : sequence of tuple of str
        With a counted pull.
    risk : float
        Of a first verdict: 1 - confidence.
    final : bool
        No early look.
    information : float
        Share of the planned information that is in, for an early look.

    Returns
    -------
    Turn
    """
    before = shown_before(ledgers, seen, final=final)
    levels, spends = {}, {}
    for question in questions:
        stage = stage_of(ledgers, question, risk)
        told = before[0].to(*question) if before else None
        if told is not None and told.number is not None and told.risk is not None:
            levels[question], spends[question] = Level(told.number, told.risk, stage.left), 0.0
            continue
        spend = stage.left if final else _price(stage, information)
        after = stage.verdict() if final else stage.look(spend)
        levels[question], spends[question] = Level(stage.number, spend, after.left), spend
    if before:
        final, information = before[0].final, before[0].information
        ledgers = [ledger[: list(ledger).index(look)] for look, ledger in zip(before, ledgers, strict=True)]
    looks, largest = early_looks(ledgers), max((level.risk for level in levels.values()), default=0.0)
    return Turn(
        levels,
        spends,
        final,
        (looks + 1, largest) if looks or not final else None,
        information,
        again=before is not None,
    )


def _price(stage: Stage, information: float) -> float:
    """What an early look takes at a share of the planned information, less what earlier ones took; 0: nothing."""
    level = level_of(stage.number, stage.whole)
    spend = increment(information, level - stage.left, level)
    return spend if spend > SPENT else 0.0
