"""Several refit parts without a study: what the rule between "crossed" and "longer of two" gives.

    python tests/benchmarks/crossed_study.py --days 600 --designs 40

Planned days and random small designs of two and three parts, install SDs of 0 to 2 pull SDs, alike and tenfold apart,
no wander. For every change of a refit part three intervals are counted on the same days: that of the route that the
rule takes, Kenward and Roger's with one refit SD for each part, and the longer of two. Lengths are mean half-widths
over that of one who knows the variances. Beside them the length that nobody can expect to stay below: of a t interval
on the degrees of freedom that the day holds of the SDs in question, at their true values.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from coverage_designs import DESIGNS
from wander_study import day_text, part, planned

from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.fits import fit, fit_design
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.judging.routes import CROSSED, LONGER, NONE, SHORTENED, choose_routes
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.generalised import of_one
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import Outcomes, Studies, decompose, information
from doe.stats.precision import root_mean
from doe.stats.student import upper_quantile

SDS = ((0.0, 0.0), (0.3, 0.3), (0.5, 0.5), (1.0, 1.0), (2.0, 2.0), (0.1, 1.0), (1.0, 0.1), (0.2, 2.0), (2.0, 0.2))
"""Refit SDs of the change's own part and of the others, in pull SDs."""
CALM = KnownNoise()  # no study and no insurance
RULE, SHORT, LONG = "by the rule", "crossed", "longer of two"
OWN, ALL = "its own SD unknown", "all SDs unknown"
ASKED = 1.4  # times the length of one who knows the variances, at most, with 4 df or more and half a pull SD or more


@dataclass(frozen=True, slots=True)
class Found:
    """One change at one pair of SDs: coverage and mean length of each interval that it can have."""

    design: str
    change: int
    own: float
    others: float
    route: str
    left: int  #: J - r of its part
    coverage: dict[str, float]
    length: dict[str, float]
    within_reach: dict[str, float]  #: length with the SD of its own part to be found, and with all of them


def random_walk(seed: int) -> Trial:
    """Two or three parts by turns, at random or in spells, now and then two at once or a fresh refit."""
    rng = np.random.default_rng(seed)
    parts, stints, kind = int(rng.integers(2, 4)), int(rng.integers(6, 22)), int(rng.integers(3))
    on, fresh = np.zeros((stints, parts), int), np.ones((stints, parts), bool)
    turn = 0
    for stint in range(1, stints):
        if kind == 0:
            turn = (turn + 1) % parts
        elif kind == 2 or rng.random() < 0.35:
            turn = int(rng.integers(parts))
        on[stint], fresh[stint] = on[stint - 1], False
        on[stint, turn], fresh[stint, turn] = 1 - on[stint, turn], True
        if rng.random() < 0.12:
            other = int(rng.integers(parts))
            fresh[stint, other] = True
            on[stint, other] ^= int(other != turn and rng.random() < 0.5)
    pulls = rng.integers(1, 5, stints) if rng.random() < 0.4 else np.full(stints, int(rng.integers(1, 5)))
    slot = np.repeat(np.arange(stints), pulls)
    minute = (1 + np.arange(len(slot))) * 4.0 + slot * 15.0
    names = [f"part {k + 1}" for k in range(parts)]
    return design_trial(
        {name: on[slot, k] for k, name in enumerate(names)}, dict.fromkeys(names, 0),
        {name: np.cumsum(fresh[:, k])[slot] for k, name in enumerate(names)}, minute, None, "linear",
    )  # fmt: skip


GUESSED = "pull_sd = 1.0\ninstall_sd = 0.7\nwander_sd = 0.0"
PLANNED = {
    "two parts, a long day": day_text(
        ("07:00", "21:00"), GUESSED,
        part("oil", "thin 15 15 1 1.5", refit=True) + part("plugs", "cold 15 15 0 1.5", refit=True),
    ),
    "two parts and two quick ones": day_text(
        ("08:00", "18:00"), GUESSED,
        part("oil", "thin 20 20 1 2", refit=True) + part("plugs", "cold 15 15 0 2", refit=True)
        + part("vacuum", "on 2 2 0 1") + part("flap", "open 2 2 0 1"),
    ),
    "three parts": day_text(
        ("07:00", "20:00"), GUESSED,
        part("oil", "thin 15 15 1 2", refit=True) + part("plugs", "cold 15 15 0 2", refit=True)
        + part("carburettor", "big 15 15 0 2", refit=True),
    ),
    "two oils and plugs": day_text(
        ("07:00", "20:00"), GUESSED,
        part("oil", "thin 15 15 1 2", "thinner 15 15 1 2", refit=True) + part("plugs", "cold 15 15 0 2", refit=True),
    ),
}  # fmt: skip


