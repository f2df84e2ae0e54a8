"""Unlucky days, and what each failing assumption costs.

    python tests/benchmarks/assumption_study.py --days 4000 --fewer 1500

First, without a study: the coverage of a single 95 % interval on the days whose refit scatter happens to be estimated
as 0, and that of the bracket under a guess of 0.7 pull SDs on one degree of freedom. Second, on planned days: coverage
and false findings where the truth is not what the model takes it for. Lengths are median half-widths in pull SDs.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from coverage_designs import DESIGNS, _one_refit
from wander_study import DAYS, Case, planned, studies

from doe.analysis.judging.checks.guess import USUAL_SHARE
from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.many_outcomes import design_trial, judge_outcomes
from doe.analysis.judging.routes import CROSSED, LONGER, SHORTENED
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.mixed_model import indicator
from doe.stats.wander import wander_factor

RISK = 0.05
SDS = (0.5, 1.0, 2.0)  # of refits, in pull SDs
SPELLS = [("B", "S"), ("C", "S"), ("B", "S"), ("C", "L"), ("C", "L"), ("B", "L"), ("C", "S"), ("B", "S"), ("B", "S"),
          ("C", "L"), ("B", "L"), ("C", "L")]  # fmt: skip


# --- days whose refit scatter is estimated as 0 -----------------------------------------------------------------------


def two_parts() -> dict[str, Any]:
    """Oil by turns, in spells of the headers."""
    slot = np.repeat(np.arange(len(SPELLS)), 4)
    change, install = {}, {}
    for k, name in enumerate(("oil", "headers")):
        levels = np.array([pair[k] for pair in SPELLS])
        change[name] = levels[slot]
        install[name] = np.concatenate([[0], np.cumsum(levels[1:] != levels[:-1])])[slot]
    minute = (1 + np.arange(len(slot))) * 4.0 + slot * 25.0
    return {"change": change, "baseline": {"oil": "B", "headers": "S"}, "install": install, "minute": minute,
            "drift": "linear"}  # fmt: skip


UNSTUDIED = {
    "A-B-A-B, 4 fittings x 4": _one_refit("abab", 4),
    "tiny, 5 fittings x 2": DESIGNS["tiny, 5 fittings x 2"],
    "balanced, 8 fittings x 4": DESIGNS["balanced, 8 fittings x 4"],
    "three oils, 9 fittings x 3": DESIGNS["three oils, 9 fittings x 3"],
    "two parts, 10 and 4 fittings": two_parts(),
}


def conditional(name: str, design: dict[str, Any], sd: float, days: int, rng: np.random.Generator) -> Iterator[str]:
    """The rows of one design at one refit SD: one for each route."""
    trial = design_trial(
        **{key: design.get(key) for key in ("change", "baseline", "install", "minute", "day", "drift")}
    )
    y = 200.0 - 0.004 * design["minute"] + rng.standard_normal((days, trial.pulls))
    for labels in trial.fittings.values():
        y += sd * rng.standard_normal((days, labels.max() + 1))[:, labels]
    calm = KnownNoise.of({"wander_sd": 0.0})
    shown = estimate(trial, y, calm)
    guess = USUAL_SHARE * np.sqrt(shown.variances["pull"])
    assumed = estimate(trial, y, replace(calm, install=(guess, 1.0)))
    for route in (LONGER, SHORTENED, CROSSED):
        changes = [i for i, taken in enumerate(shown.routes) if taken == route]
        if changes:
            yield _row(name, trial, sd, route, changes, shown, assumed)


def _row(
    name: str, trial: Trial, sd: float, route: str, changes: list[int], shown: Estimates, assumed: Estimates
) -> str:
    zero = [shown.main.theta[:, shown.main.install_of(trial, trial.factors[i]) or 0] == 0 for i in changes]
    cells = [f"{100 * np.mean(zero):.0f}"]
    for found in (shown, assumed):
        half = found.half_width(RISK)
        held = [np.abs(found.gain[:, i]) <= half[:, i] for i in changes]
        unlucky = [h[z] for h, z in zip(held, zero, strict=True)]
        of_those = np.concatenate(unlucky)
        cells += [f"{100 * np.mean(held):.1f}", f"{100 * of_those.mean():.1f}" if len(of_those) else "–"]
        cells.append(f"{np.median(half[:, changes]):.2f}")
    return f"| {name} | {route} | {sd:g} | {' | '.join(cells)} |"


# --- assumptions that fail --------------------------------------------------------------------------------------------

FAILING_DAYS = ("two quick parts", "evening with a refit", "oil without a study", "two refit parts, no study")
GAIN = 3.0  # pull SDs, where something is carried over: it must be a share of something


@dataclass(frozen=True, slots=True)
class Truth:
    """What the model takes otherwise; sizes in pull SDs."""

    wander: float = 0.0  #: SD, 60 minutes
    bow: float = 0.0  #: of the drift, end to middle
    step: float = 0.0  #: at the longest break between two pulls
    tails: bool = False  #: pull scatter of t on 3 df, of the same SD
    growth: float = 1.0  #: pull SD at the end over that at the start, the mean kept
    unequal: float = 1.0  #: refit SD of fittings with the part on over that of the others, the mean square kept
    carried: float = 0.0  #: share of the level before that stays through a fitting or a set

    def readings(self, case: Case, rng: np.random.Generator, days: int) -> np.ndarray:
        """Readings of planned days; every gain is 0, or `GAIN` where something is carried over."""
        trial, noise = case.trial, case.day.noise
        assert trial.minute is not None
        n, pull = trial.pulls, noise.pull_sd or 1.0
        place = (trial.minute - trial.minute.min()) / np.ptp(trial.minute)
        scatter = rng.standard_t(3, (days, n)) / 3**0.5 if self.tails else rng.standard_normal((days, n))
        y = 200.0 + pull * scatter * (1 + (self.growth - 1) * place) / (0.5 + self.growth / 2)
        for name, labels in trial.fittings.items():
            z = indicator(labels)
            on = trial.changes[:, [f == name for f in trial.factors]].any(axis=1) @ z > 0
            size = (noise.install_sd or 0.0) * np.where(on, self.unequal, 1.0) / ((1 + self.unequal**2) / 2) ** 0.5
            y += (size * rng.standard_normal((days, z.shape[1]))) @ z.T
        if self.wander:
            y += self.wander * pull * rng.standard_normal((days, n)) @ wander_factor(trial.minute, trial.day).T
        gap = np.diff(trial.minute)
        y += pull * (self.step * (np.arange(n) > gap.argmax()) - self.bow * (2 * place - 1) ** 2)
        return y + (GAIN * pull * self._carried_on(trial) if self.carried else 0.0)

    def _carried_on(self, trial: Trial) -> np.ndarray:
        """How much of its part's change acts in each pull, shape (pulls,)."""
        acting = np.zeros(trial.pulls)
        for factor in dict.fromkeys(trial.factors):
            column = trial.changes[:, [f == factor for f in trial.factors]]
            before = np.zeros(column.shape[1])
            for row in range(trial.pulls):
                if row and (column[row] != column[row - 1]).any():
                    before = column[row - 1]
                elif not row:
                    before = column[0]
                acting[row] += ((1 - self.carried) * column[row] + self.carried * before).sum()
        return acting

    @property
    def gain(self) -> float:
        """The true gain of every change, in pull SDs."""
        return GAIN if self.carried else 0.0


