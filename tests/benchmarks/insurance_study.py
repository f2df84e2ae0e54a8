"""The insurance against wander where more than one plain day is judged, and what a bound on the wander buys back.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/insurance_study.py --days 2000

Nothing works. The days of `wander_study.py`, planned with the insurance, are judged in percent of the baseline, as a
campaign of two (each wanders on its own), with a covariate taken out, and with a look at half of the pulls (a verdict
off 0 at the look or at the end counts). Printed are the days with any family interval off 0, in percent. The second
table: questions settled on a calm engine with the insurance, with a bound of 0.1 pull SDs on 4 degrees of freedom in
its place, and when the tester vouches for no wander; each on the plan that is made for it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from doe.analysis.judging.ledger.information import information
from doe.analysis.judging.many_outcomes import Judgements, judge_outcomes
from doe.analysis.trials.trial import Trial
from doe.stats.spending import increment

sys.path.insert(0, str(Path(__file__).parent))
from wander_study import DAYS, WANDERS, Case, judged, off_zero, outcomes, planned, settled, studies

NAMES = ("two quick parts", "six trims", "evening with a refit", "one quick part", "short stints")
BOUND = "wander_sd = 0.1\nwander_df = 4"
RISK = 0.05
Judge = Callable[[Case, np.ndarray, dict[str, Any], np.random.Generator], np.ndarray]


def family_off(found: Judgements) -> np.ndarray:
    """Whether any family interval lies off 0, shape (days,)."""
    with np.errstate(invalid="ignore"):
        return ((found.family_low > 0) | (found.family_high < 0)).any(axis=1)


def plain(case: Case, y: np.ndarray, noise: dict[str, Any], rng: np.random.Generator) -> np.ndarray:
    return family_off(judge_outcomes(case.trial, y, noise))


def in_percent(case: Case, y: np.ndarray, noise: dict[str, Any], rng: np.random.Generator) -> np.ndarray:
    """The baseline makes 200, so a percent of it is two pull SDs."""
    known = {key: value / 2 if key.endswith("_sd") else value for key, value in noise.items()}
    return family_off(judge_outcomes(case.trial, y, known, percent=True))


def with_covariate(case: Case, y: np.ndarray, noise: dict[str, Any], rng: np.random.Generator) -> np.ndarray:
    """An oil temperature that climbs from pull to pull of a set, and is worth a pull SD over its range."""
    trial = case.trial
    fresh = np.r_[True, (np.diff(trial.changes, axis=0) != 0).any(axis=1)]
    climb = np.minimum(np.arange(trial.pulls) - np.maximum.accumulate(np.where(fresh, np.arange(trial.pulls), 0)), 3)
    warmth = climb / 3 + 0.1 * rng.standard_normal(trial.pulls)
    return family_off(judge_outcomes(trial.with_beside(warmth), y + warmth, noise))


def with_a_look(case: Case, y: np.ndarray, noise: dict[str, Any], rng: np.random.Generator) -> np.ndarray:
    """A look when half of the pulls are made, paid for as the ledger does."""
    half = case.trial.take(np.arange(case.trial.pulls // 2))
    spent = increment(information(half, case.trial, case.day), 0.0, RISK)
    end = family_off(judge_outcomes(case.trial, y, noise, family_confidence=1 - (RISK - spent)))
    asked = np.asarray(half.determined)
    if spent < 1e-4 or not asked.any():
        return end
    early = judge_outcomes(half.only(asked), y[:, : half.pulls], noise, family_confidence=1 - spent)
    return end | family_off(early)


KINDS: dict[str, Judge] = {
    "one day": plain,
    "in percent": in_percent,
    "a covariate": with_covariate,
    "a look at half": with_a_look,
}


def twice(trial: Trial) -> Trial:
    """A campaign: the same plan on two days."""
    later = {name: np.r_[labels, labels + 1 + labels.max()] for name, labels in trial.fittings.items()}
    return replace(
        trial,
        changes=np.vstack([trial.changes] * 2),
        fittings=later,
        install=np.r_[trial.install, trial.install + 1 + trial.install.max()],
        minute=np.tile(trial.minute, 2),
        day=np.repeat([0, 1], trial.pulls),
    )


def two_days(case: Case, days: int, seed: int, wander: float) -> float:
    """Days off 0 of a campaign of two, in percent."""
    rng = np.random.default_rng(seed)
    y = np.hstack([outcomes(case, rng, days, wander) for _ in range(2)])
    return off_zero(judge_outcomes(twice(case.trial), y, studies(case, rng, days)))


def safety(days: int, seed: int) -> Iterator[str]:
    """The lines of the first table."""
    yield f"| day | judged | {' | '.join(f'wander {w:g}' for w in WANDERS)} |"
    yield "|" + " --- |" * (len(WANDERS) + 2)
    for name in NAMES:
        case = planned(DAYS[name])
        for kind, judge in KINDS.items():
            cells = []
            for wander in WANDERS:
                rng = np.random.default_rng(seed)
                y = outcomes(case, rng, days, wander)
                cells.append(f"{100 * judge(case, y, studies(case, rng, days), rng).mean():.1f}")
            yield f"| {name} | {kind} | {' | '.join(cells)} |"
        cells = [f"{two_days(case, days // 2, seed, wander):.1f}" for wander in WANDERS]
        yield f"| {name} | two days (half as many) | {' | '.join(cells)} |"


def price(days: int, seed: int) -> Iterator[str]:
    """The lines of the second table."""
    heads = ("day", "insured", "bound", "vouched", "bought back", "off 0 with the bound: wander 0", "0.1", "0.25")
    yield f"| {' | '.join(heads)} |"
    yield "|" + " --- |" * 8
    for name in NAMES:
        worth, off = {}, []
        for kind, line in {"insured": "", "bound": BOUND, "vouched": "wander_sd = 0.0"}.items():
            case = planned(DAYS[name].replace("[noise]", f"[noise]\n{line}"))
            known = {"bound": {"wander_sd": 0.1, "wander_df": 4.0}, "vouched": {"wander_sd": 0.0}}.get(kind, {})
            rng = np.random.default_rng(seed)
            worth[kind] = settled(case, judged(case, outcomes(case, rng, days), studies(case, rng, days, **known)))
            if kind == "bound":
                for wander in (0.0, 0.1, 0.25):
                    y = outcomes(case, rng, days, wander)
                    off.append(f"{off_zero(judged(case, y, studies(case, rng, days, **known))):.1f}")
        back = (worth["bound"] - worth["insured"]) / (worth["vouched"] - worth["insured"])
        numbers = " | ".join(f"{worth[kind]:.2f}" for kind in worth)
        yield f"| {name} | {numbers} | {100 * back:.0f} % | {' | '.join(off)} |"


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--days", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for line in safety(given.days, given.seed):
        print(line, flush=True)
    print()
    for line in price(given.days, given.seed):
        print(line, flush=True)


if __name__ == "__main__":
    main()
