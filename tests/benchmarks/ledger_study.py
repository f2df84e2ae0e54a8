"""The ledger of risk, measured: how often whoever comes back is told something false, with the ledger and without.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/ledger_study.py --days 4000 --write docs/method-measured.md

One question, pull SD 1, refit SD a half, no wander and vouched for. Each campaign has a part that gives nothing, then
one that gives exactly the smallest gain (estimates shift with the truth: the same readings serve both).
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from table_in_docs import print_table

from doe.analysis.judging.ask import Ask, Level
from doe.analysis.judging.ledger.information import information
from doe.analysis.judging.many_outcomes import design_trial, judge_outcomes
from doe.analysis.judging.verdict_rule import verdicts
from doe.analysis.judging.verdicts import judge_trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.day.log.stages import SPENT, Stage, level_of
from doe.day.schema import Noise
from doe.stats.spending import increment
from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN

RISK, INSTALL_SD = 0.05, 0.5
BEGIN, END = "<!-- ledger: begin -->", "<!-- ledger: end -->"
PROTOCOLS = {
    "one verdict": "(a) one verdict",
    "told": "(b) do once what would settle it",
    "days": "(c) add days until settled, up to 5",
    "looks": "(d) a look after every set",
    "pulls": "(e) a verdict after each of 10 more pulls",
    "everything": "(f) a verdict after every pull of four more days",
}


@dataclass(frozen=True, slots=True)
class Case:
    """A kind of day: its sets in turn, what is known of the noise, and what is worth having."""

    name: str
    sets: int
    pulls: int  #: a set
    smallest: float
    refit: bool
    study: bool


CASES = (
    Case("oil with a study", 6, 4, 1.5, refit=True, study=True),
    Case("oil without a study", 6, 4, 2.5, refit=True, study=False),
    Case("a quick part", 12, 2, 1.2, refit=False, study=False),
)


@dataclass(frozen=True, slots=True)
class Design:
    """Pulls in order; one entry a pull."""

    on: np.ndarray
    fitting: np.ndarray | None
    minute: np.ndarray
    day: np.ndarray

    @classmethod
    def of(cls, case: Case, sets: Sequence[tuple[int, int]], day: int = 0) -> Design:
        """Sets of (on, pulls) of one day."""
        on, pulls = np.array(sets, int).T
        rows = np.repeat(np.arange(len(sets)), pulls)
        minute = 4.0 * np.arange(len(rows)) + 10.0 * rows
        fitting = rows + 1000 * day if case.refit else None
        return cls(on[rows], fitting, minute, np.full(len(rows), day))

    @property
    def pulls(self) -> int:
        return len(self.on)

    def first(self, pulls: int) -> Design:
        """The first pulls of it."""
        fitting = None if self.fitting is None else self.fitting[:pulls]
        return Design(self.on[:pulls], fitting, self.minute[:pulls], self.day[:pulls])

    def and_then(self, later: Design) -> Design:
        """Both, one behind the other."""
        fitting = None if self.fitting is None or later.fitting is None else np.append(self.fitting, later.fitting)
        parts = [np.append(getattr(self, name), getattr(later, name)) for name in ("on", "minute", "day")]
        return Design(parts[0], fitting, parts[1], parts[2])

    def trial(self) -> Any:
        levels = np.where(self.on == 1, "thin", "thick")
        install = None if self.fitting is None else {"oil": self.fitting}
        return design_trial({"oil": levels}, {"oil": "thick"}, install, self.minute, self.day)

    def outcomes(self, days: int, rng: np.random.Generator) -> np.ndarray:
        """Readings if the part gives nothing, shape (days, pulls)."""
        y = 400.0 + rng.standard_normal((days, self.pulls))
        if self.fitting is not None:
            labels = np.unique(self.fitting, return_inverse=True)[1]
            y += INSTALL_SD * rng.standard_normal((days, labels.max() + 1))[:, labels]
        return y


def planned(case: Case, day: int = 0) -> Design:
    """The day's plan: sets in turn."""
    return Design.of(case, [(place % 2, case.pulls) for place in range(case.sets)], day)


