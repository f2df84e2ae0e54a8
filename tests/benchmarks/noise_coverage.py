"""Does every interval that ``doe noise`` prints hold the truth as often as it says, and how often is wander seen?

    python tests/benchmarks/noise_coverage.py --studies 4000 --wander-studies 400 --write docs/noise.md

All in units of the pull SD, which is 1; drift -0.2 an hour.
"""

from __future__ import annotations

import argparse
import itertools
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from doe.analysis.scatter.components import drift, install_scatter, sd_interval
from doe.analysis.scatter.level_scatter import level_scatter
from doe.analysis.scatter.noise_checks import residuals
from doe.analysis.scatter.steadiest import Residual, steadiest
from doe.analysis.scatter.trusted import trusted
from doe.analysis.scatter.wander import time_constant
from doe.analysis.scatter.wander_evidence import WanderLikelihood, time_constants
from doe.analysis.trials.clash import sums_of_squares
from doe.analysis.trials.trial import Trial
from doe.stats.mixed_model import indicator
from doe.stats.outliers import range_factor
from doe.stats.wander import wander_factor

SLOPE = -0.2  # an hour
NEW_PULLS = 3  # that a later pair of means, or a later range, is made of
CORRELATION = 0.6  # of the metrics' residuals
METRIC_SDS = (1.0, 1.3, 1.6)  # so that the second costs 1.69 pulls, the third 2.56
LEVELS = np.array([1.0, 1.5, 2.0, 3.0, 4.0])
INSTALL_SDS = (0.0, 0.3, 1.0)
QUICK = 15.0  # minutes: a time constant that a study can tell better than 60
WANDER_SDS = (0.0, 0.5, 1.0, 2.0, 4.0)
BEGIN, END = "<!-- noise coverage: begin -->", "<!-- noise coverage: end -->"
HEAD = ("study", "install SD", "pull SD", "install SD's interval", "drift", "repeatability limit", "range of 3",
        "mean of 3", "two means of 3", "refitted between", "cost of a metric")  # fmt: skip
WANDER_HEAD = ("study", "install SD", "wander SD", "time constant", "shown", "time constant's interval held it")
SHORT = 0.94


def study_design(pulls: list[int], *, change: bool = False, days: int = 1, gap: float = 4.0) -> Trial:
    """The same parts fitted again after 30 minutes, so many pulls each time; with a change in every other fitting."""
    install = np.repeat(np.arange(len(pulls)), pulls)
    minute = gap * np.arange(1, len(install) + 1) + 30.0 * install
    tried = (install % 2)[:, None].astype(float) if change else np.zeros((len(install), 0))
    names = ("part",) * change, ("new",) * change
    day = np.repeat(np.arange(days), len(install))
    install = np.concatenate([install + i * len(pulls) for i in range(days)])
    fittings = {"part": install} if len(pulls) > 1 else {}
    return Trial(*names, np.tile(tried, (days, 1)), fittings, install, np.tile(minute, days), day)


DESIGNS = {
    "5 fittings of 4": study_design([4] * 5),
    "8 fittings of 5": study_design([5] * 8),
    "fittings of 5, 2, 4, 1, 3, 4": study_design([5, 2, 4, 1, 3, 4]),
    "a change in every other of 8 fittings of 3": study_design([3] * 8, change=True),
    "3 fittings of 4 on each of 2 days": study_design([4] * 3, days=2),
    "12 pulls untouched": study_design([12]),
}
WANDER_DESIGNS = ("5 fittings of 4", "8 fittings of 5")
LONG = {
    "24 pulls untouched": study_design([24]),
    "60 pulls untouched": study_design([60]),
    "10 fittings of 6": study_design([6] * 10),
}


def readings(
    trial: Trial,
    studies: int,
    rng: np.random.Generator,
    *,
    install_sd: float = 0.0,
    wander_sd: float = 0.0,
    minutes: float = 60.0,
) -> np.ndarray:
    """Readings with pull SD 1 and a drift; days differ; shape (studies, pulls)."""
    assert trial.minute is not None
    y = 400.0 + rng.standard_normal((studies, trial.pulls)) + SLOPE * trial.minute / 60 + 2.0 * trial.day
    groups = indicator(trial.install)
    y += install_sd * rng.standard_normal((studies, groups.shape[1])) @ groups.T
    if wander_sd:
        y += wander_sd * rng.standard_normal(y.shape) @ wander_factor(trial.minute, trial.day, (minutes,)).T
    return y


