"""From an export to a clean sweep: the order of things, what is counted, and bad exports in words."""

import numpy as np
import pytest

from doe.cell.traces.clean_trace import clean
from doe.cell.traces.engine import Engine
from doe.cell.traces.export_file import parse_columns
from doe.cell.traces.layout import Layout
from doe.cell.traces.pull_metrics import metrics_of
from doe.cell.traces.wanted import Wanted
from doe.errors import InputError

WINDOW = Wanted((4000.0, 6800.0))
NEWTON = Layout({"time": "t", "rpm": "n", "torque": "T"}, {"time": "s", "torque": "N m"})


def read(columns, layout, written, **how):
    return clean(parse_columns(written(columns), layout, "pull.csv"), layout, **how)


def plain(made):
    return {"t": made.time, "n": made.rpm, "T": made.torque, "P": made.power}


def mean_power(trace):
    return metrics_of(trace, WINDOW, ["mean power"])["mean power"].value


@pytest.mark.parametrize("hertz", [10, 50, 1000])
@pytest.mark.parametrize("jitter", [0, 15])
def test_the_rate_of_sampling_and_jitter_of_the_speed_move_no_mean(sweep, written, layout, hertz, jitter):
    # Source: by hand, as in trace_cases.json: 169.17127 kW over 4,000 to 6,800 rpm.
    trace = read(plain(sweep(hertz=hertz, jitter=jitter)), layout, written)
    assert mean_power(trace) == pytest.approx(169.17127, rel=2e-4)
    assert trace.sweep_rate_rpm_s == pytest.approx(300, rel=5e-3)


def test_the_order_of_rows_within_the_sweep_moves_no_mean(sweep, written):
    made = sweep()
    swapped = np.arange(len(made.rpm))
    swapped[10:200:2], swapped[11:201:2] = swapped[11:201:2].copy(), swapped[10:200:2].copy()
    asked = Layout({"rpm": "n", "torque": "T"}, {"torque": "N m"})
    trace = read({"n": made.rpm[swapped], "T": made.torque[swapped]}, asked, written)
    assert mean_power(trace) == pytest.approx(mean_power(read({"n": made.rpm, "T": made.torque}, asked, written)))


def test_units_of_the_export_don_t_move_the_metric(sweep, written):
    made = sweep()
    pounds = Layout({"rpm": "n", "torque": "T"}, {"rpm": "1000 rpm", "torque": "lb ft"})
    trace = read({"n": made.rpm / 1000, "T": made.torque / 1.3558179483314}, pounds, written)
    assert mean_power(trace) == pytest.approx(169.17127, rel=2e-4)


def test_torque_from_power_and_back(sweep, written):
    made = sweep()
    from_power = read({"n": made.rpm, "P": made.power}, Layout({"rpm": "n", "power": "P"}, {"power": "kW"}), written)
    torque = metrics_of(from_power, WINDOW, ["mean torque"])["mean torque"].value
    assert torque == pytest.approx(304.0, rel=1e-4)  # by hand: 520 - 0.04 x 5,400


def test_inertia(sweep, written):
    # Source: by hand: 0.30 kg m2 x pi/30 x 300 rpm/s = 9.4248 N m, 18.850 at 600 rpm/s.
    for rate, extra in ((300.0, 9.42478), (600.0, 18.84956)):
        made = sweep(rate=rate, hertz=100)
        columns = {"t": made.time, "n": made.rpm, "T": made.torque}
        heavy = Layout(NEWTON.columns, NEWTON.units, inertia_kg_m2=0.30)
        difference = read(columns, heavy, written).torque_nm - read(columns, NEWTON, written).torque_nm
        np.testing.assert_allclose(difference, extra, rtol=2e-3)
        power = read(columns, heavy, written).power_kw
        np.testing.assert_allclose(power, (made.torque + extra) * made.rpm * np.pi / 30000, rtol=1e-3)


def test_inertia_without_time_is_refused(sweep, written):
    made = sweep()
    asked = Layout({"rpm": "n", "torque": "T"}, {"torque": "N m"}, inertia_kg_m2=0.3)
    with pytest.raises(InputError, match="inertia_kg_m2 needs the time of each sample"):
        read({"n": made.rpm, "T": made.torque}, asked, written)


def test_everything_left_out_is_counted(sweep, written, layout):
    made = sweep(hertz=20)
    texts = {name: [f"{value:.6g}" for value in values] for name, values in plain(made).items()}
    texts["T"][20], texts["P"][30] = "", "NaN"
    texts["T"][60] = f"{made.torque[60] * 1.4:.6g}"
    texts["P"][61] = "0"
    trace = read(texts, layout, written)
    counts = trace.counts
    assert (counts.rows, counts.empty, counts.spikes) == (len(made.rpm), 2, 1)
    assert counts.rows == trace.samples_used + counts.empty + counts.spikes + counts.outside
    assert "one spike left out" in trace.warnings


def test_a_glitch_of_the_speed_does_not_end_the_sweep(sweep, written, layout):
    made = sweep(hertz=20)
    made.rpm[100] = 65_535
    trace = read(plain(made), layout, written)
    assert trace.swept == (pytest.approx(3000), pytest.approx(7000, abs=20))
    assert trace.counts.spikes == 1


def test_equal_rpm_are_merged(sweep, written, layout):
    made = sweep(hertz=50)
    made.rpm = np.round(made.rpm, -1)
    made.power = made.torque * made.rpm * np.pi / 30000
    trace = read(plain(made), layout, written)
    assert np.all(np.diff(trace.rpm) > 0)
    assert trace.counts.merged > 100
    assert mean_power(trace) == pytest.approx(169.17127, rel=1e-3)


