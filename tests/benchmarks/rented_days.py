"""What a second rented day brings, planned with the first and coming back unplanned; and what it costs to look early.

    python tests/benchmarks/rented_days.py [--effort quick]

prints the table of docs/planning-details.md. The days are those of tests/planning/days, invented.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from doe.day.files.dayfile import read_day_file
from doe.planning.drawn.what_if import what_if
from doe.planning.rented.exchange_days import OneDay, others, plan_together
from doe.planning.search.exchange import search
from doe.planning.search.searches import EVALUATIONS

DAYS = Path(__file__).parents[1] / "planning" / "days"
SHARE = 0.6  # of their hours, breaks left out: on the whole days hardly anything is left for a second one
NAMES = ("alone", "four_quick", "guesses", "quick_refit", "three_refits", "two_by_two")


def come_back_unplanned(first: OneDay, effort: str, seed: int) -> float:
    """Settled by both days, the second planned when the first had its verdict: its own has half the risk."""
    both = [first, OneDay(first.arrays, None)]
    history = others(both, 1)
    assert history is not None
    halved = replace(history, stages=tuple(stage.verdict() for stage in history.stages))
    found = search(
        replace(first.arrays, history=halved),
        mixed=first.arrays.most_away > 1,
        evaluations=EVALUATIONS[effort],
        random=np.random.default_rng(seed),
    )
    return found.worth if found else 0.0


def row(name: str, effort: str, seeds: Sequence[int]) -> str:
    """One day: the questions, settled by it, by two planned together, and by two unplanned; medians."""
    whole = read_day_file(DAYS / f"{name}.toml")
    whole = whole.model_copy(update={"day": whole.day.model_copy(update={"breaks": ()})})
    day = what_if(whole, minutes=round(SHARE * whole.length_minutes))
    found = []
    for seed in seeds:
        one = plan_together([day], seed=seed, effort=effort)
        two = plan_together([day, day], seed=seed, effort=effort)
        found.append((one.settled, two.settled, come_back_unplanned(one.days[0], effort, seed)))
    one_day, together, unplanned = np.median(found, axis=0)
    return f"| {name} | {len(day.questions)} | {one_day:.2f} | {together:.2f} | {unplanned:.2f} |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--effort", default="quick")
    parser.add_argument("--seeds", type=int, default=3)
    given = parser.parse_args()
    print("| day | questions | one day | two planned together | coming back unplanned |")
    print("| --- | --- | --- | --- | --- |")
    for name in NAMES:
        print(row(name, given.effort, range(given.seeds)), flush=True)


if __name__ == "__main__":
    main()
