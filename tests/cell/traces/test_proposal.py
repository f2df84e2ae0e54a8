"""What an export's columns are taken for, on a dozen invented layouts; the proposal must read as the sweep was made."""

import numpy as np
import pytest

from doe.cell.traces.clean_trace import clean
from doe.cell.traces.export_file import parse_columns
from doe.cell.traces.layout import Layout
from doe.cell.traces.metrics import window_mean
from doe.cell.traces.proposal import propose
from doe.cell.traces.shape import shape_of
from doe.errors import InputError

LB_FT, HP, PS = 1.3558179483314, 0.745699871582, 0.73549875


def three_sweeps(made):
    fall = np.linspace(6900, 3000, 40)
    parts = [(made.rpm, made.torque), (fall, np.full(40, -20.0))] * 3
    rpm, torque = (np.concatenate(column) for column in zip(*parts, strict=True))
    return {"time": np.arange(len(rpm)) / 10, "rpm": rpm, "torque (N m)": torque}


LAYOUTS = {
    "comma": (lambda m: {"time": m.time, "rpm": m.rpm, "torque [Nm]": m.torque, "power [kW]": m.power}, {}),
    "semicolon, decimal comma": (
        lambda m: {"Zeit": m.time, "Drehzahl": m.rpm, "Drehmoment": m.torque, "Leistung": m.power / PS},
        {"delimiter": ";", "decimal": ","},
    ),
    "tab": (lambda m: {"t": m.time, "n": m.rpm, "T": m.torque, "P": m.power}, {"delimiter": "\t"}),
    "unit row": (
        lambda m: {"Time": m.time, "Speed": m.rpm, "Trq": m.torque / LB_FT, "Pwr": m.power / HP},
        {"under": ["s", "1/min", "lb-ft", "hp"]},
    ),
    "lines above": (
        lambda m: {"time": m.time, "rpm": m.rpm, "torque": m.torque, "power": m.power},
        {"above": ["Engine: invented", "Date, 12 April", "", "Operator; nobody"]},
    ),
    "lines above and a unit row": (
        lambda m: {"time": m.time, "rpm": m.rpm, "torque": m.torque, "power": m.power},
        {"above": ["Engine: invented"], "under": ["ms", "rpm", "N m", "kW"]},
    ),
    "several sweeps": (three_sweeps, {}),
    "rpm in thousands": (lambda m: {"time": m.time, "krpm": m.rpm / 1000, "tq": m.torque, "p": m.power}, {}),
    "titles that say nothing": (
        lambda m: {"ch1": m.time, "ch2": m.power / HP, "ch3": m.torque / LB_FT, "ch4": m.rpm, "ch5": m.rpm / 4.1},
        {},
    ),
    "no power": (lambda m: {"Time (s)": m.time, "Engine speed (rpm)": m.rpm, "Torque (lb-ft)": m.torque / LB_FT}, {}),
    "no torque, no time": (lambda m: {"RPM": m.rpm, "Power (hp)": m.power / HP}, {}),
    "ten hertz with temperatures": (
        lambda m: {
            "time_s": m.time, "rpm": m.rpm, "torque_nm": m.torque, "Oil Temp (°C)": 90 + m.time / 5,
            "Coolant (°C)": 85 + m.time / 9, "Gearbox (°F)": 150 + m.time, "state": ["RUN"] * len(m.time),
        },
        {"end": "\r\n"},
    ),
    "utf-16": (lambda m: {"Zeit": m.time, "n": m.rpm, "Nm": m.torque, "kW": m.power}, {"encoding": "utf-16"}),
}  # fmt: skip


def proposed(data):
    shape = shape_of(data, "pull.csv")
    guesses = [guess for guess in propose(shape) if guess.role]
    layout = Layout(
        {guess.role: guess.title for guess in guesses},
        {guess.role: guess.unit for guess in guesses if guess.unit},
        shape.delimiter,
        shape.decimal,
        shape.unit_row,
        shape.title_lines,
    )
    return layout, guesses


@pytest.mark.parametrize("hertz", [10, 100, 1000])
@pytest.mark.parametrize("name", LAYOUTS)
def test_a_proposal_reads_the_sweep_as_it_was_made(sweep, written, name, hertz):
    columns, how = LAYOUTS[name]
    data = written(columns(sweep(hertz=hertz, jitter=0 if hertz < 1000 else 3)), **how)
    layout, _ = proposed(data)
    sweeps = 3 if name == "several sweeps" else None
    trace = clean(parse_columns(data, layout, "pull.csv"), layout, sweep=sweeps)
    # Source: by hand: 169.17127 kW, as in trace_cases.json.
    assert window_mean(trace.rpm, trace.power_kw, 4000, 6800).value == pytest.approx(169.17127, rel=5e-4)
    has_time = "no time" not in name
    assert (trace.sweep_rate_rpm_s is not None) == has_time


def test_physics_overrules_the_order_of_columns_and_says_why(sweep, written):
    columns, how = LAYOUTS["titles that say nothing"]
    _, guesses = proposed(written(columns(sweep()), **how))
    found = {guess.title: (guess.role, guess.unit) for guess in guesses}
    assert found == {"ch1": ("time", "s"), "ch2": ("power", "hp"), "ch3": ("torque", "lb ft"), "ch4": ("rpm", "rpm")}
    assert {guess.why for guess in guesses} == {"power is torque x rpm to 1 % in these units", "it only rises"}


def test_guard_channels_are_named(sweep, written):
    columns, how = LAYOUTS["ten hertz with temperatures"]
    _, guesses = proposed(written(columns(sweep()), **how))
    found = {guess.role: guess.unit for guess in guesses}
    assert (found["oil_temp_c"], found["coolant_temp_c"], found["gearbox_f"]) == ("°C", "°C", "°F")


def test_a_unit_that_nothing_tells_is_left_open(sweep, written):
    made = sweep()
    _, guesses = proposed_guesses = proposed(written({"time": made.time, "rpm": made.rpm, "torque": made.torque}))
    assert proposed_guesses
    assert {guess.role: guess.unit for guess in guesses}["torque"] is None


def test_first_values_and_range_are_shown(sweep, written):
    made = sweep(hertz=10)
    _, guesses = proposed(written({"time": made.time, "rpm": made.rpm, "torque": made.torque, "power": made.power}))
    assert guesses[1].shown.startswith("3000 3030 3060 …   3000 to ")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"hello\nworld\n", "no columns of numbers were found"),
        (b"1,2,3\n2,3,4\n3,4,5\n", "no titles stand over the numbers"),
        (b"a,b\n\n1,2\n2,3\n3,4\n", "blank lines part the titles from the numbers"),
    ],
)
def test_what_is_no_table(data, words):
    with pytest.raises(InputError, match=words):
        shape_of(data, "pull.csv")
