"""The day as it happened: plans, looks, voids and the end, in the order of the clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from doe.day.schema import DayFile
from doe.report.sections.day_parts import DayParts, PlanStage
from doe.words.fitted import changed_text
from doe.words.report import story_words as words


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happened."""

    when: str  #: the time of day, with the date where it is another; "" where nobody noted it
    what: str


def story(parts: DayParts, *, reasons: bool = True) -> list[Happening]:
    """What happened, in order; with `reasons` what a tester typed for each void."""
    plans = list(_plans(parts))
    told = [*plans[1:], *_sheets(parts), *_pulls(parts, reasons=reasons), *_looks(parts), *_fixes(parts)]
    told.sort(key=lambda one: one[0] or dt.datetime.min)
    whole = [*plans[:1], *told]  # what was planned stands first, also where a clock was wrong
    return [Happening(_clock(parts.day, moment), what) for moment, what in whole]


Told = tuple[dt.datetime | None, str]


def _plans(parts: DayParts) -> Iterator[Told]:
    before: PlanStage | None = None
    for stage in parts.stages:
        at = _moment(stage.at) if stage.at else _replaced_at(parts.day, stage)
        document = stage.document
        if stage.by_hand:
            yield at, words.edited()
        elif stage.again:
            yield at, words.taken_back(stage.counted)
        elif before is None and "replaced" not in document:
            yield at, words.planned(stage.counted)
            if stage.dropped:
                yield at, words.left_out(stage.dropped)
        elif before is not None:
            yield (
                at,
                words.replanned(
                    stage.counted, (document.get("replaced") or {}).get("taken"), as_drawn=bool(document.get("orders"))
                ),
            )
            if new := sorted(stage.added - before.added):
                yield at, words.joined([f"{factor} {level}" for factor, level in new])
            if gone := sorted(before.asked - stage.asked) if stage.asked else []:
                yield at, words.dropped([f"{factor} {level}" for factor, level in gone])
            if over := sorted((before.asked & before.fitted) - stage.fitted - set(gone)):
                yield at, words.no_more_pulls([f"{factor} {level}" for factor, level in over])
        before = stage


def _replaced_at(day: DayFile, stage: PlanStage) -> dt.datetime | None:
    """The moment from which a plan for the rest of a day was made, where the journal has none."""
    minute = (stage.document.get("replaced") or {}).get("from_minute")
    return day.begin + dt.timedelta(minutes=minute) if isinstance(minute, int | float) else None


def _sheets(parts: DayParts) -> Iterator[Told]:
    for at, name in parts.sheets:
        yield _moment(at), words.sheet_printed(name)


def _pulls(parts: DayParts, *, reasons: bool) -> Iterator[Told]:
    timed = [pull for pull in parts.pulls if pull.time is not None]
    ends = timed[:1] + timed[-1:] if len(timed) > 1 else timed
    if ends:
        yield _plain(ends[0].time), words.first_pull(ends[0].number)
    for pull in parts.pulls:
        if pull.void is not None:
            fitted = changed_text(pull.configuration, parts.day.baseline)
            yield _plain(pull.time), words.void(pull.number, fitted, pull.void if reasons else None)
    if len(ends) > 1:
        finish = parts.plan.finish_minute(parts.day) if parts.plan else parts.day.length_minutes
        late = (ends[1].minute or 0.0) - finish
        yield _plain(ends[1].time), words.last_pull(ends[1].number, late)


def _looks(parts: DayParts) -> Iterator[Told]:
    for look in parts.looks:
        told = [f"{one.factor} {one.level} {one.verdict}" for one in look.told if one.verdict]
        if look.final:
            yield _moment(look.time), words.shown(look.pulls, told, closes=look.closes)
            if look.reopened:
                yield _moment(look.reopened), words.reopened()
        else:
            yield _moment(look.time), words.looked(look.look, look.pulls, look.risk_spent, told)


def _fixes(parts: DayParts) -> Iterator[Told]:
    for fix in parts.fixes:
        yield _moment(fix.at), words.fixed(fix.what, undone=bool(fix.undoes))


def _moment(text: str) -> dt.datetime | None:
    try:
        return _plain(dt.datetime.fromisoformat(text))
    except ValueError:
        return None


def _plain(moment: dt.datetime | None) -> dt.datetime | None:
    """Without its offset: the cell's clock."""
    return moment.replace(tzinfo=None) if moment else None


def _clock(day: DayFile, moment: dt.datetime | None) -> str:
    if moment is None:
        return ""
    return f"{moment:%H:%M}" if moment.date() == day.day.date else f"{moment:%d %b %Y, %H:%M}".lstrip("0")


def summary_of(parts: DayParts, made_of_plan: int, asked: int, extra: int) -> str:
    """How much of what was planned was made, and whether its order was drawn."""
    first: Sequence[PlanStage] = parts.stages[:1]
    drawn = [words.drawn(stage.document.get("seed"), stage.document.get("not_randomised")) for stage in first]
    if len(parts.stages) > 1:
        drawn = [line.replace("The order", "The first plan's order", 1) for line in drawn]
    return " ".join([words.summary(made_of_plan, asked, len(parts.stages), extra), *drawn])
