"""What was altered after a verdict was shown: it costs no level, but it stands in the ledger and in the report."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace

from doe.analysis.judging.ledger.turns import together
from doe.analysis.trials.from_folders import DayFolder
from doe.day.log.looks import Altered, Look, Seen
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.words.judgements import ledger_notes
from doe.words.notes import Note
from doe.words.numbers import with_unit
from doe.words.verdicts import HIGHER

_DIGITS = 8  # of a digest: two readings of one pull are told apart, nobody is kept out


def metric_of(day: DayFolder) -> str:
    """The metric of a day with its unit, by which its questions are told from those of another one."""
    return with_unit(day.day.metric.name, f"[{day.day.metric.unit}]")


def seen_on(day: DayFolder, counted: Sequence[Pull], days: int, method: str) -> Seen:
    """What a verdict on some of a day's pulls is made from.

    Parameters
    ----------
    day : DayFolder
    counted : sequence of Pull
    days : int
        Judged together.
    method : str
    """
    file = day.day
    told = [
        file.own_noise, file.analysis.model_dump(), _metric(file), file.baseline,
        [(f.name, f.refit, c.level, c.smallest_gain) for f, c in file.questions],
        file.cell.correct_to, method,
    ]  # fmt: skip
    digests = {pull.number: _digest(_said(pull, file.metric.name)) for pull in counted}
    return Seen(days, metric_of(day), frozenset(pull.number for pull in day.pulls), digests, _digest(told))


def _metric(file: DayFile) -> dict[str, object]:
    """[metric]; a later key enters only where it is set, so that no older ledger reads as altered."""
    return file.metric.model_dump(exclude={"better"} if file.metric.better == HIGHER else None)


def _said(pull: Pull, metric: str) -> list[object]:
    return [pull.values[metric], pull.configuration, pull.minute, pull.install]


def _digest(said: object) -> str:
    return hashlib.sha256(json.dumps(said, sort_keys=True, default=str).encode()).hexdigest()[:_DIGITS]


def altered_since(before: Look, now: Seen) -> Altered | None:
    """What is otherwise than when a verdict was shown, besides pulls that were added; None where nothing tells."""
    then = before.seen
    if then is None:
        return None
    both = then.counted.keys() & now.counted.keys()
    return Altered(
        before.time,
        voided=tuple(sorted((then.counted.keys() - now.counted.keys()) & now.logged)),
        gone=tuple(sorted(then.counted.keys() - now.logged)),
        counted=tuple(sorted((now.counted.keys() - then.counted.keys()) & then.logged)),
        mended=tuple(sorted(number for number in both if then.counted[number] != now.counted[number])),
        asked=then.asked != now.asked,
    )


def other_metrics(ledger: Sequence[Look], metric: str) -> Iterator[Note]:
    """Say which verdicts were shown before day.toml was made to be about another metric."""
    last = {look.seen.metric: look for look in ledger if look.seen and look.seen.metric != metric}
    for name, look in last.items():
        yield ledger_notes.metric_changed(name, metric, _verdicts(look))


def alteration_notes(names: Sequence[str], ledgers: Sequence[Sequence[Look]]) -> Iterator[Note]:
    """Say of each alteration that stands what the verdicts were before and after, oldest first.

    Parameters
    ----------
    names : sequence of str
        Of the days; "" where there is one.
    ledgers : sequence of sequence of Look
    """
    shown = list(together(ledgers))[::-1]
    for at, looks in enumerate(shown):
        for day, (name, look) in enumerate(zip(names, looks, strict=True)):
            what = _standing(look, [one[day] for one in shown[:at]], shown[-1][day])
            if what:
                before = next((old[0] for old in shown if old[0].time == what.since), None)
                whole = all(one.shown for old in (before, look) if old for one in old.told)
                yield ledger_notes.altered(
                    name, what, _verdicts(before, whole=whole), _verdicts(look, whole=whole), whole=whole
                )


def _standing(look: Look, earlier: Sequence[Look], last: Look) -> Altered | None:
    """What was altered before a verdict and isn't as it was before: what was taken back is as if it had never been."""
    what, now = look.altered, last.seen
    if not what or now is None:
        return what
    seen = [one.seen for one in earlier if one.seen]

    def stands(numbers: Sequence[int]) -> tuple[int, ...]:
        return tuple(n for n in numbers if all(_state(n, then) != _state(n, now) for then in seen if n in then.logged))

    return replace(
        what,
        voided=stands(what.voided),
        gone=stands(what.gone),
        counted=stands(what.counted),
        mended=stands(what.mended),
        asked=what.asked and all(then.asked != now.asked for then in seen),
    )


def _state(number: int, seen: Seen) -> str:
    """How a pull entered a verdict: as it said, void, or not in the log."""
    return seen.counted.get(number, "void" if number in seen.logged else "gone")


def _verdicts(look: Look | None, *, whole: bool = False) -> dict[str, str]:
    """The word on each question; `whole`: as it was shown."""
    return {f"{one.factor} {one.level}": one.shown if whole else one.verdict for one in look.told} if look else {}
