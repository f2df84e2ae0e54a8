"""How often the band of a gain curve holds at all rpm at once, on nested days and on planned ones.

    python tests/benchmarks/curve_coverage.py --days 600 --seed 1

Scatter along the sweep is smooth over 300 rpm for a pull, over 1,000 for a fitting and for the wander, and each bin has
some of its own; refit SDs in pull SDs, alike over the range or growing from none to twice that. Nothing gains anything:
a band holds where it has 0 in it at all rpm.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from coverage_designs import DESIGNS
from crossed_study import PLANNED
from wander_study import planned

from doe.analysis.judging.curves.gain_curves import gain_curves
from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.simulation.simulated_cell import wander as wandering

NESTED = ("balanced, 8 fittings x 4", "unbalanced, 7 fittings", "quick change inside 5 fittings")
TWO_PARTS = ("two parts, a long day", "two parts and two quick ones")
BINS, STEP, SMOOTH, SLOW, OWN = 31, 100.0, 300.0, 1000.0, 0.5
PULL_DF, INSTALL_DF = 12, 6  # of a study
LEAST, ERRORS = 0.94, 3.5  # a band holds that often, less so many standard errors of a share


@dataclass(frozen=True, slots=True)
class Cell:
    """What is found of one design at one truth; shares of days, one number a change."""

    design: str
    install_sd: float
    growing: bool  #: from none to twice that along the range, which one set of ratios for the curve leaves out
    wander_sd: float
    study: bool
    routes: tuple[str, ...]
    days: int
    whole: np.ndarray  #: the band holds at all rpm at once
    single: np.ndarray  #: mean share of rpm at which the interval of one rpm holds
    read_as_curve: np.ndarray  #: that interval holds at all rpm at once
    df: float  #: median
    critical: float
    widened: float

    @property
    def short(self) -> bool:
        """Whether some change's band holds less often than it must."""
        return bool((self.whole < LEAST - ERRORS * np.sqrt(LEAST * (1 - LEAST) / self.days)).any())


@cache
def trial_of(name: str) -> Trial:
    """The design of a name."""
    if name in PLANNED:
        return planned(PLANNED[name]).trial
    keys = ("change", "baseline", "install", "minute", "day", "drift")
    return design_trial(**{key: DESIGNS[name].get(key) for key in keys})


def root(length: float) -> np.ndarray:
    """Factor of a Gaussian process of variance 1 over the bins."""
    at = STEP * np.arange(BINS)
    return np.linalg.cholesky(np.exp(-0.5 * ((at[:, None] - at) / length) ** 2) + 1e-8 * np.eye(BINS)).T


ROOTS = {length: root(length) for length in (SMOOTH, SLOW)}


def of_mean(length: float, own: float = 0.0) -> float:
    """SD of the mean over the bins, of a process of variance 1 and of a scatter that each bin has of its own."""
    return float(np.sqrt((ROOTS[length].sum(axis=1) ** 2).sum() + BINS * own**2) / BINS)


def day(trial: Trial, install_sd: float | np.ndarray, wander_sd: float, rng: np.random.Generator) -> np.ndarray:
    """Curves of one day, shape (pulls, bins); the refit SD is one for all bins or one each."""
    noise = rng.standard_normal((trial.pulls, BINS))
    curves = noise @ ROOTS[SMOOTH] + OWN * rng.standard_normal((trial.pulls, BINS))
    for labels in trial.fittings.values():
        _, fitting = np.unique(labels, return_inverse=True)
        curves += install_sd * (rng.standard_normal((fitting.max() + 1, BINS)) @ ROOTS[SLOW])[fitting]
    if wander_sd and trial.minute is not None:
        order = np.argsort(trial.minute, kind="stable")
        along = np.empty((BINS, trial.pulls))
        along[:, order] = wandering(trial.minute[order], 60.0, rng, BINS)
        curves += wander_sd * along.T @ ROOTS[SLOW]
    return 200.0 + curves


