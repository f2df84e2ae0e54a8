"""Gain curves of day folders, from the traces that lie there; and the door by which they are asked for."""

import json
import shutil

import numpy as np
import pytest
from traced_days import TRACES, traced_day
from typed import typed

from doe.analysis.judging.ask import Ask, Level
from doe.analysis.judging.curves.of_days import curves_of_days, pulls_of_days
from doe.analysis.judging.folders import judge_day
from doe.analysis.trials.campaign import read_days
from doe.analysis.trials.from_folders import trial_of_days
from doe.analysis.trials.known_noise import KnownNoise
from doe.cell.traces.export_file import read_columns
from doe.day.files.dayfile import read_day_file
from doe.day.pilot.integrity import check_folder
from doe.day.traced import layout_of


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    return traced_day(tmp_path_factory.mktemp("curves") / "day")


@pytest.fixture
def day(whole, tmp_path):
    return shutil.copytree(whole, tmp_path / "day")


@pytest.fixture
def unwitnessed(day):
    """The day without its journal: tables that were copied alone, so that nothing tells what a trace held."""
    (day / "pulls.journal").unlink()
    (day / ".pulls.head").unlink()
    return day


@pytest.fixture(scope="module")
def curves(whole):
    return judge_day(whole, checks=False, curve=True).curves


def codes(curves):
    return [note.code for note in curves.all_notes]


def test_the_pulls_own_curves_are_those_of_their_traces(whole, curves):
    columns = read_columns(whole / "traces" / "pull-003.csv", layout_of(read_day_file(whole))).values
    rpm, kw = columns["rpm"], columns["torque"] * columns["rpm"] * np.pi / 30000
    at = np.array([4850, *rpm[(rpm > 4850) & (rpm < 5150)], 5150])
    load = np.interp(at, rpm, kw) / 0.745699871582
    by_hand = np.sum((load[1:] + load[:-1]) / 2 * np.diff(at)) / 300
    (third,) = [pull for pull in curves.pulls if pull.pull == "3"]
    assert third.on == ("crankcase vacuum on",)
    assert third.values[curves.rpm.index(5000)] == pytest.approx(by_hand, rel=1e-9)


def test_a_days_curves_hold_its_true_gains_and_its_words_say_so(curves):
    assert (curves.quantity, curves.unit, curves.gain_unit) == ("power", "hp", "hp")
    assert (curves.rpm[0], curves.rpm[-1], curves.width_rpm) == (3200, 7000, 300)
    assert len(curves.pulls) == 16
    oil, vacuum = curves.changes
    assert (oil.route, vacuum.route) == ("longer of two", "within installs")
    assert all(low <= 4 <= high for low, high in zip(oil.low, oil.high, strict=True))  # flat, by the simulated cell
    assert [zone.says for zone in vacuum.zones].count("open") < len(vacuum.zones)
    assert oil.smallest_gain == 1.0
    assert oil.confidence == 0.95
    assert "at all rpm at once" in curves.to_text()
    assert curves.to_text().startswith("Where in the range (power, 3,200 to 7,000 rpm, 16 traces):\n  oil 0W-20: ")


def test_documents_and_frames_have_every_number(curves):
    document = curves.to_dict()
    assert json.loads(json.dumps(document))["rpm"] == list(curves.rpm)
    assert len(document["changes"][0]["gain"]) == len(document["rpm"]) == len(document["pulls"][0]["values"])
    frame = curves.to_frame()
    assert len(frame) == 2 * len(curves.rpm)
    assert frame["low"].iloc[0] == curves.changes[0].low[0]
    assert frame.attrs["units"]["gain"] == "hp"


def test_nothing_is_read_where_nobody_asks(whole):
    assert judge_day(whole, checks=False).curves is None


def test_the_mean_of_the_curve_goes_with_the_verdict(whole, curves):
    """The metric is the mean over the window: so is its gain, where the two are fitted alike."""
    gain = {change.factor: change.gain for change in judge_day(whole, checks=False).changes}
    window = [place for place, rpm in enumerate(curves.rpm) if 4000 <= rpm <= 6800]
    for change in curves.changes:
        assert np.mean([change.gain[place] for place in window]) == pytest.approx(gain[change.factor], abs=0.3)


