"""Three invented traces whose answers are known in closed form."""

import json
from pathlib import Path

import pytest

from doe.cell.traces.clean_trace import clean
from doe.cell.traces.export_file import parse_columns
from doe.cell.traces.layout import Layout
from doe.cell.traces.pull_metrics import metrics_of
from doe.cell.traces.wanted import Wanted
from doe.cell.units import convert

# Source: trace_cases.json: by hand, each case says how; tolerances as stated there.
CASES = json.loads((Path(__file__).parents[2] / "reference" / "trace_cases.json").read_text())["cases"]
WARNED = {"peak torque at the edge of the sweep": "at the edge of the sweep"}


def read(case):
    table = case["trace_table"]
    layout = Layout(
        table["columns"], table["units"], table.get("delimiter"), table.get("decimal"), table.get("unit_row", False)
    )
    return clean(parse_columns(case["csv"].encode(), layout, case["id"]), layout)


def metric(trace, case, name, at=None):
    return metrics_of(trace, Wanted(tuple(case["window_rpm"]), at), [name])[name]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["title"])
def test_expected_values(case):
    trace, expected, rel = read(case), case["expected"], case["tolerance"]["default_rel"]
    for kind, unit, suffix in (("power", "kW", "kw"), ("torque", "N m", "nm")):
        for name in ("mean", "peak"):
            if f"{name}_{kind}_{suffix}" in expected:
                found = metric(trace, case, f"{name} {kind}")
                assert (found.value, found.unit) == (pytest.approx(expected[f"{name}_{kind}_{suffix}"], rel=rel), unit)
        if f"{kind}_at_5000_{suffix}" in expected:
            found = metric(trace, case, f"{kind} at rpm", 5000.0)
            assert found.value == pytest.approx(expected[f"{kind}_at_5000_{suffix}"], rel=rel)
    if "mean_power_hp" in expected:
        horses = convert(metric(trace, case, "mean power").value, "kW", "hp")
        assert horses == pytest.approx(expected["mean_power_hp"], rel=rel)
    peak = metric(trace, case, "rpm of peak power")
    assert peak.value == pytest.approx(expected["rpm_at_peak_power"], abs=case["tolerance"]["rpm_at_peak_power_abs"])
    if "rpm_at_peak_torque" in expected:
        assert metric(trace, case, "rpm of peak torque").value == expected["rpm_at_peak_torque"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["title"])
def test_what_was_done_to_it(case):
    trace, expected = read(case), case["expected"]
    if "sweep_rate_rpm_s" in expected:
        rate = expected["sweep_rate_rpm_s"]
        assert trace.sweep_rate_rpm_s == (None if rate is None else pytest.approx(rate, rel=2e-4))
    if "sweep_samples" in expected:
        assert trace.samples_used == expected["sweep_samples"]
    if "largest_gap_rpm" in expected:
        assert expected["largest_gap_rpm"][0] <= trace.largest_gap_rpm <= expected["largest_gap_rpm"][1]
    assert trace.counts.spikes == expected.get("spikes_removed", 0)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["title"])
def test_warnings_are_the_expected_ones_of_the_metrics_that_are_expected(case):
    trace, expected = read(case), case["expected"]
    names = ["mean power", "peak power", *(["peak torque"] if "peak_torque_nm" in expected else [])]
    doubts = [metric(trace, case, name).doubt for name in names]
    warnings = sorted([*trace.warnings, *filter(None, doubts)])
    assert len(warnings) == len(expected["warnings"])
    assert all(text.startswith(start) for text, start in zip(warnings, sorted(expected["warnings"]), strict=True))


def test_held_speed_part_throttle_and_coast_down_stay_out():
    # Source: trace_cases.json, second case, by hand: the sweep runs from 2,500 to 7,000 rpm in 76 samples.
    trace = read(CASES[1])
    assert trace.swept == (2500.0, 7000.0)
    assert trace.samples_used == 76
    assert trace.counts.part_throttle == 6
    assert trace.torque_nm.min() > 200