def held(trial: Trial, install_sd: float, studies: int, rng: np.random.Generator) -> dict[str, float | None]:
    """Share of studies in which each interval held the truth; None where it is not printed."""
    found = [_one(trial, install_sd, y, rng) for y in readings(trial, studies, rng, install_sd=install_sd)]
    shares: dict[str, float | None] = {key: _mean([one[key] for one in found]) for key in found[0]}
    return {**shares, "cost of a metric": costs_held(trial, studies, rng)}


def _mean(hits: list[bool | None]) -> float | None:
    told = [hit for hit in hits if hit is not None]
    return float(np.mean(told)) if told else None


def _one(trial: Trial, install_sd: float, y: np.ndarray, rng: np.random.Generator) -> dict[str, bool | None]:
    """Which of one study's intervals held the truth, of the cell or of later pulls."""
    values = y - y[0]
    squares = sums_of_squares(trial, values)
    df = squares.within_df
    sd = float(np.sqrt(squares.within / df))
    low, high = sd_interval(sd**2, df)
    install, slope = install_scatter(squares), drift(trial, values, refits=squares.between_df > 0)
    first, second = rng.standard_normal((2, NEW_PULLS))
    apart = rng.standard_normal(2) * install_sd
    limits = trusted(sd, df, install, NEW_PULLS)
    refitted = first.mean() + apart[0] - second.mean() - apart[1]
    return {
        "pull SD": low <= 1 <= high,
        "install SD's interval": None if install is None else install.low <= install_sd <= install.high,
        "drift": None if slope is None else slope.low <= SLOPE <= slope.high,
        "repeatability limit": bool(abs(first[0] - second[0]) < range_factor(2) * sd),
        "range of 3": bool(np.ptp(first) < range_factor(NEW_PULLS) * sd),
        "mean of 3": bool(abs(first.mean()) < limits.mean),
        "two means of 3": bool(abs(first.mean() - second.mean()) < limits.two_means),
        "refitted between": None if limits.refitted is None else bool(abs(refitted) < limits.refitted),
    }


def costs_held(trial: Trial, studies: int, rng: np.random.Generator) -> float:
    """Share of printed costs (three metrics: two costs a study) that hold the true ratio of variances."""
    n = len(METRIC_SDS)
    mix = np.linalg.cholesky(np.full((n, n), CORRELATION) + (1 - CORRELATION) * np.eye(n))
    truth = {str(sd): sd for sd in METRIC_SDS}
    hits = []
    for _ in range(studies):
        noise = mix @ rng.standard_normal((n, trial.pulls))
        left = [residuals(trial, sd * row) for sd, row in zip(METRIC_SDS, noise, strict=True)]
        found = steadiest([Residual(str(sd), r.values, r.df) for sd, r in zip(METRIC_SDS, left, strict=True)])
        assert found is not None
        hits += [c.low <= (truth[c.name] / truth[found.name]) ** 2 <= c.high for c in found.others]
    return float(np.mean(hits))


def exponents_held(exponent: float, studies: int, rng: np.random.Generator) -> tuple[float, float]:
    """Five levels with three pulls each: share of exponents' intervals that hold the truth, share with p below 5 %."""
    group = np.repeat(np.arange(len(LEVELS)), 3)
    trial = Trial((), (), np.zeros((len(group), 0)), {"level": group}, group, None, group * 0, "none")
    scale = 0.01 * LEVELS[group] ** exponent
    found = [level_scatter(trial, LEVELS[group] + scale * rng.standard_normal(len(group))) for _ in range(studies)]
    told = [f for f in found if f is not None]
    return float(np.mean([f.low <= exponent <= f.high for f in told])), float(np.mean([f.p < 0.05 for f in told]))