def test_a_pull_without_its_trace_is_left_out_and_named(day):
    (day / "traces" / "pull-002.csv").unlink()
    found = judge_day(day, checks=False, curve=True).curves
    assert len(found.pulls) == 15
    (note,) = found.notes
    assert note.code == "curves-left-out"
    assert "15 of 16 counted pulls; left out: pull 2: traces/pull-002.csv: there is no such file" in note.text


def test_traces_that_give_no_interval_give_no_band_though_the_verdict_has_one(day):
    for path in sorted((day / "traces").glob("*.csv"))[6:]:
        path.unlink()
    found = judge_day(day, checks=False, curve=True)
    assert found.changes[0].family_low is not None
    assert found.curves.changes[0].low is None
    assert found.curves.changes[0].gain is not None
    assert "oil 0W-20: no band, as the pulls with traces give its gain no interval" in found.curves.to_text()


@pytest.mark.parametrize("content", [b"", b"\x00\xff\x00rubbish", b"time_s,rpm,torque_nm\n1,a,3\n", None])
def test_whatever_lies_in_the_place_of_a_trace_is_left_out_with_a_reason(day, content):
    path = day / "traces" / "pull-002.csv"
    path.unlink()
    path.mkdir() if content is None else path.write_bytes(content)
    found = judge_day(day, checks=False, curve=True).curves
    assert len(found.pulls) == 15
    assert found.notes[0].text.partition("pull 2: ")[2]


def test_a_trace_that_was_altered_since_is_left_out_though_its_number_is_the_same(day):
    path = day / "traces" / "pull-001.csv"
    lines = path.read_text().splitlines()
    path.write_text("\n".join(line for line in lines if not line.split(",")[1].startswith("69")) + "\n")
    found = judge_day(day, checks=False, curve=True).curves
    assert "1" not in [pull.pull for pull in found.pulls]
    assert "pull 1: traces/pull-001.csv is not as it was when the pull was logged" in found.notes[0].text
    (told,) = check_folder(day).remaining
    assert told.startswith("traces/pull-001.csv: it is not as it was when pull 1 was logged")


def test_a_trace_that_is_not_the_one_that_was_logged_is_left_out(unwitnessed):
    """A swapped file would show a curve that no pull had."""
    shutil.copy(unwitnessed / "traces" / "pull-003.csv", unwitnessed / "traces" / "pull-001.csv")
    found = judge_day(unwitnessed, checks=False, curve=True).curves
    assert "1" not in [pull.pull for pull in found.pulls]
    assert "not the trace that was logged" in found.notes[0].text


def test_of_several_sweeps_in_a_file_the_one_that_was_logged_is_taken(unwitnessed, curves):
    first, second = ((unwitnessed / "traces" / f"pull-00{n}.csv").read_text().splitlines() for n in (1, 2))
    end = float(first[-1].split(",")[0]) + 1
    later = [f"{float(row.split(',')[0]) + end:.2f},{row.split(',', 1)[1]}" for row in second[1:]]
    (unwitnessed / "traces" / "pull-002.csv").write_text("\n".join([*first, *later]) + "\n")
    found = judge_day(unwitnessed, checks=False, curve=True).curves
    for one, before in zip(found.pulls, curves.pulls, strict=True):
        np.testing.assert_allclose(one.values, before.values, rtol=1e-6)


def test_a_sweep_that_ends_early_cuts_the_range_and_is_named(unwitnessed):
    # Torque is not touched, so the window's mean stays: only the end beyond it is cut off.
    path = unwitnessed / "traces" / "pull-004.csv"
    lines = path.read_text().splitlines()
    kept = [lines[0], *(line for line in lines[1:] if 3500 <= float(line.split(",")[1]) <= 6850)]
    path.write_text("\n".join(kept) + "\n")
    found = judge_day(unwitnessed, checks=False, curve=True).curves
    assert len(found.pulls) == 16
    assert found.rpm[-1] <= 6800
    assert codes(found)[0] == "curves-short"
    assert "since pull 4 covered less" in found.notes[0].text


