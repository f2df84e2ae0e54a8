"""What the ledgers get of a judgement, and what somebody should agree to before it is shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from doe.analysis.judging.judgement import Gain, Judgement
from doe.analysis.judging.ledger.alterations import altered_since
from doe.analysis.judging.ledger.books import Books
from doe.analysis.judging.ledger.turns import Turn, together
from doe.analysis.trials.from_folders import DayFolder
from doe.analysis.trials.trial import Trial
from doe.day.log.looks import Altered, Look, Told
from doe.day.log.marks.closing import closing_of
from doe.day.log.stages import due_on
from doe.words.judgements import ledger_notes
from doe.words.judgements.judge_screen import as_shown

# Of the pulls that the plan counts: who ends a day with more of them open is asked.
_OPEN_SHARE = 0.2


def entries(judgement: Judgement, turn: Turn, trial: Trial, books: Books, *, closes: bool) -> tuple[Look, ...]:
    """What the ledger of each day gets: nothing where the same was shown before, and nothing was altered since.

    Parameters
    ----------
    judgement : Judgement
    turn : Turn
        By which it was made.
    trial : Trial
        Its pulls; `day` is the place of the day in the books.
    books : Books
    closes : bool
        No more pulls.

    Returns
    -------
    tuple of Look
        One a day, or none.
    """
    told = tuple(
        Told(
            gain.factor,
            gain.level,
            gain.verdict_number,
            gain.risk,
            _spent(gain, turn),
            gain.verdict,
            as_shown(gain, judgement),
        )
        for gain in judgement.changes
        if (gain.factor, gain.level) in turn.levels
    )
    before = next(together(books.ledgers), None)
    altered: list[Altered | None] = [None] * len(books.seen)
    if before:
        altered = [altered_since(look, now) for look, now in zip(before, books.seen, strict=True)]
    spent = max(one.spent for one in told)
    if turn.again and not (closes or spent or any(altered)):
        return ()
    time = dt.datetime.now().astimezone().isoformat(timespec="milliseconds")
    return tuple(
        Look(
            look=max((look.look for look in ledger), default=0) + 1,
            time=time,
            pulls=len(now.counted),
            installs=len(np.unique(trial.install[trial.day == number])),
            information=turn.information,
            risk_spent=spent,
            final=turn.final,
            closes=closes,
            told=told,
            seen=now,
            altered=changed or None,
        )
        for number, (ledger, now, changed) in enumerate(zip(books.everything, books.seen, altered, strict=True))
    )


def given_up(day: DayFolder, ledger: Sequence[Look]) -> str:
    """What somebody should know before a day is ended with much of its plan open; "" where hardly anything is.

    Parameters
    ----------
    day : DayFolder
    ledger : sequence of Look
        As it will be, with the verdict that ends the day.
    """
    plan = day.plan.runs if day.plan else ()
    done = {pull.run for pull in day.pulls if pull.void is None}
    left = [run for run in plan if run.counts and run.run not in done]
    counted = sum(run.counts for run in plan)
    if not counted or len(left) <= _OPEN_SHARE * counted:
        return ""
    made = [pull.minute for pull in day.pulls if pull.minute is not None]
    minutes = max(0.0, left[-1].minute - max(made, default=0.0))
    questions = [
        f"{factor.name} {change.level}"
        for factor, change in day.day.questions
        if any(run.configuration[factor.name] == change.level for run in left)
    ]
    due = [(name, stage.number, stage.left) for name, stage in due_on(day.day, [ledger])]
    return ledger_notes.given_up(sum(pull.counts for pull in day.pulls), len(left), minutes, questions, due)


def unmade(books: Books, turn: Turn, final: bool) -> str:
    """What somebody should know before a verdict is final by the clock alone: planned days have no pull; else "".

    Where somebody said that it shall be final nothing is asked.
    """
    if final or not turn.final or turn.again:
        return ""
    absent = [
        (day.name, day.day.day.date.isoformat())
        for day, ledger in zip(books.days, books.everything, strict=True)
        if day.plan is not None and not closing_of(ledger) and not any(pull.counts for pull in day.pulls)
    ]
    return ledger_notes.unmade(absent) if absent else ""


def _spent(gain: Gain, turn: Turn) -> float:
    """What a question spends: nothing where it has no interval."""
    return 0.0 if gain.risk is None else turn.spends[gain.factor, gain.level]


def asks(turn: Turn) -> str:
    """What somebody should agree to before it is shown."""
    later = [
        (" ".join(question), level.number, level.risk, level.next_risk)
        for question, level in turn.levels.items()
        if level.number and level.number > 1 and turn.spends[question] > 0
    ]
    if later:
        return ledger_notes.halves(later)
    advised_against = not (turn.final or turn.again) and turn.left < ledger_notes.LITTLE_LEFT
    return ledger_notes.little_left(turn.left) if advised_against else ""
