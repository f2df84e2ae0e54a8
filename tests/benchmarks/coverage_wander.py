"""The designs of the coverage study on engines that wander: judged with the insurance, and with no wander vouched for.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/coverage_wander.py --days 2000 --write docs/method-measured.md

Install SD half a pull SD, without a study and with an honest one. Nothing works. The wander has a time constant of 60
minutes and starts anew each day.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from coverage_designs import DESIGNS
from coverage_study import simulate, study_of
from table_in_docs import print_table

from doe.analysis.judging.many_outcomes import design_trial, judge_outcomes
from doe.stats.wander import wander_factor

WANDERS = (0.0, 0.25, 0.5, 1.0)  # pull SDs
INSTALL_SD = 0.5  # pull SDs
LEAST = 93.5  #: single coverage with the insurance, percent, at a wander of half a pull SD or less
BEGIN, END = "<!-- coverage with wander: begin -->", "<!-- coverage with wander: end -->"


def shares(name: str, study: str, wander: float, days: int, seed: int, *, insured: bool) -> tuple[float, float]:
    """Worst coverage of a single interval, and days with any family interval off 0, in percent."""
    design = DESIGNS[name]
    rng = np.random.default_rng([seed, list(DESIGNS).index(name)])
    trial = design_trial(
        **{key: design.get(key) for key in ("change", "baseline", "install", "minute", "day", "drift")}
    )
    y = simulate(design, INSTALL_SD, days, rng)
    factor = wander_factor(trial.minute, trial.day, (60.0,))
    y += wander * rng.standard_normal((days, factor.shape[1])) @ factor.T
    known = study_of(study, INSTALL_SD, days, rng)
    if insured:
        del known["wander_sd"]
    found = judge_outcomes(trial, y, known)
    shown = [i for i, route in enumerate(found.routes) if route != "none"]
    held = ((found.low <= 0) & (found.high >= 0))[:, shown].mean(axis=0)
    off = ((found.family_low > 0) | (found.family_high < 0))[:, shown].any(axis=1)
    return 100 * float(held.min(initial=1.0)), 100 * float(off.mean())


def table(days: int, seed: int) -> Iterator[str]:
    """The lines of the table, as they are worked out."""
    yield f"{days} days a cell, seed {seed}; made by `tests/benchmarks/coverage_wander.py`. Worst single coverage,"
    yield "and in brackets the days with any family interval off 0, in percent."
    yield ""
    yield f"| design | study | judge | {' | '.join(f'wander {w:g}' for w in WANDERS)} |"
    yield "|" + " --- |" * (len(WANDERS) + 3)
    for name in DESIGNS:
        if DESIGNS[name].get("minute") is None:
            continue
        for study in ("none", "exact"):
            for insured in (True, False):
                cells = []
                for wander in WANDERS:
                    single, off = shares(name, study, wander, days, seed, insured=insured)
                    short = " **short**" * (insured and wander <= 0.5 and single < LEAST)
                    cells.append(f"{single:.1f} ({off:.1f}){short}")
                yield f"| {name} | {study} | {'insured' if insured else 'vouched'} | {' | '.join(cells)} |"


def main() -> None:
    """Print the table, and write it."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--days", type=int, default=2000)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--write", type=Path, help="write the table between the marks of this file")
    given = ask.parse_args()
    print_table(table(given.days, given.seed), given.write, BEGIN, END)


if __name__ == "__main__":
    main()