def wander_seen(
    trial: Trial,
    install_sd: float,
    wander_sd: float,
    minutes: float,
    studies: int,
    rng: np.random.Generator,
    *,
    times: bool = True,
) -> tuple[float, int, int]:
    """Share of studies that show wander; of those, how many tell its time constant, and how many of them rightly."""
    likelihood = WanderLikelihood(trial, time_constants(trial))
    outcomes = readings(trial, studies, rng, install_sd=install_sd, wander_sd=wander_sd, minutes=minutes)
    shown = [y for y in outcomes if likelihood.against_none(y @ likelihood.contrasts).p < 0.05]
    told = [found for y in shown if times and (found := time_constant(trial, y - y[0])) is not None]
    return len(shown) / studies, len(told), sum(t.low <= minutes <= t.high for t in told)


def _cell(job: tuple[str, float, int, int]) -> str:
    name, install_sd, studies, seed = job
    rng = np.random.default_rng([seed, list(DESIGNS).index(name), int(10 * install_sd)])
    found = held(DESIGNS[name], install_sd, studies, rng)
    return f"| {name} | {install_sd:g} | " + " | ".join(_share(found[key]) for key in HEAD[2:]) + " |"


def _share(share: float | None) -> str:
    return "–" if share is None else f"{100 * share:.1f}" + " **short**" * (share < SHORT)


def _wander_cell(job: tuple[str, float, float, float, int, int]) -> str:
    name, install_sd, wander_sd, minutes, studies, seed = job
    trial = {**DESIGNS, **LONG}[name]
    rng = np.random.default_rng([seed, len(name), int(10 * install_sd), int(10 * wander_sd), int(minutes)])
    shown, told, right = wander_seen(trial, install_sd, wander_sd, minutes, studies, rng)
    held_share = f"{100 * right / told:.0f} of {told}" if told and wander_sd else "–"
    slow = f"{minutes:g}" if wander_sd else "–"
    return f"| {name} | {install_sd:g} | {wander_sd:g} | {slow} | {100 * shown:.1f} | {held_share} |"


def _table(head: tuple[str, ...], lines: list[str]) -> str:
    return "\n".join(["| " + " | ".join(head) + " |", "|" + " --- |" * len(head), *lines])


def main() -> None:
    """Run the study and print or write its tables."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--studies", type=int, default=4000)
    ask.add_argument("--wander-studies", type=int, default=400)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--jobs", type=int, default=2)
    ask.add_argument("--write", type=Path, help="write the tables between the marks of this file")
    options = ask.parse_args()
    began = time.time()
    several = [(name, sd) for name, sd in itertools.product(DESIGNS, INSTALL_SDS) if DESIGNS[name].fittings or not sd]
    jobs = [(name, sd, options.studies, options.seed) for name, sd in several]
    places = [(name, sd) for name in (*WANDER_DESIGNS, *LONG) for sd in (0.0, 0.5)[: 1 + ("fittings" in name)]]
    kinds = [*((sd, 60.0) for sd in WANDER_SDS), (2.0, QUICK)]
    later = [(*place, *kind, options.wander_studies, options.seed) for place in places for kind in kinds]
    with ProcessPoolExecutor(options.jobs) as pool:
        lines, wander_lines = list(pool.map(_cell, jobs)), list(pool.map(_wander_cell, later))
    exponents = {e: exponents_held(e, options.studies, np.random.default_rng(options.seed)) for e in (0.0, 1.0)}
    text = (
        f"{options.studies} studies a row, seed {options.seed}, {options.wander_studies} for wander; made by "
        "`tests/benchmarks/noise_coverage.py`. Shares in percent; SDs in pull SDs.\n\n"
        f"{_table(HEAD, lines)}\n\n{_table(WANDER_HEAD, wander_lines)}\n\n"
        f"Scatter against level (5 levels from 1 to 4, 3 pulls each): the exponent's interval held the truth in "
        f"{100 * exponents[0.0][0]:.1f} % where it is 0 and in {100 * exponents[1.0][0]:.1f} % where it is 1; "
        f"p below 5 % in {100 * exponents[0.0][1]:.1f} % and {100 * exponents[1.0][1]:.1f} %."
    )
    print(f"{time.time() - began:.0f} s", file=sys.stderr)
    if options.write:
        head, rest = options.write.read_text().split(BEGIN)
        options.write.write_text(f"{head}{BEGIN}\n{text}\n{END}{rest.split(END)[1]}")
    else:
        print(text)


if __name__ == "__main__":
    main()
