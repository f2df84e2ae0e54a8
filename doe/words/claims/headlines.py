"""What people read first of a claim: whether it stands out of the scatter, and of which."""

from __future__ import annotations

from typing import Literal, get_args

Headline = Literal[
    "its figures contradict each other",
    "no verdict from what is printed",
    "within noise",
    "no difference that matters",
    "depends on the scatter",
    "more than pull-to-pull scatter; part or drift, the test can't tell",
    "more than its noise",
    "more than noise at every usual scatter",
]
CONTRADICTS, NO_VERDICT, WITHIN, NO_MATTER, DEPENDS, PART_OR_DRIFT, MORE, MORE_AT_EVERY = get_args(Headline)
HEADLINES: tuple[Headline, ...] = get_args(Headline)
