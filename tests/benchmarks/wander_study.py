"""What wander that nobody stated does to verdicts: with the insurance, and without it (wander_sd = 0).

    python tests/benchmarks/wander_study.py --days 4000

Nothing works on the simulated days (and, for the price, every gain is exactly its smallest). For each day the plan is
made for it: with the insurance, and vouching for no wander. Printed are the days with any 95 % family interval off 0,
in percent, the worst coverage of a single interval, and the questions settled when the engine does not wander.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.analysis.judging.many_outcomes import Judgements, judge_outcomes
from doe.analysis.judging.verdict_rule import NOT_SETTLED, verdicts
from doe.analysis.trials.from_folders import planned_trial
from doe.analysis.trials.trial import Trial
from doe.day.files.dayfile import parse_day
from doe.day.schema import DayFile
from doe.planning.drawn.plan import plan_of
from doe.stats.mixed_model import indicator
from doe.stats.wander import wander_factor

WANDERS = (0.0, 0.25, 0.5, 1.0)
TIMES = (60.0, 20.0, 180.0)


def day_text(hours: tuple[str, str], noise: str, factors: str, warm_up: int = 30, pull: float = 4.0) -> str:
    """An invented day."""
    return f"""
[day]
title = "An invented day"
date = 2026-05-16
start = {hours[0]}:00
finish = {hours[1]}:00
[cell]
warm_up_minutes = {warm_up}
pull_minutes = {pull}
[metric]
name = "mean power"
unit = "hp"
[noise]
{noise}
{factors}"""


def part(name: str, *levels: str, refit: bool = False) -> str:
    """One factor; each level as "name minutes_on minutes_off settling smallest"."""
    text = f'[[factor]]\nname = "{name}"\nbaseline = "base"\nrefit = {str(refit).lower()}\n'
    for level in levels:
        label, on, off, settling, smallest = level.split()
        text += f'[[factor.change]]\nlevel = "{label}"\nminutes_on = {on}\nminutes_off = {off}\n'
        text += f"settling_pulls = {settling}\nsmallest_gain = {smallest}\n"
    return text


QUICK = "pull_sd = 1.0\npull_df = 15"
STUDY = f"{QUICK}\ninstall_sd = 0.5\ninstall_df = 5"
DAYS = {
    "two quick parts": day_text(
        ("09:00", "15:00"), QUICK, part("vacuum", "on 2 2 0 1.0") + part("flap", "open 2 2 0 1.0")
    ),
    "six trims": day_text(
        ("09:00", "17:00"),
        QUICK,
        part("fuel", "lean 1 1 0 1.2", "rich 1 1 0 1.2", "richer 1 1 0 1.2")
        + part("timing", "early 1 1 0 1.2", "late 1 1 0 1.2")
        + part("vacuum", "on 2 2 0 1.2"),
    ),
    "evening with a refit": day_text(
        ("16:00", "21:00"), STUDY, part("oil", "thin 20 20 1 1.5", refit=True) + part("vacuum", "on 2 2 0 1.0")
    ),
    "oil without a study": day_text(
        ("08:00", "17:00"), "pull_sd = 1.0\ninstall_sd = 0.5", part("oil", "thin 20 20 1 2.0", refit=True)
    ),
    "two refit parts, no study": day_text(
        ("07:00", "21:00"),
        "pull_sd = 1.0\ninstall_sd = 0.5",
        part("oil", "thin 15 15 1 1.5", refit=True) + part("plugs", "cold 15 15 0 1.5", refit=True),
    ),
    "one quick part": day_text(("10:00", "12:30"), QUICK, part("vacuum", "on 3 3 0 1.0"), warm_up=20),
    "short stints": day_text(
        ("09:00", "13:00"), "pull_sd = 1.0", part("filter", "none 3 3 1 1.2") + part("spacer", "on 6 6 1 1.5")
    ),
}


@dataclass(frozen=True, slots=True)
class Case:
    """A planned day."""

    day: DayFile
    trial: Trial
    fittings: tuple[np.ndarray, ...]


def planned(text: str) -> Case:
    """The drawn plan of a day."""
    day = parse_day(text)
    trial = planned_trial(day, plan_of(day, seed=1, effort="quick").runs)
    asked = np.asarray(trial.changes.any(axis=0))
    return Case(day, trial.only(asked), tuple(trial.fittings.values()))


def outcomes(
    case: Case, rng: np.random.Generator, days: int, wander: float = 0.0, minutes: float = 60.0, bow: float = 0.0
) -> np.ndarray:
    """Readings of days on which nothing works; SDs in pull SDs, the bow end to middle."""
    trial, noise = case.trial, case.day.noise
    n, pull = trial.pulls, noise.pull_sd or 1.0
    y = 200.0 + pull * rng.standard_normal((days, n))
    for labels in case.fittings:
        z = indicator(labels)
        y += (noise.install_sd or 0.0) * rng.standard_normal((days, z.shape[1])) @ z.T
    assert trial.minute is not None
    if wander:
        factor = wander_factor(trial.minute, trial.day, (minutes,))
        y += wander * pull * rng.standard_normal((days, n)) @ factor.T
    place = 2 * (trial.minute - trial.minute.min()) / np.ptp(trial.minute) - 1
    return y - bow * pull * place**2


def studies(case: Case, rng: np.random.Generator, days: int, **more: Any) -> dict[str, Any]:
    """What is known of the noise: a study for each day, drawn about the truth."""
    noise, found = case.day.noise, {}
    for name in ("pull", "install"):
        sd, df = getattr(noise, f"{name}_sd"), getattr(noise, f"{name}_df")
        if sd and df:
            found |= {f"{name}_sd": sd * np.sqrt(rng.chisquare(df, days) / df), f"{name}_df": df}
    return found | more


def judged(case: Case, y: np.ndarray, noise: dict[str, Any]) -> Judgements:
    """The verdicts' intervals."""
    return judge_outcomes(case.trial, y, noise, confidence=case.day.analysis.confidence)


