"""How often each thing that goes wrong with a day is named, and how often any is on days on which nothing did.

    python tests/benchmarks/fault_study.py --days 300

Invented days with known faults: pull SD 1, refit SD 0.5 (where anything is refitted), every change worth 3 pull SDs,
a drift of half a pull SD an hour. For each fault and size the days on which it is named by its own name, and in
brackets those on which anything is named. Of clean days those on which nothing is.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from coverage_designs import DESIGNS

from doe.analysis.judging.checks.at_one_level import check
from doe.analysis.judging.checks.outcome import Outcome
from doe.analysis.judging.checks.through_time import levels_before, place_in_run
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.mixed_model import indicator
from doe.stats.wander import wander_factor

BEGIN, END = "<!-- faults: begin -->", "<!-- faults: end -->"
INSTALL, GAIN, SLOPE = 0.5, 3.0, 0.5
PULL_DF, INSTALL_DF = 12.0, 6.0
LUNCH = 45.0
COVERAGE_DESIGNS = ("balanced, 8 fittings x 4", "unbalanced, 7 fittings")


@dataclass(frozen=True)
class Day:
    """An invented day."""

    trial: Trial
    studied: bool

    @property
    def fittings(self) -> list[np.ndarray]:
        """Fittings of each refit part."""
        return list(self.trial.fittings.values())


def _day(
    configurations: list[dict[str, str]], pulls: int, changeover: float, refit: list[str], *, studied: bool
) -> Day:
    """Sets of some pulls each, in order, with lunch in the middle."""
    slot = np.repeat(np.arange(len(configurations)), pulls)
    minute = 4.0 * np.arange(len(slot)) + changeover * slot + LUNCH * (slot >= len(configurations) // 2)
    names = list(configurations[0])
    change = {name: np.array([one[name] for one in configurations])[slot] for name in names}
    install = {}
    for name in refit:
        levels = np.array([one[name] for one in configurations])
        install[name] = np.concatenate([[0], np.cumsum(levels[1:] != levels[:-1])])[slot]
    baseline = dict.fromkeys(names, "base")
    return Day(design_trial(change, baseline, install or None, minute, None, "linear"), studied)


def _oil(word: str) -> list[dict[str, str]]:
    return [{"oil": {"a": "base", "b": "thin", "c": "thick"}[letter]} for letter in word]


def _mixed() -> list[dict[str, str]]:
    sets = []
    for number, letter in enumerate("abababababab"):
        for vacuum in ("base", "on") if number % 2 else ("on", "base"):
            sets.append({"oil": {"a": "base", "b": "thin"}[letter], "vacuum": vacuum})
    return sets


def _trims() -> list[dict[str, str]]:
    names = ["fuel", "timing", "vacuum", "flap"]
    rng = np.random.default_rng(3)
    sets = []
    for _ in range(4):
        for number in rng.permutation(8):
            on = [] if number < 2 else [int(number) % 4] if number < 6 else [int(number) % 4, (int(number) + 2) % 4]
            sets.append({name: "on" if i in on else "base" for i, name in enumerate(names)})
    return sets


DAYS: dict[str, Callable[[], Day]] = {
    "one oil, study": lambda: _day(_oil("abababababab"), 3, 20, ["oil"], studied=True),
    "one oil": lambda: _day(_oil("abababababab"), 3, 20, ["oil"], studied=False),
    "two oils, study": lambda: _day(_oil("abcacbabcacb"), 3, 20, ["oil"], studied=True),
    "oil and vacuum, study": lambda: _day(_mixed(), 2, 10, ["oil"], studied=True),
    "four trims": lambda: _day(_trims(), 2, 2, [], studied=False),
}

Fault = Callable[[Day, np.ndarray, np.random.Generator], np.ndarray]


def _bad_pull(size: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    y[rng.integers(len(y))] += size * rng.choice([-1, 1])
    return y


def _sets(trial: Trial) -> list[np.ndarray]:
    """Rows of each fitting, of quick parts of each set."""
    what = np.column_stack([trial.install, trial.changes]) if not trial.fittings else trial.fittings["oil"][:, None]
    order = np.arange(trial.pulls)
    return np.split(order, np.flatnonzero(place_in_run(what, order) == 0)[1:])


def _with_gain(size: float, fault: Callable[..., np.ndarray]) -> Fault:
    """A fault of labels, on a day on which every change gives so much."""

    def made(day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        return fault(size, day, readings(day, rng, gain=size), rng)

    return made


def _wrong_label(size: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """In one fitting or set the first part was not what the log says; `size` is its gain."""
    sets = _sets(day.trial)
    rows = sets[rng.integers(len(sets))]
    y[rows] += -size if day.trial.changes[rows[0], 0] > 0.5 else size
    return y


def _exchanged(size: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Two neighbours with each other's labels; `size` is the gain of every change."""
    trial, sets = day.trial, _sets(day.trial)
    mine = [i for i, name in enumerate(trial.factors) if not trial.fittings or name in trial.fittings]
    sizes = np.array([size * (1 + trial.factors[:i].count(trial.factors[i])) for i in mine])
    gains = [float(trial.changes[rows[0], mine] @ sizes) for rows in sets]
    pairs = [i for i in range(len(sets) - 1) if gains[i] != gains[i + 1]]
    i = pairs[rng.integers(len(pairs))]
    y[sets[i]] += gains[i + 1] - gains[i]
    y[sets[i + 1]] += gains[i] - gains[i + 1]
    return y


