"""What follows from the order of the pulls: install numbers left blank, fresh refits, minutes of the day."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from doe.day.fittings import refitted_between
from doe.day.log.making import place_of
from doe.day.records import Draft, Event, Run
from doe.day.schema import Configuration, DayFile
from doe.words.day import log_notes
from doe.words.notes import Note


class Fitted(NamedTuple):
    """The install of one pull, and the factor whose same part was fitted afresh before it."""

    install: int
    fresh: str | None


def again_text(number: int) -> str:
    """Why a pull is void that was logged again."""
    return f"logged again as pull {number}"


def redos_of(events: Sequence[Event], numbers: Collection[int], voids: Mapping[int, str]) -> dict[int, int]:
    """Pull -> the earlier one in whose place it was logged.

    Lines of version 1, and a table without its journal, say it by the reason of the void alone, letter by letter.
    """
    said = {event.row["pull"]: event.redo for event in events if event.event == "pull" and event.redo}
    redos = {int(number): earlier for number, earlier in said.items()}
    told = {again_text(number): number for number in numbers}
    witnessed = {event.row["pull"] for event in events if event.event == "void" and event.witnessed}
    for earlier, why in voids.items():
        later = told.get(why)
        if later is not None and later > earlier and str(earlier) not in witnessed:
            redos.setdefault(later, earlier)
    return redos


def redone(drafts: Sequence[Draft], voids: Mapping[int, str], redos: Mapping[int, int]) -> set[int]:
    """Pulls logged again in the place of a voided one: their event says it, or they carry its time."""
    voided = {draft.moment for draft in drafts if draft.number in voids and draft.moment}
    named = {later for later, earlier in redos.items() if earlier in voids}
    return named | {draft.number for draft in drafts if draft.number not in voids and draft.moment in voided}


def planned_fresh(day: DayFile, runs: Mapping[int, Run]) -> dict[int, str]:
    """Planned install -> the factor whose same part the plan orders to be fitted afresh at its beginning."""
    return {
        after.install: name
        for before, after in pairwise(runs[number] for number in sorted(runs))
        for name in refitted_between(day, before, after)
        if before.configuration[name] == after.configuration[name]
    }


class Installs:
    """Gives each pull its install, in the order of the rows, one that was entered late where it was made.

    A number in the file stands. A blank one goes up by one where a refit part changed, where a fresh refit was
    recorded, or at the first pull of a planned install that begins with a fresh refit.
    """

    def __init__(
        self,
        day: DayFile,
        runs: Mapping[int, Run],
        recorded: Mapping[int, str],
        again: set[int],
        late: Mapping[int, int],
    ) -> None:
        self.names = [factor.name for factor in day.refit_factors]
        self.runs, self.recorded, self.again, self.late = runs, recorded, again, late
        self.ordered = planned_fresh(day, runs)
        self.notes: list[Note] = []
        self._begun: set[int] = set()
        self._latest: tuple[int, Configuration] | None = None

    def of_all(
        self, drafts: Sequence[Draft], moments: Sequence[dt.datetime | None], notes: list[Note]
    ) -> dict[int, Fitted]:
        """The install of every row, by pull number; what is odd goes to `notes`."""
        at = {draft.number: moment for draft, moment in zip(drafts, moments, strict=True)}
        order = sorted(drafts, key=lambda draft: place_of(draft.number, at, self.late)) if self.late else drafts
        found = {draft.number: self._of(draft) for draft in order}
        notes += self.notes
        return found

    def _of(self, draft: Draft) -> Fitted:
        """The install of the next row."""
        wanted = self.recorded.get(draft.number) or self._order(draft)
        if self._latest is None:
            fitted, changed = Fitted(draft.install or 1, self.recorded.get(draft.number)), []
        else:
            changed = [name for name in self.names if self._latest[1][name] != draft.configuration[name]]
            fitted = self._next(draft, changed, wanted)
        if draft.number not in self.late and (self._latest is None or fitted.install >= self._latest[0]):
            self._latest = (fitted.install, draft.configuration)
        return fitted

    def _order(self, draft: Draft) -> str | None:
        """The fresh refit that the plan orders before this pull: at the first pull of its planned install only."""
        planned = self.runs.get(draft.run) if draft.run else None
        if planned is None or planned.install in self._begun:
            return None
        self._begun.add(planned.install)
        return self.ordered.get(planned.install)

    def _next(self, draft: Draft, changed: list[str], wanted: str | None) -> Fitted:
        """The install of a row that has others before it."""
        before = self._latest[0] if self._latest else 0
        install = draft.install or before + bool(changed or wanted)
        if install < before and draft.number not in self.again:
            self.notes.append(log_notes.install_goes_down(draft.number, before, install))
        if install == before and changed:
            self.notes.append(log_notes.changed_in_one_install(draft.number, changed, install))
        if (
            install <= before
        ):  # in the place of another pull: what is said of its fitting is kept for the day's first one
            return Fitted(install, self.recorded.get(draft.number) if draft.number in self.again else None)
        return (
            Fitted(install, wanted if wanted not in changed else None)
            if wanted or changed
            else self._unnamed(draft, install)
        )

    def _unnamed(self, draft: Draft, install: int) -> Fitted:
        """A new install for which no part was changed and none named."""
        if len(self.names) == 1:
            return Fitted(install, self.names[0])
        if self.names:
            self.notes.append(log_notes.install_without_change(draft.number, install, self.names[0]))
        return Fitted(install, None)


def local_moments(drafts: Sequence[Draft], notes: list[Note]) -> list[dt.datetime | None]:
    """Moments in the cell's local time, without offset; a mixture of offsets is brought to the commonest."""
    offsets = Counter(draft.moment.utcoffset() for draft in drafts if draft.moment and draft.moment.tzinfo)
    if not offsets:
        return [draft.moment for draft in drafts]
    zone = dt.timezone(offsets.most_common(1)[0][0] or dt.timedelta())
    if len(offsets) == 1:
        return [draft.moment and draft.moment.replace(tzinfo=None) for draft in drafts]
    notes.append(log_notes.mixed_offsets(len(offsets), zone))
    return [
        draft.moment.astimezone(zone).replace(tzinfo=None) if draft.moment and draft.moment.tzinfo else draft.moment
        for draft in drafts
    ]


