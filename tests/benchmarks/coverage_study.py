"""Coverage study: does every interval cover what it says, and how often is each verdict false?

    python tests/benchmarks/coverage_study.py --days 10000 --write docs/method-measured.md

True gains are 0 or exactly the smallest gain (estimates shift with the truth: one set of simulated days serves both).
"""

from __future__ import annotations

import argparse
import itertools
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from coverage_designs import DESIGNS

from doe.analysis.judging.many_outcomes import Judgements, design_trial, judge_outcomes
from doe.stats.mixed_model import indicator

INSTALL_SDS = (0.0, 0.3, 0.5, 1.0, 2.0)  # in pull SDs
STUDIES = ("none", "exact", "half", "double")
STUDY_DF = {"pull_df": 12.0, "install_df": 6.0}
SMALLEST_IN_SES = 3.0  # smallest gain, in standard errors of an oracle who knows the variances
BEGIN, END = "<!-- coverage: begin -->", "<!-- coverage: end -->"
HEAD = ("design", "install SD", "study", "single", "family", "false real", "false no difference", "wrong sign",
        "left open", "length")  # fmt: skip
LEAST_STUDY_SHARE = 0.3  # of the pull SD: a study's install SD is never reported below it


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of the table; shares of days."""

    design: str
    install_sd: float
    study: str
    single: float | None  #: worst coverage of a single 95 % interval over the changes
    family: float | None
    false_real: float | None  #: any real gain or real loss in the family although nothing works
    false_no_difference: float | None  #: any, although every gain is the smallest gain
    wrong_sign: float | None  #: any real loss although every gain is the smallest gain
    left_open: float | None  #: not settled although every change gives its smallest gain, mean over changes
    length: float | None  #: median half-width over that of an oracle, mean over changes


def simulate(design: dict[str, Any], install_sd: float, days: int, rng: np.random.Generator) -> np.ndarray:
    """Outcomes with pull SD 1, a drift, and no change that works."""
    n = len(design["minute"])
    y = 400.0 + rng.standard_normal((days, n)) - 0.004 * design["minute"]
    for labels in design["install"].values():
        y += install_sd * rng.standard_normal((days, labels.max() + 1))[:, labels]
    return y


def study_of(kind: str, install_sd: float, days: int, rng: np.random.Generator) -> dict[str, Any]:
    """A noise study drawn from its sampling distribution: of the truth, of half of it, of double; no wander."""
    if kind == "none":
        return {"wander_sd": 0.0}
    factor = {"exact": 1.0, "half": 0.5, "double": 2.0}[kind]
    install = max(install_sd, LEAST_STUDY_SHARE if kind != "exact" else 1e-3) * factor
    draw = lambda df: np.sqrt(rng.chisquare(df, days) / df)  # noqa: E731
    return {
        "pull_sd": draw(STUDY_DF["pull_df"]),
        "install_sd": install * draw(STUDY_DF["install_df"]),
        "wander_sd": 0.0,
        **STUDY_DF,
    }


def oracle_se(trial: Any, install_sd: float) -> np.ndarray:
    """Standard errors of one who knows the variances."""
    fixed = trial.fixed()
    v = np.eye(trial.pulls)
    for labels in trial.fittings.values():
        z = indicator(labels)
        v += install_sd**2 * z @ z.T
    covariance = np.linalg.inv(fixed.matrix.T @ np.linalg.solve(v, fixed.matrix))
    return np.sqrt(np.einsum("ct,tu,cu->c", fixed.gains, covariance, fixed.gains))


def cell(name: str, install_sd: float, study: str, days: int, seed: int) -> Cell:
    """Simulate and judge one cell."""
    design = DESIGNS[name]
    rng = np.random.default_rng([seed, list(DESIGNS).index(name), int(10 * install_sd), STUDIES.index(study)])
    trial = design_trial(
        **{key: design.get(key) for key in ("change", "baseline", "install", "minute", "day", "drift")}
    )
    y = simulate(design, install_sd, days, rng)
    found = judge_outcomes(trial, y, study_of(study, install_sd, days, rng))
    return summary(name, install_sd, study, found, oracle_se(trial, install_sd))


def summary(name: str, install_sd: float, study: str, found: Judgements, oracle: np.ndarray) -> Cell:
    """Count what was covered and what was falsely said."""
    shown = [i for i, route in enumerate(found.routes) if route != "none"]
    if len(shown) < len(found.routes):
        name = f"{name} ({len(shown)} of {len(found.routes)} have an interval)"
    if not shown:
        return Cell(name, install_sd, study, *[None] * 7)
    pick = lambda a: a[:, shown]  # noqa: E731
    single = ((pick(found.low) <= 0) & (pick(found.high) >= 0)).mean(axis=0)
    family = ((pick(found.family_low) <= 0) & (pick(found.family_high) >= 0)).all(axis=1)
    smallest = SMALLEST_IN_SES * oracle[shown]
    shift = smallest  # the truth is exactly the smallest gain
    nothing = (pick(found.inner_low) + shift > -smallest) & (pick(found.inner_high) + shift < smallest)
    inside = (pick(found.inner_low) > -smallest) & (pick(found.inner_high) < smallest)
    false_real = ((pick(found.family_low) > 0) | (pick(found.family_high) < 0)) & ~inside
    loss = (pick(found.family_high) + shift < 0) & ~nothing
    gain = (pick(found.family_low) + shift > 0) & ~nothing
    half = (pick(found.high) - pick(found.low)) / 2
    return Cell(
        name, install_sd, study, float(single.min()), float(family.mean()), float(false_real.any(axis=1).mean()),
        float(nothing.any(axis=1).mean()), float(loss.any(axis=1).mean()), float((~(gain | loss | nothing)).mean()),
        float(np.mean(np.median(half, axis=0) / (1.959964 * oracle[shown]))),
    )  # fmt: skip


def table(cells: list[Cell]) -> str:
    """The table for docs, marking every cell that falls short."""
    return "\n".join(["| " + " | ".join(HEAD) + " |", "|" + " --- |" * len(HEAD), *map(line, cells)])


def line(c: Cell) -> str:
    """One row of the table."""
    marked = (
        (c.single, c.single is not None and c.single < 0.94),
        (c.family, c.family is not None and c.family < 0.94),
        (c.false_real, _over(c.false_real, 0.055)),
        (c.false_no_difference, _over(c.false_no_difference, 0.065)),
        (c.wrong_sign, _over(c.wrong_sign, 0.05)),
        (c.left_open, False),
    )
    cells = [("–" if share is None else f"{100 * share:.1f}") + " **short**" * short for share, short in marked]
    length = "–" if c.length is None else f"{c.length:.2f}"
    return f"| {c.design} | {c.install_sd:g} | {c.study} | {' | '.join(cells)} | {length} |"


def _over(share: float | None, limit: float) -> bool:
    return share is not None and share > limit


def _run(job: tuple[str, float, str, int, int]) -> Cell:
    return cell(*job)


def main() -> None:
    """Run the study and print or write its table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--days", type=int, default=10_000)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--jobs", type=int, default=2)
    ask.add_argument("--only", default="", help="designs with this in their name")
    ask.add_argument("--write", type=Path, help="write the table between the marks of this file")
    options = ask.parse_args()
    jobs = [
        (d, a, s, options.days, options.seed)
        for d, a, s in itertools.product([name for name in DESIGNS if options.only in name], INSTALL_SDS, STUDIES)
    ]
    cells, began = [], time.time()
    with ProcessPoolExecutor(options.jobs) as pool:
        for done in pool.map(_run, jobs):
            cells.append(done)
            print(f"\r{len(cells)}/{len(jobs)} cells, {time.time() - began:.0f} s", end="", file=sys.stderr, flush=True)
    text = table(cells)
    if options.write:
        page = options.write.read_text()
        head, rest = page.split(BEGIN)
        options.write.write_text(
            f"{head}{BEGIN}\n{options.days} days a cell, seed {options.seed}; made by "
            "`tests/benchmarks/coverage_study.py`. "
            f"Shares in percent, length as a ratio.\n\n{text}\n{END}{rest.split(END)[1]}"
        )
    else:
        print(text)


if __name__ == "__main__":
    main()