TRUTHS = {
    "as the model takes it": Truth(),
    "wander of 0.5 (60 min)": Truth(wander=0.5),
    "wander of 1 (60 min)": Truth(wander=1.0),
    "refits of the change scatter 3 times as far": Truth(unequal=3.0),
    "10 % of the level before carried over": Truth(carried=0.10),
    "25 % of the level before carried over": Truth(carried=0.25),
    "drift bowed by 3": Truth(bow=3.0),
    "heavy tails (t on 3 df)": Truth(tails=True),
    "scatter grows to 3 times": Truth(growth=3.0),
    "a step of 1 at the longest break": Truth(step=1.0),
}


def failing(case: Case, truth: Truth, days: int, rng: np.random.Generator) -> str:
    """Worst coverage of a single interval, and days with any family interval off the truth; percent."""
    found = judge_outcomes(case.trial, truth.readings(case, rng, days), studies(case, rng, days))
    gain = truth.gain * (case.day.noise.pull_sd or 1.0)
    with np.errstate(invalid="ignore"):
        held = ((found.low <= gain) & (found.high >= gain)).mean(axis=0)
        off = ((found.family_low > gain) | (found.family_high < gain)).any(axis=1).mean()
    seen = np.isfinite(found.se).any(axis=0)
    return f"{100 * held[seen].min(initial=1.0):.1f} / {100 * off:.1f}"


def main() -> None:
    """Print both tables."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--days", type=int, default=4000)
    ask.add_argument("--fewer", type=int, default=1500, help="for the second table")
    ask.add_argument("--seed", type=int, default=1)
    options = ask.parse_args()
    rng = np.random.default_rng(options.seed)
    print("| design | route | install SD | estimated as 0 | covered | of those days | half-width | under the guess | "
          "of those days | half-width |")  # fmt: skip
    print("|" + " --- |" * 10)
    for name, design in UNSTUDIED.items():
        for sd in SDS:
            for row in conditional(name, design, sd, options.days, rng):
                print(row, flush=True)
    cases = {name: planned(DAYS[name]) for name in FAILING_DAYS}
    print(f"\n| truth | {' | '.join(cases)} |\n|" + " --- |" * (1 + len(cases)))
    for truth, made in TRUTHS.items():
        cells = [failing(case, made, options.fewer, rng) for case in cases.values()]
        print(f"| {truth} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