def studies(case: Case, days: int, rng: np.random.Generator) -> dict[str, Any]:
    """What day.toml says: one study a campaign, drawn about the truth on 12 and 6 df; nothing wanders."""
    if not case.study:
        return {"wander_sd": 0.0}
    pull, install = (sd * np.sqrt(rng.chisquare(df, days) / df) for sd, df in ((1.0, 12), (INSTALL_SD, 6)))
    return {"pull_sd": pull, "pull_df": 12.0, "install_sd": install, "install_df": 6.0, "wander_sd": 0.0}


def words(case: Case, design: Design, values: np.ndarray, noise: dict[str, Any], risk: float) -> np.ndarray:
    """Verdicts if the part gives nothing, and if it gives the smallest gain, shape (2, days)."""
    found = judge_outcomes(design.trial(), values, noise, family_confidence=1 - risk)
    limits = (found.family_low, found.family_high, found.inner_low, found.inner_high)
    smallest = np.array([case.smallest])
    return np.stack([verdicts(*(one + gain for one in limits), smallest)[:, 0] for gain in (0.0, case.smallest)])


@dataclass(frozen=True, slots=True)
class Step:
    """One verdict of a row of them: on the first pulls of the whole, at a risk."""

    pulls: int
    risk: float


def steps_of(case: Case, protocol: str, *, ledger: bool) -> tuple[Design, list[Step]]:
    """All pulls that may be made, and when there is a verdict at which risk."""
    plan = planned(case)
    if protocol == "one verdict":
        return plan, [Step(plan.pulls, RISK)]
    if protocol in ("days", "everything"):
        whole, ends = plan, [plan.pulls]
        for day in range(1, 5):
            whole = whole.and_then(planned(case, day))
            ends.append(whole.pulls)
        if protocol == "everything":
            ends = list(range(plan.pulls, whole.pulls + 1))
        return whole, [Step(end, level_of(n, RISK) if ledger else RISK) for n, end in enumerate(ends, start=1)]
    if protocol == "pulls":
        more = [(place % 2, 1) for place in range(case.sets, case.sets + 10)]
        whole = Design.of(case, [*((place % 2, case.pulls) for place in range(case.sets)), *more])
        ends = range(plan.pulls, whole.pulls + 1)
        return whole, [Step(end, level_of(n, RISK) if ledger else RISK) for n, end in enumerate(ends, start=1)]
    return plan, list(_looks(case, plan, ledger=ledger))


def _looks(case: Case, plan: Design, *, ledger: bool) -> Iterator[Step]:
    """A look after each set from the third on, and the last word."""
    noise = Noise(pull_sd=1.0, install_sd=INSTALL_SD)
    day = SimpleNamespace(noise=noise, own_noise=noise.of("power", "power"))
    stage = Stage(1, RISK, RISK)
    for sets in range(3, case.sets):
        end = sets * case.pulls
        if not ledger:
            yield Step(end, RISK)
            continue
        spend = increment(information(plan.first(end).trial(), plan.trial(), day), RISK - stage.left, RISK)
        if spend > SPENT:
            yield Step(end, spend)
            stage = stage.look(spend)
    yield Step(plan.pulls, stage.left if ledger else RISK)


@dataclass(frozen=True, slots=True)
class Found:
    """Shares of campaigns."""

    false_real: float  #: the part gives nothing: any real gain or loss among all verdicts
    false_none: float  #: it gives the smallest gain: any `no difference that matters`
    settled: tuple[float, float]  #: at some time, in both truths
    verdicts: float  #: until it was settled, the mean over both truths


def row_of(case: Case, protocol: str, days: int, seed: int, *, ledger: bool = True) -> Found:
    """Who goes on whatever comes out: every verdict of the row may be false."""
    rng = np.random.default_rng(seed)
    whole, steps = steps_of(case, protocol, ledger=ledger)
    values, noise = whole.outcomes(days, rng), studies(case, days, rng)
    told = [words(case, whole.first(s.pulls), values[:, : s.pulls], noise, s.risk) for s in steps]
    return _summed(np.stack(told, axis=1))


