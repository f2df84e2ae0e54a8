"""Speed of the planner, as ratios measured in the same run on one core.

OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmarks/bench_planning.py

1. Plans evaluated a second, clock included: in batches on stint means, against one by one pull by pull.
2. What an evaluation costs against pulls, installs and questions.
3. How good the plans are after so many evaluations, against the long searches (tests/planning/long_searches.json).
4. Seconds of a whole plan at each effort, for the largest day with an outside reference.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.schema import DayFile
from doe.planning.arrays.batch import Batch, batch_of
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import worth
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.drawn.plan import plan_of
from doe.planning.search.searches import EVALUATIONS, both_kinds, search_both

HERE = Path(__file__).parent
DAYS = HERE.parent / "planning" / "days"
REFERENCE = json.loads((HERE.parent / "reference" / "plan_days.json").read_text(encoding="utf-8"))["days"]
AT_ONCE = 64


def seconds(work: Callable[[], object], repeat: int = 5) -> float:
    """Shortest of some runs, after one to warm up."""
    work()
    times = []
    for _ in range(repeat):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def copies(plan: Batch, count: int) -> Batch:
    """One plan many times over."""
    return Batch(*(np.repeat(array, count, axis=0) for array in (plan.order, plan.pulls, plan.fresh)))


def arrays_of(day: DayFile) -> DayArrays:
    """With at most two changes on at once."""
    return day_arrays(day, candidate_levels(day, mixed=True))


def costs(arrays: DayArrays, plan: Batch) -> tuple[float, float]:
    """Microseconds of one evaluation: in a batch, and pull by pull."""
    many = copies(plan, AT_ONCE)
    return seconds(lambda: worth(arrays, many)) / AT_ONCE * 1e6, seconds(
        lambda: exact(arrays, runs_of(arrays, plan))
    ) * 1e6


def best_known(name: str) -> tuple[DayArrays, Batch]:
    """The best-known plan of a day with an outside reference; the best of ours where it mixes three changes."""
    day = parse_day(REFERENCE[name]["day_toml"])
    arrays = arrays_of(day)
    rows = REFERENCE[name]["plans"]["best known"]["stints"]
    levels = [tuple(f.levels.index(level) for f, level in zip(day.factor, row, strict=False)) for row in rows]
    if all(one in arrays.index for one in levels):
        return arrays, batch_of([([arrays.index[one] for one in levels], [row[-1] for row in rows])])
    searched = search_both(*both_kinds(day), seed=1, effort="quick")
    assert searched.found is not None
    return searched.arrays, searched.found.plan


def evaluations_table() -> None:
    """Part 1."""
    print("day                   stints pulls  us in a batch  us pull by pull   ratio")
    for name in REFERENCE:
        arrays, plan = best_known(name)
        quick, plain = costs(arrays, plan)
        size = f"{plan.order.shape[1]:6d} {int(plan.pulls.sum()):5d}"
        print(f"{name:20s} {size}  {quick:13.1f}  {plain:15.0f}  {plain / quick:6.0f}")


def alternating(installs: int, pulls: int, quick: int) -> tuple[DayArrays, Batch]:
    """A day of so many installs, each with its quick changes in turn."""
    factors = '[[factor]]\nname = "oil"\nbaseline = "a"\nrefit = true\n[[factor.change]]\nlevel = "b"\n'
    factors += "minutes_on = 5\nminutes_off = 5\nsmallest_gain = 1.0\n"
    for number in range(quick):
        factors += f'[[factor]]\nname = "q{number}"\nbaseline = "a"\n[[factor.change]]\nlevel = "b"\n'
        factors += "minutes_on = 1\nminutes_off = 1\nsmallest_gain = 1.0\n"
    text = (
        "[day]\ndate = 2026-05-16\nstart = 00:00:00\nfinish = 23:59:00\n[cell]\npull_minutes = 2.0\n"
        '[metric]\nname = "power"\n[noise]\npull_sd = 1.0\npull_df = 9\ninstall_sd = 0.5\ninstall_df = 5\n'
        "wander_sd = 0.3\n" + factors
    )
    arrays = arrays_of(parse_day(text))
    single = [(0,) * (quick + 1)] + [tuple(int(k == on) for k in range(quick + 1)) for on in range(1, quick + 1)]
    order = []
    for install in range(installs):
        order += [arrays.index[(install % 2, *levels[1:])] for levels in single]
    each = max(1, pulls // len(single))
    return arrays, batch_of([(order, [each] * len(order))])


def cost_table() -> None:
    """Part 2."""
    print("\ninstalls  pulls an install  questions  stints  pulls  us in a batch  us pull by pull   ratio")
    for installs, pulls, quick in [
        (4, 6, 0), (8, 6, 0), (16, 6, 0), (8, 3, 0), (8, 12, 0), (8, 24, 0), (8, 6, 1), (8, 6, 2), (8, 8, 3), (8, 10, 4)
    ]:  # fmt: skip
        arrays, plan = alternating(installs, pulls, quick)
        fast, plain = costs(arrays, plan)
        size = f"{installs:8d}  {pulls:16d}  {quick + 1:9d}  {plan.order.shape[1]:6d}  {int(plan.pulls.sum()):5d}"
        print(f"{size}  {fast:13.1f}  {plain:15.0f}  {plain / fast:6.0f}")


def quality_table() -> None:
    """Part 3."""
    known = json.loads((HERE.parent / "planning" / "long_searches.json").read_text(encoding="utf-8"))
    print("\nevaluations   share of the best known: median day, worst day   seconds a day (mean)")
    days = {name: both_kinds(read_day_file(DAYS / f"{name}.toml")) for name in known}
    for budget in (1_000, 4_000, 12_000, 32_000):
        EVALUATIONS["bench"] = budget
        shares, began = [], time.perf_counter()
        for name, kinds in days.items():
            searched = search_both(*kinds, seed=1, effort="bench")
            assert searched.found is not None
            settled = exact(searched.arrays, runs_of(searched.arrays, searched.found.plan)).settled
            shares.append(settled / known[name]["settled"])
        took = (time.perf_counter() - began) / len(days)
        print(f"{budget:11d}   {np.median(shares):.3f}  {min(shares):.3f}   {took:.2f}")


def whole_table() -> None:
    """Part 4."""
    print("\neffort   seconds of a whole plan (two refit and two quick parts, ten hours)")
    day = parse_day(REFERENCE["two_refit_two_quick"]["day_toml"])
    for effort in ("quick", "normal"):
        began = time.perf_counter()
        plan_of(day, seed=1, effort=effort)
        print(f"{effort:7s}  {time.perf_counter() - began:.2f}")


if __name__ == "__main__":
    evaluations_table()
    cost_table()
    quality_table()
    whole_table()