def _bow(size: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    minute = day.trial.minute
    assert minute is not None
    place = 2 * (minute - minute.min()) / np.ptp(minute) - 1
    return y - size * place**2


def _wander(size: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    assert day.trial.minute is not None
    return y + size * wander_factor(day.trial.minute, day.trial.day) @ rng.standard_normal(len(y))


def _step(size: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    minute = day.trial.minute
    assert minute is not None
    after = np.arange(len(minute)) > int(np.diff(minute).argmax())
    return y + size * after * rng.choice([-1, 1])


def _cold(size: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The first pull after a changeover is low, the next by a third of that."""
    trial = day.trial
    what = trial.install[:, None] if trial.fittings else trial.changes
    return y - size * np.exp(-1.1 * place_in_run(what, np.arange(len(y))))


def _cold_morning(size: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The engine comes in cold: the first pull is low, and what is missing dies away over 12 minutes."""
    minute = day.trial.minute
    assert minute is not None
    return y - size * np.exp(-(minute - minute.min()) / 12.0)


def _carried(share: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A share of what was on before stays for a fitting, in the place of as much of what is on."""
    trial = day.trial
    factor = trial.factors[0]
    mine = [i for i, name in enumerate(trial.factors) if name == factor]
    gains = np.concatenate([[0.0], GAIN * (1 + np.arange(len(mine)))])
    now = trial.changes[:, mine] @ gains[1:]
    return y + share * (gains[levels_before(trial, factor)] - now)


def _noisy(times: float, day: Day, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Pulls with the first change on scatter so many times as much."""
    on = day.trial.changes[:, 0] > 0.5
    return y + on * np.sqrt(times**2 - 1) * rng.standard_normal(len(y))


FAULTS: dict[str, tuple[str, tuple[tuple[str, Fault], ...]]] = {
    "bad pull, off by (pull SDs)": ("outlying pull", tuple((f"{s:g}", partial(_bad_pull, s)) for s in (4, 6))),
    "wrong label on a fitting or set, gain (pull SDs)": (
        "outlying fitting", tuple((f"{s:g}", _with_gain(s, _wrong_label)) for s in (3, 5))),
    "labels of two neighbours exchanged, gain (pull SDs)": (
        "outlying fitting", tuple((f"{s:g}", _with_gain(s, _exchanged)) for s in (2, 4))),
    "drift bowed by (pull SDs)": ("next drift degree", tuple((f"{s:g}", partial(_bow, s)) for s in (1.5, 3))),
    "wander (pull SDs, 60 min)": ("wander", tuple((f"{s:g}", partial(_wander, s)) for s in (0.5, 1))),
    "step at lunch (pull SDs)": ("step at the longest break", tuple((f"{s:g}", partial(_step, s)) for s in (1.5, 3))),
    "first pull after each changeover cold by (pull SDs)": (
        "trend after changeovers", tuple((f"{s:g}", partial(_cold, s)) for s in (1, 2))),
    "cold engine, first pull of the day low by (pull SDs)": (
        "cold start", tuple((f"{s:g}", partial(_cold_morning, s)) for s in (2, 4))),
    "carried over, share of 3 pull SDs": ("carry-over", tuple((f"{s:.0%}", partial(_carried, s)) for s in (0.25, 0.5))),
    "scatter with a change on, times": (
        "scatter by configuration", tuple((f"{s:g}", partial(_noisy, s)) for s in (2, 3))),
}  # fmt: skip
#: name -> the check, and how many times its study the scatter of today is
STUDY_FAULTS = {
    "today's pull scatter, times the study's": ("pull scatter and study", ({"pull": 2.0}, {"pull": 3.0})),
    "today's refit scatter, times the study's": ("refit scatter and study", ({"install": 2.0}, {"install": 4.0})),
}


def readings(
    day: Day, rng: np.random.Generator, install: float = INSTALL, pull: float = 1.0, gain: float = GAIN
) -> np.ndarray:
    """A day on which nothing goes wrong."""
    trial = day.trial
    sizes = [gain * (1 + trial.factors[:i].count(name)) for i, name in enumerate(trial.factors)]
    assert trial.minute is not None
    y = 200 + trial.changes @ np.array(sizes) + SLOPE * trial.minute / 60 + pull * rng.standard_normal(trial.pulls)
    for labels in day.fittings:
        z = indicator(labels)
        y = y + install * z @ rng.standard_normal(z.shape[1])
    return np.asarray(y)


def study(day: Day, rng: np.random.Generator, install: float = INSTALL) -> dict[str, Any]:
    """A noise study about the truth."""
    if not day.studied:
        return {}
    found = {"pull_sd": np.sqrt(rng.chisquare(PULL_DF) / PULL_DF), "pull_df": PULL_DF}
    if install > 0:
        sd = install * np.sqrt(rng.chisquare(INSTALL_DF) / INSTALL_DF)
        found |= {"install_sd": sd, "install_df": INSTALL_DF}
    return found


def named(day: Day, y: np.ndarray, noise: Mapping[str, Any]) -> list[str]:
    """The checks that are named."""
    outcome = Outcome(day.trial, y, KnownNoise.of(noise), tuple(str(i + 1) for i in range(len(y))))
    return [finding.check for finding, _ in check(outcome)[1]]


def cell(
    day: Day, check_name: str, fault: Fault | None, days: int, seed: int, *, pull: float = 1.0, install: float = 1.0
) -> tuple[float, float]:
    """Share of days on which the check is named, and on which any is; today's scatter is so many times the study's."""
    rng = np.random.default_rng(seed)
    own = every = 0
    for _ in range(days):
        y = readings(day, rng, install * INSTALL, pull)
        if fault is not None:
            y = fault(day, y, rng)
        found = named(day, y, study(day, rng))
        own += check_name in found
        every += bool(found)
    return own / days, every / days


def quiet(day: Day, days: int, seed: int, install: float = INSTALL, wander: float = 0.0) -> float:
    """Share of clean days on which nothing is named."""
    rng = np.random.default_rng(seed)
    loud = 0
    for _ in range(days):
        y = readings(day, rng, install)
        if wander:
            y = _wander(wander, day, y, rng)
        loud += bool(named(day, y, study(day, rng, install)))
    return 1 - loud / days


def coverage_days() -> dict[str, Day]:
    """Some designs of the coverage study, with and without a noise study."""
    found = {}
    for name in COVERAGE_DESIGNS:
        d = DESIGNS[name]
        trial = design_trial(d["change"], d["baseline"], d["install"], d["minute"], d.get("day"), d["drift"])
        for studied in (True, False):
            found[f"{name}{', study' * studied}"] = Day(trial, studied)
    return found


def clean_rows(days: Mapping[str, Day], count: int, seed: int) -> Iterator[str]:
    """The table of quiet days; of the designs of the coverage study half as many days, without the further columns."""
    yield "| clean day | pulls | quiet | at wander 0.25 | at refit SD 0 | at refit SD 2 |"
    yield "|" + " --- |" * 6
    for name, day in (days | coverage_days()).items():
        cells = ["", "", ""]
        if name in days:
            cells[0] = f"{100 * quiet(day, count // 4, seed, wander=0.25):.1f}"
            if day.fittings:
                cells[1:] = [f"{100 * quiet(day, count // 4, seed, sd):.1f}" for sd in (0.0, 2.0)]
        clean = quiet(day, count if name in days else count // 2, seed)
        yield f"| {name} | {day.trial.pulls} | {100 * clean:.1f} | {' | '.join(cells)} |"


def fault_rows(days: Mapping[str, Day], count: int, seed: int) -> Iterator[str]:
    """The table of faults."""
    yield f"| fault | size | {' | '.join(days)} |"
    yield "|" + " --- |" * (len(days) + 2)
    for fault, (check_name, sizes) in FAULTS.items():
        for size, make in sizes:
            cells = [_shown(cell(day, check_name, make, count, seed)) for day in days.values()]
            yield f"| {fault} | {size} | {' | '.join(cells)} |"
    for fault, (check_name, times_of) in STUDY_FAULTS.items():
        for times in times_of:
            cells = [
                _shown(cell(day, check_name, None, count, seed, **times)) if day.studied else ""
                for day in days.values()
            ]
            yield f"| {fault} | {next(iter(times.values())):g} | {' | '.join(cells)} |"


def main() -> None:
    """Print both tables, or write them."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--days", type=int, default=60, help="with a fault, in each cell")
    parser.add_argument("--clean", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", type=Path, help="write the tables between the marks of this file")
    options = parser.parse_args()
    days = {name: make() for name, make in DAYS.items()}
    lines = [
        f"Clean days on which nothing is named: {options.clean} of each of the first five (pull SD 1, refit SD 0.5),",
        f"{options.clean // 2} of two designs of the coverage study, {options.clean // 4} in the further columns; seed "
        f"{options.seed}.",
        "",
    ]
    for line in clean_rows(days, options.clean, options.seed):
        print(line, flush=True)
        lines.append(line)
    lines += [
        "",
        f"Faults named by their own name, and in brackets days on which anything is named; {options.days} days a",
        "cell. SDs in pull SDs.",
        "",
    ]
    for line in fault_rows(days, options.days, options.seed):
        print(line, flush=True)
        lines.append(line)
    if options.write:
        page = options.write.read_text(encoding="utf-8")
        before, _, rest = page.partition(BEGIN)
        after = rest.partition(END)[2]
        options.write.write_text("\n".join([before + BEGIN, *lines, END + after]), encoding="utf-8")


def _shown(shares: tuple[float, float]) -> str:
    return f"{100 * shares[0]:.0f} ({100 * shares[1]:.0f})"


if __name__ == "__main__":
    main()