def designs(count: int, first: int = 5000) -> Iterator[tuple[str, Trial]]:
    """Planned days, the coverage table's day of three parts, and random ones whose pulls determine every gain."""
    for name, text in PLANNED.items():
        yield name, planned(text).trial
    keys = ("change", "baseline", "install", "minute", "day", "drift")
    yield "three in turn", design_trial(**{key: DESIGNS["three refit parts in turn"].get(key) for key in keys})
    for seed in range(first, first + count):
        trial = random_walk(seed)
        if len(trial.factors) > 1 and trial.determined.all() and trial.error_df > 2:
            yield f"walk {seed}", trial


def outcomes(trial: Trial, sds: dict[str, float], days: int, rng: np.random.Generator) -> np.ndarray:
    """Readings with pull SD 1 and a drift; nothing works."""
    assert trial.minute is not None
    y = 200.0 - 0.004 * trial.minute + rng.standard_normal((days, trial.pulls))
    for name, labels in trial.fittings.items():
        y += sds[name] * rng.standard_normal((days, labels.max() + 1))[:, labels]
    return y


def half_widths(trial: Trial, change: int, y: np.ndarray) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Gains, and half-widths of every interval that the change can have, shape (days,)."""
    model = fit(trial, CALM, y)
    se, df = model.inference.contrast(np.eye(model.inference.estimate.shape[1])[change : change + 1])
    found = {SHORT: (se * upper_quantile(0.025, np.maximum(df, 1.0)))[:, 0]}
    over = trial.means_for(change)
    if over.space.left >= 1 and over.space.determines(trial.fixed().gains[change : change + 1])[0]:
        fixed = trial.fixed()
        pulls = fit_design(decompose(fixed.space, fixed.answers_in(fixed.space)), (), CALM, y)
        halves = []
        for rival in (fit(trial, CALM, y, over=over), pulls):
            se, df = rival.inference.contrast(np.eye(rival.inference.estimate.shape[1])[change : change + 1])
            halves.append((se * upper_quantile(0.025, df))[:, 0])
        found[LONG] = np.fmax(*halves)
    return model.inference.estimate[:, change], found


def known(trial: Trial, change: int, sds: dict[str, float]) -> float:
    """Half-width of one who knows the variances."""
    v = np.eye(trial.pulls)
    for name, z in trial.fittings_apart.items():
        v += sds[name] ** 2 * z @ z.T
    fixed = trial.fixed()
    return 1.959964 * float(np.sqrt(of_one(fixed.matrix, fixed.gains, [v], np.ones(1)).covariance[0, change, change]))


def within_reach(trial: Trial, change: int, sds: dict[str, float]) -> dict[str, float]:
    """Mean half-width of t on the df of the asymptotic information, over that of one who knows the variances."""
    fixed, parts = trial.fixed(), trial.fittings_apart
    design = decompose(fixed.space, fixed.gains, list(parts.values()))
    theta = np.array([[1.0, *(max(sds[name], 1e-3) ** 2 for name in parts)]])
    found = infer(design, Outcomes.of_nothing(design, 1), theta)
    each, variance = found.parts[0, :, change, change], found.covariance[0, change, change]
    own = 1 + list(parts).index(trial.fitted_alike[trial.factors[change]])
    told = information(design, np.linalg.inv(design.covariance(theta)), theta, Studies.none(design.components))[0]
    with np.errstate(divide="ignore"):  # nothing is told of it: no df, and no length
        own_spread = each[own] ** 2 / told[own, own]
    spread = {OWN: float(own_spread), ALL: float(each @ np.linalg.pinv(told) @ each)}
    df = {key: 2 * variance**2 / one for key, one in spread.items()}
    return {key: float(upper_quantile(0.025, one) * root_mean(one)) / 1.959964 for key, one in df.items()}


def study(name: str, trial: Trial, days: int, rng: np.random.Generator) -> Iterator[Found]:
    """All changes of refit parts of one design, at all SDs."""
    routes = choose_routes(trial, CALM)
    for change, route in enumerate(routes):
        if trial.grouping(change) is None:
            continue
        own_part = trial.factors[change]
        for own, others in SDS:
            sds = {f: own if f == own_part else others for f in trial.fittings}
            y = outcomes(trial, sds, days, rng)
            gain, halves = half_widths(trial, change, y)
            found = estimate(trial, y, CALM)
            if route != NONE:
                halves[RULE] = found.half_width(0.05)[:, change]
            oracle = known(trial, change, sds)
            yield Found(
                name, change, own, others, route, trial.left_between[own_part],
                {key: float((np.abs(gain) <= half).mean()) for key, half in halves.items()},
                {key: float(np.nanmean(half) / oracle) for key, half in halves.items()},
                within_reach(trial, change, sds),
            )  # fmt: skip


def table(found: list[Found]) -> str:
    """One row for each pair of SDs, over the changes that the rule gives the route."""
    lines = [
        "| own SD, others' | changes | worst coverage | mean coverage | length | of them with another interval | "
        "its length | largest ratio | shortened | worst coverage | mean coverage | length | by the longer of two | "
        "largest ratio | kept at longer of two | worst coverage | length |",
        "|" + " --- |" * 17,
    ]
    for sds in SDS:
        here = [f for f in found if (f.own, f.others) == sds]
        crossed, short, longer = ([f for f in here if f.route == route] for route in (CROSSED, SHORTENED, LONGER))
        both = [f for f in crossed if LONG in f.length]
        mean = lambda of, key: np.exp(np.mean([np.log(f.length[key]) for f in of])) if of else np.nan  # noqa: E731
        worst = lambda of: 100 * min((f.coverage[RULE] for f in of), default=np.nan)  # noqa: E731
        average = lambda of: 100 * np.mean([f.coverage[RULE] for f in of])  # noqa: E731
        ratio = lambda of: max((f.length[RULE] / f.length[LONG] for f in of), default=np.nan)  # noqa: E731
        lines.append(
            f"| {sds[0]:g}, {sds[1]:g} | {len(crossed)} | {worst(crossed):.1f} | {average(crossed):.1f} | "
            f"{mean(crossed, RULE):.2f} | {len(both)}: {mean(both, RULE):.2f} | {mean(both, LONG):.2f} | "
            f"{ratio(both):.2f} | {len(short)} | {worst(short):.1f} | {average(short):.1f} | {mean(short, RULE):.2f} | "
            f"{mean(short, LONG):.2f} | {ratio(short):.2f} | {len(longer)} | {worst(longer):.1f} | "
            f"{mean(longer, RULE):.2f} |"
        )
    return "\n".join(lines)


def beyond_asked(found: list[Found]) -> str:
    """By route, the share of the cells that are longer than asked, and of those that must be."""
    lines = []
    for route in (CROSSED, SHORTENED, LONGER):
        here = [f for f in found if f.route == route and f.left >= 4 and f.own >= 0.5]
        lengths = {
            "by the rule": [f.length[RULE] for f in here],
            "longer of two": [f.length.get(LONG, np.nan) for f in here],
            "crossed there": [f.length[SHORT] for f in here],
        } | {f"expected, {key}": [f.within_reach[key] for f in here] for key in (OWN, ALL)}
        told = (f"{what} {100 * np.mean(np.array(one) > ASKED):.0f} %" for what, one in lengths.items() if one)
        lines.append(
            f"{route}, {len(here)} cells of 4 df or more, own SD 0.5 or more: beyond {ASKED} {', '.join(told)}"
        )
    return "\n".join(lines)


def main() -> None:
    """Print the table, and every change that stands out."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--days", type=int, default=1000)
    ask.add_argument("--designs", type=int, default=40)
    ask.add_argument("--seed", type=int, default=1)
    options = ask.parse_args()
    rng = np.random.default_rng(options.seed)
    found: list[Found] = []
    for name, trial in designs(options.designs):
        found += study(name, trial, options.days, rng)
    routes = {(f.design, f.change): f.route for f in found}
    counts = {route: list(routes.values()).count(route) for route in (CROSSED, SHORTENED, LONGER, NONE)}
    print(f"{len({f.design for f in found})} designs, changes by route: {counts}; {options.days} days a cell\n")
    print(table(found))
    print(f"\n{beyond_asked(found)}")


if __name__ == "__main__":
    main()
