"""The clock on arrays against `doe.day.clock`, which is tested against times by hand."""

from __future__ import annotations

import numpy as np
import pytest
from day_files import day_file, factor
from hypothesis import given, settings
from hypothesis import strategies as st

from doe.day.clock import Position, lay_out
from doe.day.files.dayfile import parse_day
from doe.planning.arrays.batch import Batch, tidy
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.clock_arrays import comes_back, cut_at, timetable

DAY = day_file(
    factor("oil", "thick", "thin 22 17 2", "thinner 12 31 1", refit=True),
    factor("vacuum", "off", "on 2 0"),
    breaks=[("09:45", 15), ("12:00", 45), ("14:00", 7)],
    warm_up=25,
    pull=3.5,
    metric="power",
    unit=None,
    noise="pull_sd = 1.0",
)
day = parse_day(DAY)
arrays = day_arrays(day, candidate_levels(day, mixed=True))
stints = st.lists(
    st.tuples(st.integers(0, len(arrays.levels) - 1), st.integers(1, 9), st.booleans()), min_size=1, max_size=12
)


def as_batch(plan: list[tuple[int, int, bool]]) -> Batch:
    order, pulls, fresh = (np.array([[stint[k] for stint in plan]]) for k in range(3))
    return Batch(order, pulls, fresh.astype(bool))


def check(batch: Batch, runs: list, times) -> None:
    middles = {}
    for run in runs:
        if run.count == "yes":
            middles.setdefault(run.stint, []).append(run.minute - day.cell.pull_minutes / 2)
    assert times.finish[0] == pytest.approx(runs[-1].minute)
    assert times.mean[0] == pytest.approx([np.mean(values) for values in middles.values()])
    assert times.spread[0] == pytest.approx([np.var(values) for values in middles.values()], abs=1e-6)


@given(stints)
@settings(max_examples=80)
def test_times_are_those_of_the_clock(plan) -> None:
    batch = tidy(as_batch(plan))
    runs = lay_out(day, arrays.stints(batch.order[0], batch.pulls[0], batch.fresh[0]))
    check(batch, runs, timetable(arrays, batch))


@given(stints, st.integers(0, 500), st.integers(0, len(arrays.levels) - 1), st.integers(0, 2))
@settings(max_examples=60)
def test_the_rest_of_a_day_has_the_times_of_the_clock(plan, minute, fitted, due) -> None:
    from dataclasses import replace

    from doe.day.clock import work

    batch = tidy(as_batch(plan))
    after = Position(work(day, float(minute), 0.0), arrays.configuration(fitted), 3, 5, 40, due)
    begun = replace(arrays, after=after)
    runs = lay_out(day, begun.stints(batch.order[0], batch.pulls[0], batch.fresh[0]), after)
    check(batch, runs, timetable(begun, batch))
    assert runs[0].run == 41
    goes_on = batch.order[0, 0] == fitted and not batch.fresh[0, 0]
    assert runs[0].stint == (5 if goes_on else 6)


def test_a_day_warmed_up_in_a_break_begins_behind_it() -> None:
    text = DAY.replace("warm_up_minutes = 25", "warm_up_minutes = 110")
    late = parse_day(text)
    arrays_late = day_arrays(late, candidate_levels(late, mixed=True))
    batch = as_batch([(0, 2, False), (1, 1, False)])
    runs = lay_out(late, arrays_late.stints(batch.order[0], batch.pulls[0], batch.fresh[0]))
    assert timetable(arrays_late, batch).finish[0] == pytest.approx(runs[-1].minute)
    assert runs[0].clock == "10:00"  # Source: by hand. Warm at 09:50, in the break from 09:45 to 10:00.


def test_changeovers_of_every_two_configurations_are_those_of_the_clock() -> None:
    from doe.day.clock import changeover

    for before in range(len(arrays.levels)):
        for after in range(len(arrays.levels)):
            step = changeover(day, arrays.configuration(before), arrays.configuration(after))
            assert arrays.minutes[before, after] == step.minutes
            assert arrays.settling[before, after] == step.settling_pulls
            assert arrays.refitted[before, after] == bool(step.refitted)


@given(stints, st.integers(20, 700))
@settings(max_examples=60)
def test_what_is_made_by_an_hour_is_what_the_clock_says(plan, minute) -> None:
    batch = tidy(as_batch(plan))
    runs = lay_out(day, arrays.stints(batch.order[0], batch.pulls[0], batch.fresh[0]))
    numbers = [run.stint for run in runs if run.count == "yes" and run.minute <= minute]
    made = np.bincount(numbers, minlength=batch.order.shape[1] + 1)[1:]
    missing = made - cut_at(arrays, batch, minute).pulls[0]
    assert set(missing.tolist()) <= {0, 1}
    assert missing.sum() <= 1  # a pull that had to wait for a break is taken for two


@given(stints)
@settings(max_examples=60)
def test_the_baseline_is_back_by_a_third_or_not(plan) -> None:
    batch = tidy(as_batch([(0, 2, False), *plan]))
    runs = lay_out(day, arrays.stints(batch.order[0], batch.pulls[0], batch.fresh[0]))
    counted = [run for run in runs if run.count == "yes"]
    away = next((place for place, run in enumerate(counted) if run.configuration != day.baseline), len(counted))
    back = [run.minute for run in counted[away:] if run.configuration == day.baseline]
    by = counted[0].minute + (counted[-1].minute - counted[0].minute) / 3
    if not back or abs(back[0] - by) > 45:  # a break inside a set moves its first pull by as much at most
        assert comes_back(arrays, batch)[0] == bool(back and back[0] <= by)
