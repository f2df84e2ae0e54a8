"""What would settle it: the tables of constants made anew, and the promise measured on simulated days.

    python tests/benchmarks/settle_study.py --days 250

A question that a day leaves open is told how many further pulls would settle it, 8 times in 10, if the true gain is the
one that is hardest to settle. `shares` works out what half-width that takes; `kept` makes the pulls and judges again.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import optimize, special

import doe
from doe.stats.multivariate_t import critical_value
from doe.stats.power import inner_level, scale_quantiles
from doe.words.verdicts import NOT_SETTLED

PROMISE = 0.8
DF = (1.0, 2.0, 4.0, 6.0, 10.0, 20.0, np.inf)
RISKS = (0.2, 0.1, *(0.05 / 2**k for k in range(6)))  # of a first verdict with 80 and 90 %; then of the n-th with 95 %
LARGEST_DF = 1e5
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(200)
_GAINS = np.linspace(0.2, 1.0, 33)  # true gains that are looked at, in smallest gains


def settled(gain: float, se: float, df: float, outer: float, inner: float) -> float:
    """P(the verdict is not 'not settled') by the verdict rule, at critical values; smallest gain 1.

    The estimate is normal, its SE found by a chi-square on df. Open is where Delta - h90 <= |estimate| <= h95.
    """
    found = scale_quantiles(np.array([df]), (_NODES + 1) / 2)[0] * se
    high = outer * found
    low = np.clip(1 - inner * found, 0.0, high)
    left_open = sum(
        sign * (special.ndtr((sign * high - gain) / se) - special.ndtr((sign * low - gain) / se)) for sign in (1, -1)
    )
    return float(1 - left_open @ _WEIGHTS / 2)


def share(df: float, questions: int, level: float = 0.95) -> float:
    """Expected half-width, in smallest gains, that settles a question 8 times in 10 at its worst true gain.

    Several questions: changes against one baseline, so that their gains correlate by a half.
    """
    df = min(df, LARGEST_DF)
    correlation = np.full((questions, questions), 0.5) + 0.5 * np.eye(questions)
    outer, inner = (critical_value(correlation, df, one) for one in (level, inner_level(level)))

    def short(half: float) -> float:
        return min(settled(gain, half / outer, df, outer, inner) for gain in _GAINS) - PROMISE

    mean_of_s = np.exp(0.5 * np.log(2 / df) + special.gammaln((df + 1) / 2) - special.gammaln(df / 2))
    return float(optimize.brentq(short, 0.02, 1.2, xtol=1e-5) * mean_of_s)


@dataclass(frozen=True, slots=True)
class Kept:
    """How often the promise was kept."""

    days: int
    left_open: int  #: by the day itself
    told: int  #: of these, with an answer to what would settle it
    settled: int  #: of these, when the further pulls were made


def kept(days: int, seed: int, *, install_sd: float, study: bool, smallest: float, fittings: int = 6) -> Kept:
    """Simulate days of one refit part at the worst true gain, half the smallest; make the pulls that would settle it.

    Pull SD 1; `fittings` of four pulls in turn; the study (if any) on 12 and 6 df, drawn from its distribution.
    """
    rng = np.random.default_rng(seed)
    left_open = told = done = 0
    for _ in range(days):
        noise = None
        if study:
            pull, install = np.sqrt(rng.chisquare(12) / 12), install_sd * np.sqrt(rng.chisquare(6) / 6)
            noise = {"pull_sd": pull, "pull_df": 12.0, "install_sd": install, "install_df": 6.0}
        day = _pulls(rng, np.tile([0, 1], fittings)[:fittings], 4, install_sd, smallest / 2, 0)
        gain = _judged(day, smallest, noise)
        if gain.verdict != NOT_SETTLED:
            continue
        left_open += 1
        if not gain.more_installs:
            continue
        told += 1
        pairs = gain.more_installs // 2
        order = np.tile([0, 1, 1, 0], pairs)[: 2 * pairs]  # back to back, the order in turn
        more = _pulls(rng, order, gain.more_pulls // gain.more_installs, install_sd, smallest / 2, fittings)
        done += _judged(pd.concat([day, more]), smallest, noise).verdict != NOT_SETTLED
    return Kept(days, left_open, told, done)


def _pulls(rng: np.random.Generator, on: np.ndarray, pulls: int, install_sd: float, gain: float, before: int):
    """Fittings in turn, each of so many pulls."""
    fitting = np.repeat(np.arange(len(on)), pulls)
    scatter = install_sd * rng.standard_normal(len(on))[fitting] + rng.standard_normal(len(fitting))
    level = np.where(on[fitting] == 1, "thin", "thick")
    return pd.DataFrame({"y": 400 + gain * on[fitting] + scatter, "oil": level, "f": before + fitting})


def _judged(day: pd.DataFrame, smallest: float, noise):
    found = doe.judge(
        day.reset_index(drop=True), value="y", change="oil", baseline="thick", install="f", drift="none",
        smallest_gain=smallest, noise=noise, checks=False,
    )  # fmt: skip
    return found.changes[0]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--days", type=int, default=250)
    parser.add_argument("--seed", type=int, default=3)
    given = parser.parse_args()
    print("                  risk  df", "  ".join(f"{df:5.3g}" for df in DF))
    for questions in (1, 4):
        for risk in RISKS:
            shares = "  ".join(f"{share(df, questions, 1 - risk):.3f}" for df in DF)
            print(f"{questions} question(s)  {risk:9.7g}     {shares}")
    print("\nstudy  install SD  smallest gain   days  left open  told  settled by the pulls that were told")
    for study in (False, True):
        for install_sd in (0.3, 0.7):
            for smallest in (1.2, 1.5) if study else (1.5, 2.5):
                found = kept(given.days, given.seed, install_sd=install_sd, study=study, smallest=smallest)
                rate = f"{found.settled / found.told:.2f}" if found.told else "-"
                print(
                    f"{'yes' if study else 'no':5s}  {install_sd:10.1f}  {smallest:13.1f}  {found.days:5d}"
                    f"  {found.left_open:9d}  {found.told:4d}  {rate}"
                )


if __name__ == "__main__":
    main()