def test_guard_channels_are_read_at_the_start_and_over_the_pull(sweep, written):
    made = sweep(hertz=10)
    count = len(made.time)
    asked = Layout(
        {"time": "t", "rpm": "n", "torque": "T", "oil_temp_c": "oil", "lambda": "lam", "boost": "b"},
        {"time": "s", "torque": "N m", "oil_temp_c": "°F"},
    )
    columns = {
        "t": made.time, "n": made.rpm, "T": made.torque, "oil": np.linspace(194, 212, count),
        "lam": ["", *["0.88"] * (count - 1)], "b": [""] * count,
    }  # fmt: skip
    guards = read(columns, asked, written).guards
    assert guards["oil_temp_c"].start == pytest.approx(90)
    assert guards["oil_temp_c"].mean == pytest.approx(95, abs=0.01)
    assert guards["oil_temp_c"].highest == pytest.approx(100)
    assert guards["oil_temp_c"].unit == "°C"
    assert guards["lambda"].start == 0.88
    assert "boost" not in guards


def swapped(made, **columns):
    return {**plain(made), **columns}


@pytest.mark.parametrize(
    ("torque", "power", "words"),
    [
        (1 / 1.3558179, 1, "torque is in lb ft, not N m"),
        (1, 1.3410221, "power is in hp, not kW"),
        (1, 1.3596216, "power is in PS, not kW"),
        (1 / 9.80665, 1, "torque is in kgf m, not N m"),
        (1, 2.2, "columns or units in .traces. can't be right"),
    ],
)
def test_swapped_units_are_found_and_named(sweep, written, layout, torque, power, words):
    made = sweep()
    with pytest.raises(InputError, match=words):
        read(swapped(made, T=made.torque * torque, P=made.power * power), layout, written)


def test_horse_powers_of_two_kinds_are_told_apart(sweep, written):
    made = sweep()
    asked = Layout({"rpm": "n", "torque": "T", "power": "P"}, {"torque": "N m", "power": "hp"})
    with pytest.raises(InputError, match="power is in PS, not hp"):
        read({"n": made.rpm, "T": made.torque, "P": made.power / 0.73549875}, asked, written)


def test_torque_and_power_that_almost_belong_together_are_warned_of(sweep, written, layout):
    made = sweep()
    trace = read(swapped(made, P=made.power * 1.04), layout, written)
    assert any("one of them may be corrected" in text for text in trace.warnings)
    assert mean_power(trace) == pytest.approx(169.17127 * 1.04, rel=2e-4)


def test_mean_effective_pressure(sweep, written, layout):
    # Source: by hand: 400 N m from 3.2 L are 4 pi 400/3.2e-3 = 15.7 bar; from 2.5 L 20.1; from 5.2 L 9.7.
    made = plain(sweep())
    assert read(made, layout, written, engine=Engine(5.2)).warnings == ()
    assert "15.7 bar" in read(made, layout, written, engine=Engine(3.2)).warnings[0]
    with pytest.raises(InputError, match=r"20.1 bar .*more than petrol without boost makes"):
        read(made, layout, written, engine=Engine(2.5))
    for other in (Engine(2.5, breathing="boosted"), Engine(2.5, fuel="methanol")):
        assert read(made, layout, written, engine=other).warnings == ()


def with_cell(made, row, **cells):
    columns = {name: np.array(values) for name, values in plain(made).items()}
    for name, value in cells.items():
        columns[name][row] = value
    return columns


def test_exports_that_are_no_pull(sweep, written, layout):
    made = sweep(hertz=10)
    short = {name: values[:5] for name, values in plain(made).items()}
    still = {**plain(made), "n": np.full(len(made.rpm), 3000.0)}
    down = {name: values[::-1] if name != "t" else values for name, values in plain(made).items()}
    for columns, words in (
        (short, "5 samples from 3000 to 3120 rpm; is this a pull's export"),
        (still, "no rising sweep"),
        (down, "no rising sweep"),
        (with_cell(made, 7, n=-3000.0), "row 8 of the numbers: rpm is -3000; expected 0 or more"),
        (with_cell(made, 9, t=0.1), r"row 10 of the numbers: time runs backwards, 0.8 s and then 0.1 s"),
        ({**plain(made), "n": made.rpm / 1000}, r"rpm goes up to 6.99 only; it looks like thousands"),
        ({**plain(made), "T": [""] * len(made.rpm)}, "no row has all of time, rpm, torque, power"),
        ({**plain(made), "T": -made.torque}, "0 samples in the rising sweep"),
    ):
        with pytest.raises(InputError, match=words):
            read(columns, layout, written)


def test_two_sweeps_in_one_file(sweep, written):
    made, weaker = sweep(hertz=20), 0.9
    fall = np.linspace(7000, 3000, 30)
    rpm = np.concatenate([made.rpm, fall, made.rpm])
    torque = np.concatenate([made.torque, np.full(30, -20.0), made.torque * weaker])
    columns = {"t": np.arange(len(rpm)) / 20, "n": rpm, "T": torque}
    with pytest.raises(InputError, match="2 sweeps in one file; export each pull alone, or say --sweep 1 to 2"):
        read(columns, NEWTON, written)
    first, second = (mean_power(read(columns, NEWTON, written, sweep=number)) for number in (1, 2))
    assert second / first == pytest.approx(weaker, rel=1e-6)
    with pytest.raises(InputError, match="sweep 3 was asked for; the file has 2"):
        read(columns, NEWTON, written, sweep=3)
