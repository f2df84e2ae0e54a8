"""What another rented day would buy, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.day.bring_words import money
from doe.words.numbers import several, times_in_hundred, two_figures
from doe.words.phrases import columns, listed, wrapped
from doe.words.plans.wish_words import SEEN


class Chance(Protocol):
    """How likely a question is settled."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def now(self) -> float: ...
    @property
    def then(self) -> float: ...


class AnotherDay(Protocol):
    """One day more."""

    @property
    def typed(self) -> Sequence[str]: ...
    @property
    def planned(self) -> bool: ...
    @property
    def begun(self) -> bool: ...
    @property
    def questions(self) -> Sequence[Chance]: ...
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
    @property
    def seed(self) -> int: ...
    @property
    def another(self) -> str: ...


def another_text(day: AnotherDay) -> str:
    """The whole text."""
    rows = [("settled in 100 campaigns", "as they are", "with another day")]
    rows += [(f"{one.factor} {one.level}", _hundred(one.now), _hundred(one.then)) for one in day.questions]
    return "\n".join([*_what_it_buys(day), "", *columns(rows), "", *wrapped(_how_to_have_it(day), 0, 0)])


def _hundred(share: float) -> str:
    return times_in_hundred(share).replace(" times in 100", "")


def _what_it_buys(day: AnotherDay) -> list[str]:
    count = several(len(day.questions), "question")
    kind = "as planned" if day.planned else f"planned for this answer, whole days, seed {day.seed}"
    verb = "settles" if len(day.typed) == 1 else "settle together"
    price = f", for {money(day.cost, day.currency)}" if day.cost is not None else ""
    hours, gained = two_figures(day.hours), day.more - day.settled
    buys = f"{gained:.2f} of a question more" if gained >= SEEN else "nothing that can be seen"
    return [
        *wrapped(f"{listed(day.typed)} ({kind}) {verb} {day.settled:.2f} of {count}.", 0, 0),
        *wrapped(f"Another day like {day.typed[-1]}, {hours} hours{price}, would settle {buys}.", 0, 0),
    ]


def _how_to_have_it(day: AnotherDay) -> str:
    names = " ".join(day.typed)
    if day.begun:
        return (
            "Pulls are logged, so that day would come after the verdict on these, for one with half of the risk:"
            f" settled by either is counted. 'doe plan {day.another} --after {day.typed[-1]}' starts and plans it then."
        )
    copy = f"copy {day.typed[-1]} to {day.another} with its day.toml alone and another date in it, then"
    if day.planned:
        return (
            f"The plans stay as they are. To have it, {copy}, before the first pull, 'doe plan {names} {day.another}"
            " --new' plans them all together: they share one risk."
        )
    return f"To have it, {copy} 'doe plan {names} {day.another}' plans them together: all share one risk."
