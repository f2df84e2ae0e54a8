"""The ledgers of some days that are judged together, and what their verdict would be made from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from doe.analysis.judging.ledger.alterations import alteration_notes, metric_of, other_metrics, seen_on
from doe.analysis.trials.from_folders import CountedPulls, DayFolder
from doe.day.log.looks import Look, Seen, read_looks
from doe.day.log.marks.closing import closing_of
from doe.day.records import Pull
from doe.words.judgements import ledger_notes
from doe.words.notes import Note


@dataclass(frozen=True, slots=True)
class Books:
    """One entry a day, in the order of the days.

    Attributes
    ----------
    days : tuple of DayFolder
    everything : tuple of list of Look
        Each ledger as it is on disk.
    ledgers : tuple of list of Look
        Of it the verdicts in the days' metric; what a table alone tells of is taken as of any.
    seen : tuple of Seen
    """

    days: tuple[DayFolder, ...]
    everything: tuple[list[Look], ...]
    ledgers: tuple[list[Look], ...]
    seen: tuple[Seen, ...]

    @classmethod
    def of(cls, days: Sequence[DayFolder], method: str) -> Books:
        """Read them."""
        everything = tuple(read_looks(day.folder) for day in days)
        seen = tuple(
            seen_on(day, counted_on(day, day.day.metric.name, ledger), len(days), method)
            for day, ledger in zip(days, everything, strict=True)
        )
        ledgers = tuple(
            [look for look in ledger if _in(look, now)] for ledger, now in zip(everything, seen, strict=True)
        )
        return cls(tuple(days), everything, ledgers, seen)

    @property
    def over(self) -> bool:
        """Whether no day has pulls to come: by its plan, its finish, or because somebody closed it."""
        return all(closing_of(own) or day.finished() for day, own in zip(self.days, self.everything, strict=True))

    @property
    def closed(self) -> bool:
        """Whether each day was closed."""
        return all(closing_of(own) for own in self.everything)

    def notes(self, new: Sequence[Look]) -> Iterator[Note]:
        """What was altered after verdicts that were shown; `new`, one a day or none, is being shown now."""
        metric = metric_of(self.days[0])
        names = [day.name if len(self.days) > 1 else "" for day in self.days]
        for ledger in self.everything:
            yield from other_metrics(ledger, metric)
        for day, ledger in zip(self.days, self.everything, strict=True):
            for look in ledger:
                if look.followed_by:
                    yield ledger_notes.reopening_missing(day.name, look.look, look.followed_by)
        longer = [[*own, look] for own, look in zip(self.ledgers, new, strict=True)] if new else self.ledgers
        yield from alteration_notes(names, longer)


def counted_on(day: DayFolder, metric: str, ledger: Sequence[Look]) -> tuple[Pull, ...]:
    """The counted pulls of a day; of one that was closed, those that were in its log by then."""
    counted = CountedPulls.of(day, metric).counted
    closing = closing_of(ledger)
    if closing is None:
        return counted
    if closing.seen is None:
        return counted[: closing.pulls]
    return tuple(pull for pull in counted if pull.number in closing.seen.logged)


def _in(look: Look, now: Seen) -> bool:
    """Whether a verdict was on what is asked now: the same metric, or the same readings under another name or unit."""
    if look.seen is None or look.seen.metric == now.metric:
        return True
    both = look.seen.counted.keys() & now.counted.keys()
    same = sum(look.seen.counted[number] == now.counted[number] for number in both)
    return 2 * same > len(both)
