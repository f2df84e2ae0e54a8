"""What a second rented day brings: planned with the first, by the careful tester on both, and coming back unplanned.

    OPENBLAS_NUM_THREADS=1 nice -n 19 python tests/benchmarks/rented_days.py --write docs/planning-details.md

The days are those of tests/planning/days, invented. Whole hours, before an order is drawn.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from table_in_docs import print_table

from doe.day.files.dayfile import read_day_file
from doe.planning.drawn.what_if import what_if
from doe.planning.rented.coming_back import coming_back
from doe.planning.rented.exchange_days import plan_together
from doe.planning.rented.rivals import careful_tester
from doe.planning.search.searches import EVALUATIONS

BEGIN, END = "<!-- rented: begin -->", "<!-- rented: end -->"
DAYS = Path(__file__).parents[1] / "planning" / "days"
SHARE = 0.6  # of their hours, breaks left out: on the whole days hardly anything is left for a second one
NAMES = ("alone", "four_quick", "guesses", "quick_refit", "three_refits", "two_by_two")


def row(name: str, effort: str, seeds: Sequence[int]) -> str:
    """One day: the questions, settled by it, and by two of them in three ways; medians."""
    whole = read_day_file(DAYS / f"{name}.toml")
    whole = whole.model_copy(update={"day": whole.day.model_copy(update={"breaks": ()})})
    day = what_if(whole, minutes=round(SHARE * whole.length_minutes))
    found = []
    for seed in seeds:
        one = plan_together([day], seed=seed, effort=effort)
        two = plan_together([day, day], seed=seed, effort=effort)
        back = coming_back(two.days, seed=seed, evaluations=EVALUATIONS[effort])
        found.append((one.settled, two.settled, back.expected_settled))
    careful = careful_tester([day.arrays for day in two.days])
    in_turn = careful.settled if careful else 0.0
    one_day, together, unplanned = np.median(found, axis=0)
    return f"| {name} | {len(day.questions)} | {one_day:.2f} | {together:.2f} | {in_turn:.2f} | {unplanned:.2f} |"


def table(effort: str, seeds: int) -> Iterator[str]:
    """The lines, as they are worked out."""
    over = f"medians of {seeds} seeds" if seeds > 1 else "one seed"
    yield f"Effort {effort}, {over}; made by `tests/benchmarks/rented_days.py`."
    yield ""
    heads = ("day", "questions", "one day", "two planned together", "in turn on both", "coming back unplanned")
    yield f"| {' | '.join(heads)} |"
    yield "|" + " --- |" * len(heads)
    for name in NAMES:
        yield row(name, effort, range(seeds))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--effort", default="quick")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--write", type=Path, help="a document with the markers of this table")
    given = parser.parse_args()
    print_table(table(given.effort, given.seeds), given.write, BEGIN, END)


if __name__ == "__main__":
    main()