def study(install_sd: float, rng: np.random.Generator) -> dict[str, float]:
    """What an honest study of the metric would have found."""
    truth = (of_mean(SMOOTH, OWN), max(install_sd, 0.1) * of_mean(SLOW))
    pull, install = (sd * np.sqrt(rng.chisquare(df) / df) for sd, df in zip(truth, (PULL_DF, INSTALL_DF), strict=True))
    return {"pull_sd": pull, "pull_df": PULL_DF, "install_sd": install, "install_df": INSTALL_DF}


def cell(
    name: str,
    trial: Trial,
    install_sd: float,
    wander_sd: float,
    days: int,
    seed: int,
    *,
    studied: bool = False,
    growing: bool = False,
) -> Cell:
    """Simulate so many days."""
    rng = np.random.default_rng(seed)
    counts, numbers = [], []
    along = install_sd * np.linspace(0.0, 2.0, BINS) if growing else install_sd
    for _ in range(days):
        curves = day(trial, along, wander_sd, rng)
        known = KnownNoise.of(study(install_sd, rng) if studied else None)
        found = estimate(trial, curves.mean(axis=1)[None], known)
        of_day = []
        for curve in gain_curves(trial, curves, found, [0.05] * len(trial.factors)):
            if curve.se is None:
                of_day.append((np.nan,) * 3)
                continue
            (low, high), (near, far) = curve.band(curve.critical), curve.band(curve.single)
            alone = (near <= 0) & (far >= 0)
            of_day.append((float(((low <= 0) & (high >= 0)).all()), alone.mean(), float(alone.all())))
            numbers.append((curve.df, curve.critical, curve.widened))
        counts.append(of_day)
    whole, single, as_curve = np.nanmean(np.array(counts), axis=0).T
    df, critical, widened = np.median(numbers, axis=0)
    return Cell(
        name,
        install_sd,
        growing,
        wander_sd,
        studied,
        found.routes,
        days,
        whole,
        single,
        as_curve,
        df,
        critical,
        widened,
    )


def cells(days: int, seed: int) -> Iterator[Cell]:
    """All of them."""
    for name in (*NESTED, *TWO_PARTS):
        trial = trial_of(name)
        for install_sd, wander_sd in ((0.0, 0.0), (0.5, 0.0), (1.0, 0.0), (2.0, 0.0), (0.5, 0.5)):
            yield cell(name, trial, install_sd, wander_sd, days, seed)
        yield cell(name, trial, 0.5, 0.0, days, seed, studied=True)
    for name in (NESTED[0], TWO_PARTS[0]):
        for studied in (False, True):
            yield cell(name, trial_of(name), 1.0, 0.0, days, seed, studied=studied, growing=True)


def line(found: Cell) -> str:
    """One row of the table in docs/method-measured.md."""
    shares = [
        " to ".join(f"{100 * share:.1f}" for share in sorted({numbers.min(), numbers.max()}))
        for numbers in (found.whole, found.single, found.read_as_curve)
    ]
    routes = ", ".join(dict.fromkeys(found.routes))
    mark = " **short**" if found.short else ""
    refits = f"0 to {2 * found.install_sd:g}" if found.growing else f"{found.install_sd:g}"
    told = "honest" if found.study else "none"
    return (
        f"| {found.design} | {routes} | {refits} | {found.wander_sd:g} | {told} | {shares[0]}{mark} |"
        f" {shares[1]} | {shares[2]} | {found.df:.1f} | {found.critical:.2f} | {found.widened:.2f} |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=600)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(
        "| design | routes | refit SD | wander SD | study | whole band | one rpm | as a curve | df | factor | widened |"
        f"\n{'| --- ' * 11}|"
    )
    for found in cells(options.days, options.seed):
        print(line(found), flush=True)


if __name__ == "__main__":
    main()
