"""Several days planned together, in words: what they settle, a line a day, which question when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from doe.words.day.bring_words import money
from doe.words.numbers import several, times_in_hundred
from doe.words.phrases import WIDTH, listed
from doe.words.plans.planned import Plan, Practice
from doe.words.plans.wish_words import SEEN, Wish, wish_lines
from doe.words.screen import Grid, Part, Screen, filled, grid, laid_out_text
from doe.words.significance import settled_of
from doe.words.verdicts import NO_DIFFERENCE, REAL_GAIN, heading


class OnDays(Protocol):
    """On which days a question is asked."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def days(self) -> Sequence[int]: ...


class Settled(Protocol):
    """A question when some of the days are done."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def real(self) -> float | None: ...
    @property
    def none(self) -> float | None: ...


class Look(Protocol):
    """An early look."""

    @property
    def risk(self) -> float: ...
    @property
    def settled(self) -> float: ...
    @property
    def settled_in_the_end(self) -> float: ...


class AfterDay(Protocol):
    """When a day is done and others are to come."""

    @property
    def day(self) -> int: ...
    @property
    def settled(self) -> float: ...
    @property
    def questions(self) -> Sequence[Settled]: ...
    @property
    def look(self) -> Look | None: ...


class SeveralDays(Protocol):
    """Days with their plans."""

    @property
    def folders(self) -> Sequence[object]: ...
    @property
    def names(self) -> Sequence[str]: ...
    @property
    def plans(self) -> Sequence[Plan]: ...
    @property
    def seed(self) -> int: ...
    @property
    def typed(self) -> Sequence[str]: ...
    @property
    def after_each(self) -> Sequence[AfterDay]: ...
    @property
    def if_filled(self) -> float | None: ...
    @property
    def needless(self) -> Sequence[int]: ...
    @property
    def compared(self) -> Mapping[str, Practice]: ...
    @property
    def wishes(self) -> Sequence[Wish]: ...
    @property
    def wishes_cost(self) -> float | None: ...
    @property
    def expected_settled(self) -> float: ...
    @property
    def on_days(self) -> Sequence[OnDays]: ...


def promise_gone(replanned: Sequence[str], last: str) -> str:
    """What is left of several days' promise when the rest of some was planned anew; `last`: of them the latest plan."""
    return (
        f"{listed(replanned)}: the rest was planned anew, so what all days promised together no longer holds. Each"
        f" day's plan as it stands now; what still holds says that of {last}, which was planned last:"
    )


def rented_screen(days: SeveralDays) -> Screen:
    """What to do, the days, what they can show together; and what would change that."""
    last = len(days.plans) > 1
    lines = [
        *_needless(days),
        *[f"Your wish, {line.strip()}" for line in wish_lines(days.wishes, days.wishes_cost, rest=False)[1:]],
        *_as_well(days),
        *([f"{_shows_a_day(days)} Until the last is done every verdict is a look at the risk that they share."]
          if last else []),
    ]  # fmt: skip
    which = "each day's plan" if last else "the day's plan"
    first = f"Follow {which}, then type '{_judge(days)}': {_settled(days)}."
    return Screen(first, (_day_grid(days), _question_grid(days), *(["\n".join(lines)] if lines else [])))


def rented_text(days: SeveralDays, width: int = WIDTH) -> str:
    """All that is known, tables as wide as a line."""
    blocks: list[list[Part]] = [
        [
            f"{_settled(days)} (seed {days.seed})",
            *(filled(line, width) for line in (*_hours_left(days), *_needless(days))),
        ],
        ["The days", _day_grid(days)],
        ["What they can show together", _question_grid(days)],
        [*_after_lines(days, width)],
        _compared_lines(days),
        [filled(line, width) for line in wish_lines(days.wishes, days.wishes_cost, rest=False)],
        [*_how_to_go_on(days)],
    ]
    return laid_out_text(blocks, width)


def _judge(days: SeveralDays) -> str:
    return f"doe judge {' '.join(days.typed)}"


def _shows_a_day(days: SeveralDays) -> str:
    return f"'doe plan {days.typed[0]}' shows the order of a day."


def _done(count: int) -> str:
    return {1: "when it is done", 2: "when both days are done"}.get(count, f"when all {count} days are done")


def _settled(days: SeveralDays) -> str:
    questions = several(len(days.plans[-1].questions), "question")
    return f"{days.expected_settled:.2f} of {questions} settled {_done(len(days.plans))}"


def _hours_left(days: SeveralDays) -> list[str]:
    """What the hours that the plans leave would add."""
    if days.if_filled is None:
        return []
    more = max(days.if_filled - days.expected_settled, 0.0)
    adds = f"{more:.2f} of a question" if more >= SEEN else "nothing that can be seen"
    return [f"The hours that are left would add {adds} ('doe plan {' '.join(days.typed)} --fill' takes them)."]