def off_zero(found: Judgements) -> float:
    """Days with any family interval off 0, in percent."""
    with np.errstate(invalid="ignore"):
        return 100.0 * float(((found.family_low > 0) | (found.family_high < 0)).any(axis=1).mean())


def coverage(found: Judgements) -> float:
    """Worst coverage of a single interval, in percent."""
    with np.errstate(invalid="ignore"):
        held = ((found.low <= 0) & (found.high >= 0)).mean(axis=0)
    return 100.0 * float(held[np.isfinite(found.se).any(axis=0)].min(initial=1.0))


def settled(case: Case, found: Judgements) -> float:
    """Questions settled, half the weight on gains of exactly the smallest, half on none."""
    smallest = np.array(
        [
            c.smallest_gain
            for f, c in case.day.questions
            if (f.name, c.level) in set(zip(found.factors, found.levels, strict=True))
        ],
        float,
    )
    total = 0.0
    for shift in (0.0, smallest):
        limits = (found.family_low, found.family_high, found.inner_low, found.inner_high)
        total += float((verdicts(*(limit + shift for limit in limits), smallest) != NOT_SETTLED).mean(axis=0).sum())
    return total / 2


def rows(name: str, text: str, days: int, seed: int) -> list[str]:
    """The lines of one day."""
    found = []
    for insured in (True, False):
        case = planned(text if insured else text.replace("[noise]", "[noise]\nwander_sd = 0.0"))
        vouched = {} if insured else {"wander_sd": 0.0}
        rng = np.random.default_rng(seed)
        cells = []
        for minutes in TIMES:
            for wander in WANDERS if minutes == TIMES[0] else WANDERS[2:]:
                judgement = judged(
                    case, outcomes(case, rng, days, wander, minutes), studies(case, rng, days, **vouched)
                )
                cells.append(f"{off_zero(judgement):5.1f} ({coverage(judgement):4.1f})")
                if wander == 0:
                    worth = settled(case, judgement)
        bowed = judged(case, outcomes(case, rng, days, bow=3.0), studies(case, rng, days, **vouched))
        kind = "insured" if insured else "vouched"
        found.append(
            f"| {name} | {kind} | {case.trial.pulls} | {' | '.join(cells)} | {off_zero(bowed):5.1f} | {worth:.2f} |"
        )
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--days", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    options = parser.parse_args()
    heads = [f"{w:g} at {t:g} min" for t in TIMES for w in (WANDERS if t == TIMES[0] else WANDERS[2:])]
    print(f"| day | judge | pulls | {' | '.join(heads)} | bow 3 | settled |")
    print("|" + " --- |" * (len(heads) + 5))
    for name, text in DAYS.items():
        if options.only in name:
            print("\n".join(rows(name, text, options.days, options.seed)), flush=True)


if __name__ == "__main__":
    main()
