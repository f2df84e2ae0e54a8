"""Speed of judging, as ratios to named alternatives measured in the same run on one core.

OMP_NUM_THREADS=1 python tests/benchmarks/bench_judge.py
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import time
import tracemalloc
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.formula.api as smf

import doe
from doe.analysis.judging.curves.gain_curves import gain_curves
from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.stats.mixed_model import indicator

FIT = np.repeat(np.arange(6), 4)
OIL = np.where(FIT % 2, "thin", "thick")
MINUTE = np.arange(24) * 4.0 + FIT * 20
R_SCRIPT = """
suppressMessages({library(lme4); library(pbkrtest)})
d <- read.csv("%s"); d$f <- factor(d$f); d$x <- as.numeric(d$oil == "thin"); d$t <- (d$t - mean(d$t)) / 60
one <- function() {m <- lmer(y ~ x + t + (1 | f), d); v <- vcovAdj(m); get_Lb_ddf(m, c(0, 1, 0))}
invisible(one()); s <- proc.time()[["elapsed"]]; for (i in 1:20) one(); cat((proc.time()[["elapsed"]] - s) / 20)
"""


def outcomes(days: int, seed: int = 1) -> np.ndarray:
    """Days with pull SD 1 and install SD 0.7."""
    rng = np.random.default_rng(seed)
    return 400 + rng.standard_normal((days, 24)) + 0.7 * rng.standard_normal((days, 6))[:, FIT]


def seconds(work: Callable[[], object], repeat: int) -> float:
    """Shortest of `repeat` runs [s of this process, whatever else the machine does], after one to warm up."""
    work()
    times = []
    for _ in range(repeat):
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return min(times)


def table() -> pd.DataFrame:
    """One day of 24 pulls."""
    return pd.DataFrame({"y": outcomes(1)[0], "oil": OIL, "f": FIT, "t": MINUTE})


def judge_one(day: pd.DataFrame) -> object:
    """Numbers only."""
    return doe.judge(day, value="y", change="oil", baseline="thick", install="f", time="t", checks=False)


def statsmodels_one(day: pd.DataFrame) -> object:
    """MixedLM by REML: estimates and Wald intervals, no small-sample inference."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return smf.mixedlm("y ~ oil + t", day, groups=day["f"]).fit(reml=True)


def r_one(day: pd.DataFrame) -> float | None:
    """Seconds of one lmer + pbkrtest, or None where R is not."""
    if not shutil.which("Rscript"):
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "day.csv"
        day.to_csv(path, index=False)
        done = subprocess.run(["Rscript", "-e", R_SCRIPT % path], capture_output=True, text=True)
    return float(done.stdout) if done.returncode == 0 else None


def many(days: int) -> object:
    """Single intervals of many outcomes of one design."""
    return doe.judge_many(
        outcomes(days), change=OIL, baseline="thick", install=FIT, minute=MINUTE, method="kenward-roger"
    )


def cholesky(days: int) -> object:
    """As many batched factorisations of the same size."""
    v = np.eye(24) + 0.5 * indicator(FIT) @ indicator(FIT).T
    return np.linalg.cholesky(np.broadcast_to(v, (days, 24, 24)))


def peak(days: int) -> float:
    """Peak memory of `many` [MB]."""
    tracemalloc.start()
    many(days)
    _, top = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return top / 1e6


def curves_of_day() -> tuple[Callable[[], object], Callable[[], object]]:
    """A day of 40 pulls: its judgement as one number, and its gain curve of 31 bins, traces read and binned already."""
    fitting = np.repeat(np.arange(10), 4)
    oil, minute = np.where(fitting % 2, "thin", "thick"), np.arange(40) * 4.0 + fitting * 20
    rng, at = np.random.default_rng(1), np.arange(31)
    root = np.linalg.cholesky(np.exp(-0.5 * ((at[:, None] - at) / 3.0) ** 2) + 1e-6 * np.eye(31)).T
    curves = 200 + rng.standard_normal((40, 31)) @ root + 0.7 * (rng.standard_normal((10, 31)) @ root)[fitting]
    day = pd.DataFrame({"y": curves.mean(axis=1), "oil": oil, "f": fitting, "t": minute})
    trial = design_trial({"oil": oil}, {"oil": "thick"}, {"oil": fitting}, minute)
    known, values = KnownNoise.of(None), curves.mean(axis=1)[None]

    def curve() -> object:
        return gain_curves(trial, curves, estimate(trial, values, known), [0.05])

    return lambda: judge_one(day), curve


def main() -> None:
    """Print the table."""
    one_number, curve = curves_of_day()
    print(
        f"gain curve, 31 bins of 40 pulls: {seconds(curve, 20) / seconds(one_number, 20):.2f} times one number's judge"
    )
    day = table()
    rounds = [(seconds(lambda: judge_one(day), 20), seconds(lambda: statsmodels_one(day), 3)) for _ in range(15)]
    ours, theirs = np.median(rounds, axis=0)  # turn about: what slows the machine down slows both
    print(f"judge, one day of 24 pulls, numbers only: {1e3 * ours:.1f} ms")
    print(f"  statsmodels MixedLM takes {theirs / ours:.1f} times as long")
    in_r = r_one(day)
    print("  R: not here" if in_r is None else f"  R lmer + pbkrtest takes {in_r / ours:.1f} times as long")
    batch, factor = seconds(lambda: many(1000), 5), seconds(lambda: cholesky(1000), 5)
    print(f"1000 outcomes of one design: {batch / factor:.1f} times 1000 batched Cholesky factorisations of 24 x 24")
    print(f"peak memory, 1000 and 10000 outcomes: {peak(1000):.0f} and {peak(10_000):.0f} MB")


if __name__ == "__main__":
    main()