def test_a_day_without_traces_says_what_would_give_them(day):
    shutil.rmtree(day / "traces")
    found = judge_day(day, checks=False, curve=True).curves
    assert found.changes == ()
    assert codes(found) == ["no-curves"]
    text = (day / "pulls.csv").read_text()
    assert "traces/pull-001.csv" in text


def with_line(folder, before, line):
    path = folder / "day.toml"
    text = path.read_text()
    assert before in text
    path.write_text(text.replace(before, f"{line}\n{before}"))


def test_curves_in_percent(day):
    with_line(day, "window_rpm", 'scale = "percent"')
    found = judge_day(day, checks=False, curve=True).curves
    assert (found.unit, found.gain_unit) == ("hp", "%")
    baseline = np.mean([pull.values for pull in found.pulls if not pull.on], axis=0)
    oil = np.array(found.changes[0].gain)
    np.testing.assert_allclose(oil * baseline / 100, 4.0, atol=3.5)
    assert oil[0] > oil[-1]  # the same horsepower on less of it


def test_pulls_are_corrected_for_the_air_as_their_numbers_are(day, curves):
    with_line(day, "pull_minutes", 'correction = "none"\ncorrect_to = "DIN 70020"')
    weather = "".join(f"{n},{name},{x}\n" for n in range(1, 17) for name, x in (("baro_kpa", 95), ("air_temp_c", 20)))
    (day / "readings.csv").write_text((day / "readings.csv").read_text() + weather)
    found = judge_day(day, checks=False, curve=True).curves
    factor = np.array(found.pulls[0].values) / np.array(curves.pulls[0].values)
    np.testing.assert_allclose(factor, 101.3 / 95, rtol=1e-6)  # by hand: at 20 °C only the pressure counts


def test_an_unfinished_day_shows_no_curve(tmp_path):
    folder = traced_day(tmp_path / "day", date="2099-05-16")
    assert typed("void", folder, 16, "--why", "misfire").returncode == 0
    found = judge_day(folder, curve=True)
    assert found.withheld
    assert found.curves.changes == ()
    assert "shown when the gains are" in found.to_text()


def test_a_band_is_as_sure_as_the_verdict_that_stands_beside_it(day):
    """The second verdict on a question has half the risk, by the ledger."""
    judged = judge_day(day, checks=False, curve=True)
    ask = Ask(metric="mean power", unit="hp", ledger={("oil", "0W-20"): Level(2, 0.025, 0.0125)})
    days = read_days([day])
    trial, values, names, _ = trial_of_days(days, "mean power")
    pulls = pulls_of_days(days, "mean power", np.arange(16), names)
    oil, vacuum = curves_of_days(pulls, trial, values, KnownNoise.of(None), ask).changes
    assert (oil.confidence, vacuum.confidence) == (0.975, 0.95)
    assert oil.critical > judged.curves.changes[0].critical


def test_the_command_prints_it_behind_the_verdicts_and_refuses_a_table(whole, tmp_path):
    done = typed("judge", whole, "--curve")
    assert done.returncode == 0
    assert "Where in the range" in done.stdout
    assert done.stdout.index("Where in the range") > done.stdout.index("oil 0W-20")
    refused = typed("judge", whole / "pulls.csv", "--value", "mean power", "--change", "oil", "--baseline", "15W-50",
                    "--curve")  # fmt: skip
    assert refused.returncode == 2
    assert "--curve: for day folders" in refused.stderr


def test_traces_of_a_day_that_does_not_say_how_they_are_written(day):
    path = day / "day.toml"
    path.write_text(path.read_text().replace(TRACES.strip(), ""))
    found = judge_day(day, checks=False, curve=True).curves
    assert "[traces]" in found.notes[0].text
