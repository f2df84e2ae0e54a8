"""What people read first of a claim: whether it stands out of the scatter, and of which."""

from __future__ import annotations

from typing import Literal, get_args

from doe.words.verdicts import NO_DIFFERENCE, Verdict

_Own = Literal[
    "its figures contradict each other",
    "no verdict from what is printed",
    "within noise",
    "depends on the scatter",
    "more than pull-to-pull scatter; part or drift, the test can't tell",
    "more than its noise",
    "more than noise at every usual scatter",
]
Headline = _Own | Verdict
CONTRADICTS, NO_VERDICT, WITHIN, DEPENDS, PART_OR_DRIFT, MORE, MORE_AT_EVERY = get_args(_Own)
NO_MATTER = NO_DIFFERENCE
HEADLINES: tuple[Headline, ...] = (
    CONTRADICTS, NO_VERDICT, WITHIN, NO_MATTER, DEPENDS, PART_OR_DRIFT, MORE, MORE_AT_EVERY,
)  # fmt: skip
