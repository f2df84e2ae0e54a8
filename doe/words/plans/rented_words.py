"""Several days planned together, in words: what they settle, a line a day, which question when."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.day.bring_words import money
from doe.words.numbers import several, times_in_hundred, two_figures
from doe.words.phrases import columns
from doe.words.plans.planned import Plan
from doe.words.plans.wish_words import SEEN
from doe.words.verdicts import NO_DIFFERENCE, REAL_GAIN


class OnDays(Protocol):
    """On which days a question is asked."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def days(self) -> Sequence[int]: ...


class AnotherDay(Protocol):
    """One day more."""

    @property
    def settled(self) -> float: ...
    @property
    def more(self) -> float: ...
    @property
    def hours(self) -> float: ...
    @property
    def cost(self) -> float | None: ...
    @property
    def currency(self) -> str: ...


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
    def another(self) -> AnotherDay | None: ...
    @property
    def expected_settled(self) -> float: ...
    @property
    def on_days(self) -> Sequence[OnDays]: ...


def rented_text(days: SeveralDays) -> str:
    """The whole text."""
    blocks = [_heading(days), _day_lines(days), _question_lines(days), _another_lines(days), _how_to_go_on(days)]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _heading(days: SeveralDays) -> list[str]:
    count, questions = len(days.plans), len(days.plans[-1].questions)
    done = {1: "when it is done", 2: "when both days are done"}.get(count, f"when all {count} days are done")
    return [f"{days.expected_settled:.2f} of {several(questions, 'question')} settled {done} (seed {days.seed})"]


def _day_lines(days: SeveralDays) -> list[str]:
    rows = []
    for folder, plan in zip(days.folders, days.plans, strict=True):
        counted = sum(run.count == "yes" for run in plan.runs)
        rows.append(
            (
                str(folder),
                f"{plan.day.day.date:%d %B %Y}".lstrip("0"),
                f"{several(counted, 'pull')} that count",
                several(plan.needs.changeovers, "changeover"),
                f"begins {plan.runs[0].clock}",
                money(plan.needs.cost.total, plan.needs.cost.currency) if plan.needs.cost else "",
            )
        )
    return ["The days", *columns(rows)]


def _question_lines(days: SeveralDays) -> list[str]:
    rows = [("", "asked on", f"'{REAL_GAIN}' if worth having", f"'{NO_DIFFERENCE}' if worth nothing")]
    for question, on in zip(days.plans[-1].questions, days.on_days, strict=True):
        where = ", ".join(days.names[number - 1] for number in on.days) or "left out"
        known = bool(on.days) and question.smallest_gain is not None
        found, told = (
            times_in_hundred(chance) if known and chance is not None else ""
            for chance in (question.family_power, question.no_difference_power)
        )
        rows.append((f"{question.factor} {question.level}", where, found, told))
    return ["What they can show together", *columns(rows)]


def _another_lines(days: SeveralDays) -> list[str]:
    more = days.another
    if more is None:
        return []
    gained = more.more - more.settled
    buys = f"{gained:.2f} of a question more" if gained >= SEEN else "nothing that can be seen"
    price = f" for {money(more.cost, more.currency)}" if more.cost is not None else ""
    return [f"Another day like the last, {two_figures(more.hours)} hours{price}, would settle {buys}"]


def _how_to_go_on(days: SeveralDays) -> list[str]:
    if len(days.folders) == 1:
        return []
    names = " ".join(str(folder) for folder in days.folders)
    return [
        f"The days share one risk: until the last is done every verdict is a look at it. When it is: doe judge {names}",
        f"'doe plan {days.folders[0]}' shows the order of a day",
    ]