def _needless(days: SeveralDays) -> list[str]:
    """Days that need not be rented."""
    names = [days.names[number - 1] for number in days.needless]
    if not names or len(days.typed) < 2:
        return []
    which = f"{names[0]} is" if len(names) == 1 else f"One of {listed(names)}, whichever, is"
    rest = "other day" if len(days.typed) == 2 else "other days"
    return [f"{which} hardly needed: the whole hours of the {rest} would settle almost as much without it."]


def _day_grid(days: SeveralDays) -> Grid:
    """A line a day."""
    rows = []
    for name, plan in zip(days.typed, days.plans, strict=True):
        counted = sum(run.count == "yes" for run in plan.runs)
        cost = money(plan.needs.cost.total, plan.needs.cost.currency) if plan.needs.cost else ""
        date = f"{plan.day.day.date:%d %B %Y}".lstrip("0")
        clock = (plan.runs[0].clock, plan.runs[-1].clock)
        rows.append((name, date, *clock, str(counted), str(plan.needs.changeovers), cost))
    head = ("day", "date", "first pull", "done", "pulls that count", "changeovers", "cost")
    shown = len(head) if any(row[-1] for row in rows) else len(head) - 1
    return grid(head[:shown], [row[:shown] for row in rows], right=(4, 5), wraps=(0, 1))


def _question_grid(days: SeveralDays) -> Grid:
    """What they can show together, a line a question."""
    rows = []
    for question, on in zip(days.plans[-1].questions, days.on_days, strict=True):
        where = ", ".join(days.names[number - 1] for number in on.days) or "left out"
        known = bool(on.days) and question.smallest_gain is not None
        found, told = (
            times_in_hundred(chance).replace(" times", "") if known and chance is not None else "-"
            for chance in (question.family_power, question.no_difference_power)
        )
        if on.days and question.smallest_gain is None and question.detectable_gain is not None:
            found = f"8 in 10 from {question.detectable_gain:.2g}"
        rows.append((f"{question.factor} {question.level}", where, found, told))
    head = ("question", "asked on", f"{REAL_GAIN} if worth having", f"{heading(NO_DIFFERENCE)} if worth nothing")
    return grid(head, rows, wraps=(0, 1))


def _after_lines(days: SeveralDays, width: int) -> list[str]:
    """What stands when each day but the last is done: by the last word if the rest falls away, and by a look."""
    lines = []
    for after in days.after_each:
        done, rest = days.typed[: after.day], days.names[after.day :]
        judge = f"doe judge {' '.join(done)}"
        settles = f"{after.settled:.2f} of {len(after.questions)}{_each(after.questions)}"
        lines += [
            filled(f"  {line}", width)
            for line in (
                f"{listed(rest)} fall{_s(rest)} away: '{judge} --final' settles {settles}",
                _look_text(after.look, judge, days.expected_settled),
            )
        ]
    return ["If it ends early, or somebody looks", *lines] if lines else []


def _s(names: Sequence[str]) -> str:
    return "s" if len(names) == 1 else ""


def _each(questions: Sequence[Settled]) -> str:
    """Of each question asked so far how often it is settled."""
    asked = [
        f"{one.factor} {one.level}: {times_in_hundred(settled_of(one.real, one.none)).replace(' times in 100', '')}"
        for one in questions
        if one.real is not None and one.none is not None
    ]
    return f" ({', '.join(asked)} in 100)" if asked else ""


def _look_text(look: Look | None, judge: str, settled: float) -> str:
    if look is None or look.settled < SEEN:
        return f"'{judge} --look' would have next to no risk to spend then: better wait"
    return (
        f"'{judge} --look' takes {100 * look.risk:.2g} % of risk and settles {look.settled:.2f}; in the end"
        f" {look.settled_in_the_end:.2f} are settled in place of {settled:.2f}"
    )


def _compared_lines(days: SeveralDays) -> list[Part]:
    if not days.compared:
        return []
    rows = [("these plans", f"{days.expected_settled:.2f}")]
    rows += [(_way(name, one), f"{one.expected_settled:.2f}") for name, one in days.compared.items()]
    head = ("in the same hours", f"questions settled of {len(days.plans[-1].questions)}")
    return [grid(head, rows, right=(1,), wraps=(0,)), *(f"  {line}" for line in _as_well(days))]


def _as_well(days: SeveralDays) -> list[str]:
    """Other ways that do as well: nobody should work to a plan for nothing."""
    as_well = [
        _way(name, one) for name, one in days.compared.items() if one.expected_settled >= days.expected_settled - SEEN
    ]
    return [f"Does as well: {'; '.join(as_well)}."] if as_well else []


def _way(name: str, practice: Practice) -> str:
    sets = f", sets of {practice.sets_of}" if practice.sets_of is not None else ""
    said = {
        "in turn": f"baseline and changes in turn on each day{sets}",
        "coming back": "each day planned when the one before was judged (up to twice the risk)",
    }
    return said.get(name, f"{name} on each day")


def _how_to_go_on(days: SeveralDays) -> list[str]:
    if len(days.folders) == 1:
        return []
    return [
        "The days share one risk: until the last is done every verdict is a look at it. When it is:",
        f"  {_judge(days)}",
        _shows_a_day(days),
    ]
