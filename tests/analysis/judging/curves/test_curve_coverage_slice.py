"""A small seeded slice of the study of the band (tests/benchmarks/curve_coverage.py), its bound from the binomial."""

import numpy as np
import pytest
from scipy import stats

from doe.analysis.judging.many_outcomes import design_trial

#: what the planner drew for a long day with two refit parts, seed 1: oil, plugs, pulls, minute of the first one
PLANNED = [
    (0, 0, 2, 34), (0, 1, 3, 57), (1, 1, 2, 88), (0, 0, 2, 130), (0, 1, 3, 153), (1, 1, 2, 184), (0, 0, 2, 226),
    (0, 1, 2, 249), (1, 1, 3, 276), (0, 0, 2, 322), (0, 1, 2, 345), (1, 1, 2, 372), (1, 0, 2, 395), (0, 0, 2, 422),
    (0, 1, 2, 445), (1, 1, 2, 472),
]  # fmt: skip


def planned():
    oil, plugs, pulls, minute = np.array(PLANNED).T
    stint = np.repeat(np.arange(len(pulls)), pulls)
    within = np.concatenate([np.arange(count) for count in pulls])
    fittings = {
        name: np.cumsum(np.diff(on, prepend=on[0]) != 0)[stint] for name, on in (("oil", oil), ("plugs", plugs))
    }
    change = {"oil": oil[stint], "plugs": plugs[stint]}
    return design_trial(change, {"oil": 0, "plugs": 0}, fittings, minute[stint] + 4.0 * within)


@pytest.mark.parametrize(("install_sd", "studied"), [(0.5, False), (1.0, True)])
def test_bands_of_a_planned_day_with_two_refit_parts_hold(benchmark_module, install_sd, studied):
    days = 30
    found = benchmark_module("curve_coverage").cell("planned", planned(), install_sd, 0.0, days, 1, studied=studied)
    assert set(found.routes) == {"study" if studied else "crossed"}
    assert (found.whole * days >= stats.binom.ppf(1e-3, days, 0.94)).all()


def test_the_interval_of_one_rpm_read_as_a_curve_would_not_hold(benchmark_module):
    # The check can see: read so, it must fall well short.
    found = benchmark_module("curve_coverage").cell("planned", planned(), 1.0, 0.0, 20, 2)
    assert (found.read_as_curve < 0.9).all()
