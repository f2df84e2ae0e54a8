"""Plans with less work, a line each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.numbers import several


class Easier(Protocol):
    """One plan."""

    @property
    def number(self) -> int: ...
    @property
    def expected_settled(self) -> float: ...
    @property
    def changeovers(self) -> int: ...
    @property
    def parts_moved(self) -> int: ...
    @property
    def pulls(self) -> int: ...
    @property
    def clock(self) -> str: ...


def ease_text(plans: Sequence[Easier], questions: int, seed: int) -> str:
    """A line a plan, and how to pick one."""
    lines = [f"Questions settled of {questions}, with less and less work"]
    lines += [
        f"  {one.number}  {one.expected_settled:.2f} with {several(one.changeovers, 'changeover')} and"
        f" {several(one.parts_moved, 'part')} moved, {several(one.pulls, 'pull')}, done at {one.clock}"
        for one in plans
    ]
    if len(plans) == 1:
        lines.append("With fewer changeovers nothing could be settled, or as much as with these")
    return "\n".join(
        [*lines, f"'--ease {plans[-1].number} --seed {seed}' in place of '--ease' draws the last one and writes it"]
    )


def no_such_row(number: int, rows: int) -> str:
    """A number that none of the lines has."""
    return f"--ease {number}: there are {several(rows, 'line')} only; '--ease' shows them"
