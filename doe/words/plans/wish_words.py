"""Wishes in words, and what each costs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.numbers import several
from doe.words.phrases import listed

SEEN = 0.005  # of a question; less is rounded to nothing
NO_REASON = 0.05  # of a question; less is no reason to work more, or to choose otherwise


class Wish(Protocol):
    """A wish and its price."""

    @property
    def text(self) -> str: ...
    @property
    def costs(self) -> float: ...


def one_at_a_time() -> str:
    """Never two changes on together."""
    return "one change at a time"


def max_changeovers(number: int) -> str:
    """Work stops so often at most."""
    return f"at most {several(number, 'changeover')}"


def min_pulls(number: int) -> str:
    """So many counted pulls in every set."""
    return f"at least {several(number, 'pull')} a set"


def first(part: str) -> str:
    """A part is done with before others begin."""
    return f"{part} first"


def last(part: str) -> str:
    """Others are done with before a part begins."""
    return f"{part} last"


def apart(one: str, other: str) -> str:
    """Two parts that are never on together."""
    return f"{one} and {other} never together"


def supply(factor: str, level: str, times: int) -> str:
    """Material for so many fittings."""
    return f"{factor} {level} fitted at most {several(times, 'time')}"


def alone(factor: str) -> str:
    """Nothing else on beside it."""
    return f"{factor} by itself (alone = true)"


def fresh_refit() -> str:
    """Back-to-back pairs."""
    return "every set of a pair fitted afresh (--fresh-refit)"


def costs_text(costs: float) -> str:
    """The price of a wish in questions."""
    return f"costs {costs:.2f} of a question" if costs >= SEEN else "costs nothing that can be seen"


def wish_lines(wishes: Sequence[Wish], together: float | None, *, rest: bool) -> list[str]:
    """The block of a plan, empty without wishes; `rest`: of the rest of a day."""
    if not wishes:
        return []
    lines = [f"  {wish.text}: {costs_text(wish.costs)}" for wish in wishes]
    if len(wishes) > 1 and together is not None:
        lines.append(f"  all of them: {costs_text(together)}")
    return ["Your wishes, from now on" if rest else "Your wishes", *lines]


def impossible(wishes: Sequence[str], culprits: Sequence[str]) -> str:
    """Wishes with which nothing can be answered; `culprits` are those without which something could be."""
    said = f"with {'this wish' if len(wishes) == 1 else 'these wishes'} nothing could be answered: {listed(wishes)}"
    if len(wishes) == 1:
        return f"{said}; without it something could be: leave it out, or wish for less"
    if not culprits:
        return f"{said}; without any of them something could be: leave out several, or wish for less"
    named = " or ".join(f"'{culprit}'" for culprit in culprits)
    return f"{said}; it would do to leave out {named}, or to wish for less"
