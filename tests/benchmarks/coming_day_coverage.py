"""How often an interval holds what a coming day does, when earlier days scatter unequally.

python tests/benchmarks/coming_day_coverage.py        (a minute)

Pull variances of the days are scaled inverse chi-square with d0 degrees of freedom, each day shows its own on 20.
"""

from __future__ import annotations

import numpy as np
from scipy import stats

from doe.analysis.scatter.components import sd_interval
from doe.stats.unequal_scatter import coming_day

RUNS, DF = 1000, 20


def covered(days: int, between_df: float, rng: np.random.Generator) -> np.ndarray:
    """Shares of coming days whose SD is held, and whose mean is, by the shrunk df and by all of them."""
    df = np.full(days, DF)
    hits = np.zeros((RUNS, 4))
    for run in range(RUNS):
        true = np.ones(days + 1) if np.isinf(between_df) else between_df / rng.chisquare(between_df, days + 1)
        variances = true[1:] * rng.chisquare(DF, days) / DF
        found = coming_day(variances, df)
        for at, (square, own) in enumerate(((found.mean_square, found.df), (variances.mean(), days * DF))):
            low, high = sd_interval(square, own)
            hits[run, at] = low <= np.sqrt(true[0]) <= high
            half = stats.t.ppf(0.975, own) * np.sqrt(square / true[0])
            hits[run, 2 + at] = 2 * stats.norm.cdf(half) - 1
    return hits.mean(axis=0)


def main() -> None:
    """Print the table."""
    rng = np.random.default_rng(1)
    print("| days | d0 | SD, shrunk | SD, all df | mean, shrunk | mean, all df |")
    print("| --- | --- | --- | --- | --- | --- |")
    for days in (3, 10, 40, 200):
        for between_df in (np.inf, 20.0, 8.0):
            shares = " | ".join(f"{100 * share:.1f}" for share in covered(days, between_df, rng))
            print(f"| {days} | {between_df:g} | {shares} |", flush=True)


if __name__ == "__main__":
    main()