def told_once(case: Case, days: int, seed: int, *, ledger: bool = True) -> Found:
    """One verdict; where it leaves the question open, what would settle it is done once, and judged."""
    rng = np.random.default_rng(seed)
    plan = planned(case)
    values, noise = plan.outcomes(days, rng), studies(case, days, rng)
    told = np.full((2, 2, days), "", dtype="<U40")
    told[:, 0] = words(case, plan, values, noise, RISK)
    after = level_of(2, RISK) if ledger else RISK
    for truth, gain in enumerate((0.0, case.smallest)):
        groups = defaultdict(list)
        for one in np.flatnonzero(told[truth, 0] == NOT_SETTLED):
            own = {key: value[one] if np.ndim(value) else value for key, value in noise.items()}
            more = _more(case, plan, values[one] + gain * plan.on, own, after)
            if more:
                groups[more].append(one)
        for (pairs, pulls), rows in groups.items():
            sets = [(place % 2, case.pulls) for place in range(case.sets)]
            order = np.tile([0, 1, 1, 0], pairs)[: 2 * pairs]
            whole = Design.of(case, [*sets, *((int(on), pulls) for on in order)])
            later = whole.outcomes(len(rows), rng)
            if whole.fitting is None:
                later[:, : plan.pulls] = values[rows]
            else:  # further fittings are independent of those that are there
                later = np.hstack([values[rows], later[:, plan.pulls :]])
            own = {key: value[rows] if np.ndim(value) else value for key, value in noise.items()}
            told[truth, 1, rows] = words(case, whole, later, own, after)[truth]
    return _summed(told)


def _more(case: Case, plan: Design, y: np.ndarray, noise: dict[str, Any], risk: float) -> tuple[int, int] | None:
    """Pairs and pulls a slot that a day is told."""
    question = ("oil", "thin")
    ask = Ask("y", smallest_gain={question: case.smallest}, ledger={question: Level(1, RISK, risk)}, checks=False)
    gain = judge_trial(plan.trial(), y, KnownNoise.of(noise), ask).changes[0]
    if not gain.more_pulls:
        return None
    if gain.more_installs:
        return gain.more_installs // 2, gain.more_pulls // gain.more_installs
    return gain.more_pulls // 2, 1


def _summed(told: np.ndarray) -> Found:
    """Of verdicts, shape (truths, steps, campaigns)."""
    nothing, smallest = told
    real = ((nothing != NOT_SETTLED) & (nothing != NO_DIFFERENCE) & (nothing != "")).any(axis=0)
    none = (smallest == NO_DIFFERENCE).any(axis=0)
    settled = (told != NOT_SETTLED) & (told != "")
    right = np.stack([nothing == NO_DIFFERENCE, smallest == REAL_GAIN])
    first = np.where(settled.any(axis=1), settled.argmax(axis=1), told.shape[1] - 1)
    shares = (right & settled).any(axis=1).mean(axis=1)
    return Found(float(real.mean()), float(none.mean()), (float(shares[0]), float(shares[1])), float(first.mean() + 1))


def table(days: int, seed: int) -> Iterator[str]:
    """The lines of the table, as they are worked out."""
    yield f"{days} campaigns a cell (a third of that where doing what would settle it is simulated), seed {seed};"
    yield "made by `tests/benchmarks/ledger_study.py`. Shares in percent; in brackets without the ledger."
    yield ""
    heads = ("day", "who comes back", "false real", "false no difference", "told right: nothing", "smallest gain",
             "verdicts until settled")  # fmt: skip
    yield f"| {' | '.join(heads)} |"
    yield f"|{' --- |' * len(heads)}"
    for case in CASES:
        for protocol, name in PROTOCOLS.items():
            both = [
                told_once(case, days // 3, seed, ledger=ledger)
                if protocol == "told"
                else row_of(case, protocol, days, seed, ledger=ledger)
                for ledger in (True, False)
            ]
            cells = [
                *(
                    f"{100 * getattr(both[0], x):.1f} ({100 * getattr(both[1], x):.1f})"
                    for x in ("false_real", "false_none")
                ),
                *(f"{100 * both[0].settled[i]:.0f} ({100 * both[1].settled[i]:.0f})" for i in (0, 1)),
                f"{both[0].verdicts:.1f}",
            ]
            yield f"| {case.name} | {name} | {' | '.join(cells)} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--days", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", type=Path, help="a document with the markers of this table")
    given = parser.parse_args()
    print_table(table(given.days, given.seed), given.write, BEGIN, END)


if __name__ == "__main__":
    main()