def minutes_of(
    day: DayFile,
    drafts: Sequence[Draft],
    moments: Sequence[dt.datetime | None],
    runs: Mapping[int, Run],
    notes: list[Note],
) -> list[float | None]:
    """The end of each pull in minutes from the day's start.

    Without any time the planned minutes are taken. A pull without a time among others that have one is put evenly
    between its neighbours.
    """
    if not any(moments):
        return _planned_minutes(drafts, runs, notes)
    minutes = [day.minute_at(moment) if moment else None for moment in moments]
    blank = [f"pull {draft.number}" for draft, minute in zip(drafts, minutes, strict=True) if minute is None]
    if blank:
        notes.append(log_notes.pulls_without_time(blank))
    return list(_filled(minutes, day.cell.pull_minutes))


def _planned_minutes(drafts: Sequence[Draft], runs: Mapping[int, Run], notes: list[Note]) -> list[float | None]:
    """The minutes that the plan gives."""
    planned = [runs.get(draft.run) if draft.run else None for draft in drafts]
    if drafts:
        notes.append(log_notes.no_pull_has_a_time(planned=any(planned)))
    return [run.minute if run else None for run in planned]


def _filled(minutes: Sequence[float | None], pull_minutes: float) -> Iterator[float]:
    """Blanks filled in evenly between neighbours, a pull's length apart before the first and after the last."""
    known = [(at, minute) for at, minute in enumerate(minutes) if minute is not None]
    (first, early), (last, late) = known[0], known[-1]
    yield from (early - pull_minutes * (first - at) for at in range(first))
    for (left, low), (right, high) in pairwise(known):
        yield from (low + (high - low) * (at - left) / (right - left) for at in range(left, right))
    yield from (late + pull_minutes * (at - last) for at in range(last, len(minutes)))


def time_notes(
    day: DayFile, drafts: Sequence[Draft], moments: Sequence[dt.datetime | None], void: Collection[int], again: set[int]
) -> Iterator[Note]:
    """Equal times, times out of order, times before the day or on another date."""
    live = [
        (draft.number, moment)
        for draft, moment in zip(drafts, moments, strict=True)
        if moment and draft.number not in void
    ]
    at = defaultdict(list)
    for number, moment in live:
        at[moment].append(str(number))
    if equal := [f"pulls {' and '.join(same)} at {moment:%H:%M:%S}" for moment, same in at.items() if len(same) > 1]:
        yield log_notes.equal_times(equal)
    row = [(number, moment) for number, moment in live if number not in again]
    if early := [
        f"pull {later} before pull {sooner}" for (sooner, first), (later, second) in pairwise(row) if second < first
    ]:
        yield log_notes.times_out_of_order(early)
    dates = {moment.date() for _, moment in live}
    off = {date for date in dates if not day.is_on(dt.datetime.combine(date, dt.time()))}
    if strange := [f"pull {number} on {moment:%Y-%m-%d}" for number, moment in live if moment.date() in off]:
        yield log_notes.other_date(day.day.date, strange)
    begin = day.begin
    if soon := [
        f"pull {number} at {moment:%H:%M}"
        for number, moment in live
        if moment.date() == begin.date() and moment.replace(tzinfo=None) < begin
    ]:
        yield log_notes.before_start(day.day.start, soon)
