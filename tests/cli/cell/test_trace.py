"""``doe trace``, its set-up on a terminal, and ``doe record --trace``."""

import json
import os
import pty
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from day_files import day_file, factor

from doe.cli import main
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan
from doe.day.log.reading import read_log

# Source: trace_cases.json, by hand: 226.8624 hp over 4,000 to 6,800 rpm in all three.
CASES = json.loads((Path(__file__).parents[2] / "reference" / "trace_cases.json").read_text())["cases"]
TWO_DAYS = 172_800  # [s] a file that is older is never waited for
MEAN_HP = 226.86241500665508
DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 30", refit=True), start="08:30", finish="16:30", window_rpm=(4000, 6800)
)
TRACES = """
[traces]
columns = { time = "time_s", rpm = "rpm", torque = "torque_nm", power = "power_kw", oil_temp_c = "oil_c" }
units = { time = "s", torque = "N m", power = "kW", oil_temp_c = "°C" }
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day.toml").write_text(DAY + TRACES, encoding="utf-8")
    (tmp_path / "exports").mkdir()
    for case in CASES:
        path = tmp_path / "exports" / f"{case['id']}.csv"
        path.write_text(case["csv"], encoding="utf-8")
        os.utime(path, (time.time() - TWO_DAYS,) * 2)
    return tmp_path


@pytest.fixture
def run(monkeypatch, capsys, folder):
    def command(*arguments):
        monkeypatch.chdir(folder)
        monkeypatch.setattr(sys, "argv", ["doe", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
            sys.exit(0)
        said = capsys.readouterr()
        return SimpleNamespace(returncode=ended.value.code or 0, stdout=said.out, stderr=said.err)

    return command


def pulls(folder):
    day = read_day_file(folder)
    return read_log(folder, day, read_plan(folder, day)).pulls


def with_key(folder, before, after):
    text = (folder / "day.toml").read_text(encoding="utf-8")
    assert before in text
    (folder / "day.toml").write_text(text.replace(before, after), encoding="utf-8")


def other_export(folder, name, factor):
    """The first case's sweep with its torque and power multiplied."""
    lines = CASES[0]["csv"].splitlines()
    rows = [row.split(",") for row in lines[1:]]
    text = [f"{r[0]},{r[1]},{float(r[2]) * factor:.3f},{float(r[3]) * factor:.4f},{r[4]}" for r in rows]
    path = folder / "exports" / name
    path.write_text("\n".join([lines[0], *text]) + "\n")
    return path


def test_trace_reads_and_says_what_it_did(run):
    done = run("trace", "exports/t1.csv")
    assert done.returncode == 0, done.stderr
    assert "3,000 to 7,000 rpm at 300 rpm/s, 81 of 81 samples" in done.stdout
    assert "mean power          226.86 hp" in done.stdout
    assert "oil_temp_c: 92 °C at the start, 96 at most" in done.stdout
    assert "peak torque at the edge of the sweep" in done.stdout


def test_json_is_the_documented_one(run):
    document = json.loads(run("trace", "exports/t1.csv", "--json").stdout)
    (trace,) = document["traces"]
    assert trace["metrics"]["mean power"] == {
        "value": pytest.approx(MEAN_HP, rel=2e-4), "unit": "hp", "at_rpm": None, "reason": None
    }  # fmt: skip
    assert trace["metrics"]["peak power"]["at_rpm"] == 6500
    assert {"file", "samples_used", "spikes_removed", "sweep_rate_rpm_s", "largest_gap_rpm", "warnings"} <= set(trace)


def test_options_of_trace_are_obeyed(run):
    only = json.loads(run("trace", "exports/t1.csv", "--metric", "peak power", "--json").stdout)["traces"][0]
    assert (list(only["metrics"]), only["warnings"]) == (["peak power"], [])
    at = run("trace", "exports/t1.csv", "--metric", "power at rpm", "--at-rpm", "5000", "--json")
    value = json.loads(at.stdout)["traces"][0]["metrics"]["power at rpm"]["value"]
    assert value == pytest.approx(167.5516 / 0.745699871582, rel=2e-4)  # by hand, trace_cases.json
    assert "sweep 2 was asked for; the file has 1" in run("trace", "exports/t1.csv", "--sweep", "2").stderr
    assert "known are mean power" in run("trace", "exports/t1.csv", "--metric", "area").stderr


def test_a_second_read_comes_from_the_day_folder(run, folder):
    first = run("trace", "exports/t1.csv").stdout
    assert list((folder / ".traces-read").iterdir())
    assert run("trace", "exports/t1.csv").stdout == first


def test_a_changed_sweep_rate_is_told_where_the_inertia_is_unknown(run, folder):
    lines = CASES[0]["csv"].splitlines()
    faster = [lines[0], *(f"{float(row.split(',')[0]) / 2:.4f},{row.split(',', 1)[1]}" for row in lines[1:])]
    (folder / "exports" / "fast.csv").write_text("\n".join(faster) + "\n")
    done = run("trace", "exports/t1.csv", "exports/fast.csv")
    # Source: by hand: 0.1 kg m2 x pi/30 x 300 rpm/s = 3.1 N m.
    assert "from 300 to 600 rpm/s and the inertia isn't known: each 0.1 kg m² moves torque by 3.1 N m" in done.stdout
    with_key(folder, "[traces]", "[traces]\ninertia_kg_m2 = 0.2")
    assert "isn't known" not in run("trace", "exports/t1.csv", "exports/fast.csv").stdout


def test_every_key_of_traces_changes_what_is_read(run, folder):
    def mean():
        return json.loads(run("trace", "exports/t1.csv", "--json").stdout)["traces"][0]["metrics"]

    before = mean()
    for old, new in (
        ("[traces]", "[traces]\ninertia_kg_m2 = 0.2"),
        ("[traces]", "[traces]\nsmoother = 40"),
        ("window_rpm = [4000, 6800]", "window_rpm = [4000, 6700]"),
        ("window_rpm = [4000, 6800]", "window_rpm = [4000, 6800]\nat_rpm = 5000"),
        ("window_rpm = [4000, 6800]", "window_rpm = [4000, 6800]\nweights = [[4000, 5000, 1], [5000, 6000, 3]]"),
    ):
        text = (folder / "day.toml").read_text()
        with_key(folder, old, new)
        assert mean() != before, new
        (folder / "day.toml").write_text(text)
    for key, words in (
        ('delimiter = ";"', "no column"), ("title_lines = 1", "no column"), ('decimal = ","', "is no number"),
        ("unit_row = true", "80 of 80 samples"),
    ):  # fmt: skip
        text = (folder / "day.toml").read_text()
        with_key(folder, "[traces]", f"[traces]\n{key}")
        done = run("trace", "exports/t1.csv")
        assert words in done.stdout + done.stderr, key
        (folder / "day.toml").write_text(text)


def test_engine_keys_are_obeyed(run, folder):
    engine = "\n[engine]\ndisplacement_l = 2.5\n"
    (folder / "day.toml").write_text(DAY + TRACES + engine)
    assert "more than petrol without boost makes" in run("trace", "exports/t1.csv").stderr
    for other in ('breathing = "boosted"', 'fuel = "methanol"', "strokes = 2"):
        (folder / "day.toml").write_text(DAY + TRACES + engine + other + "\n")
        assert run("trace", "exports/t1.csv").returncode == 0, other


def test_record_takes_the_number_from_the_trace_and_keeps_the_others_beside_it(run, folder):
    done = run("record", "--trace", "exports/t1.csv")
    assert done.returncode == 0, done.stderr
    (pull,) = pulls(folder)
    assert pull.values["mean power"] == pytest.approx(MEAN_HP, rel=2e-4)
    assert pull.values["mean torque"] == pytest.approx(304, rel=2e-4)
    assert pull.values["peak power"] == pytest.approx(237.3292431668334, rel=2e-4)
    assert (pull.values["oil_temp_c"], pull.values["oil_temp_c highest"]) == (92.0, 96.0)
    assert pull.values["sweep rate rpm/s"] == pytest.approx(300, rel=1e-4)
    assert pull.trace == "traces/t1.csv"
    assert (folder / pull.trace).read_text() == CASES[0]["csv"]
    assert "edge" not in done.stderr  # of a metric that nobody asked for


def test_what_was_typed_goes_before_what_the_trace_says_but_for_the_metric(run, folder):
    run("record", "226.86", "--trace", "exports/t1.csv", "--column", "oil_temp_c=93.5")
    assert pulls(folder)[0].values["oil_temp_c"] == 93.5
    other_export(folder, "other.csv", 1.01)
    done = run("record", "230", "--trace", "exports/other.csv")
    assert done.returncode == 2
    assert "by the trace, 230 was typed; leave the number out" in done.stderr


def aged(path, seconds):
    os.utime(path, (time.time() - seconds,) * 2)


def test_newest_takes_the_file_that_was_written_last_and_never_twice(run, folder):
    with_key(folder, "[traces]", '[traces]\nfolder = "exports"')
    for name in ("t2.csv", "t3.csv"):
        (folder / "exports" / name).unlink()
    aged(other_export(folder, "a.csv", 1.01), 30)
    assert run("record", "--newest").returncode == 0
    again = run("record", "--newest")
    assert again.returncode == 2
    assert "a.csv: this is the trace of pull 1, which is logged" in again.stderr
    aged(other_export(folder, "a.csv", 1.02), 20)  # the dyno overwrites its file
    assert run("record", "--newest").returncode == 0
    shutil.copy(folder / "exports" / "a.csv", folder / "exports" / "copy.csv")
    aged(folder / "exports" / "copy.csv", 10)
    assert "this is the trace of pull 2" in run("record", "--newest").stderr
    assert [pull.trace for pull in pulls(folder)] == ["traces/a.csv", "traces/a-2.csv"]
    assert [round(pull.values["mean power"] / MEAN_HP, 3) for pull in pulls(folder)] == [1.01, 1.02]


def test_a_void_pull_gives_its_trace_free(run, folder):
    run("record", "--trace", "exports/t1.csv")
    run("void", "--why", "logged too early")
    assert run("record", "--trace", "exports/t1.csv").returncode == 0


def test_several_sweeps_in_one_file_are_logged_one_by_one_as_the_error_says(run, folder):
    rows = CASES[0]["csv"].strip().splitlines()
    down = [f"{14 + i / 10:.2f},{6900 - 40 * i},-20,-10,96" for i in range(97)]
    again = [f"{float(row.split(',')[0]) + 30:.3f},{row.split(',', 1)[1]}" for row in rows[1:]]
    (folder / "exports" / "two.csv").write_text("\n".join([*rows, *down, *again]) + "\n")
    assert "or say --sweep 1 to 2" in run("record", "--trace", "exports/two.csv").stderr
    for number in ("1", "2"):
        assert run("record", "--trace", "exports/two.csv", "--sweep", number).returncode == 0
    assert [pull.values["mean power"] for pull in pulls(folder)] == [pytest.approx(MEAN_HP, rel=2e-4)] * 2
    assert "it belongs to --trace" in run("record", "230", "--sweep", "1").stderr


def test_newest_in_words_where_it_cannot_be(run, folder):
    assert 'expected folder = "…" in [traces]' in run("record", "--newest").stderr
    with_key(folder, "[traces]", '[traces]\nfolder = "nowhere"')
    assert "there is no such folder; is the share mounted?" in run("record", "--newest").stderr
    with_key(folder, "nowhere", "empty")
    (folder / "empty").mkdir()
    assert "no file in" in run("record", "--newest").stderr
    assert "contradict" in run("record", "--newest", "--trace", "exports/t1.csv").stderr


def test_another_metric_is_judged_in_its_unit_and_marked(run, folder):
    for number in range(6):
        other_export(folder, f"{number}.csv", 1 + (0.01 if number % 2 else 0) + number / 5000)
        level = ("15W-50", "0W-20")[number % 2]
        run("record", "--trace", f"exports/{number}.csv", "--set", f"oil={level}", "--time", f"{9 + number}:00")
    own = json.loads(run("judge", "--final", "--json").stdout)
    other = json.loads(run("judge", "--metric", "peak torque", "--json").stdout)
    assert (own["gain_unit"], other["gain_unit"]) == ("hp", "N m")
    assert not any("is not the metric" in text for text in own["warnings"])
    assert any(
        "peak torque is not the metric that this day is about (mean power)" in text for text in other["warnings"]
    )
    # Source: by hand: both are the same sweep times a factor, so their gains are the same share.
    share = [document["changes"][0]["gain"] / document["baseline"]["mean"] for document in (own, other)]
    assert share[0] == pytest.approx(share[1], rel=1e-3)


def test_limits_speak_for_a_channel_of_the_trace(run, folder):
    (folder / "day.toml").write_text(DAY + TRACES + "\n[limits]\noil_temp_c = [80, 90]\n")
    assert "wait: oil 92 °C, begin below 90" in run("record", "--trace", "exports/t1.csv").stderr


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda text: "", "the file is empty"),
        (lambda text: text.replace("398.00", "OVER"), "'OVER' is no number"),
        (lambda text: text.replace(",3050,", ",-3050,"), "rpm is -3050"),
        (lambda text: text.replace("0.333,", "0.001,"), "time runs backwards"),
        (lambda text: "\n".join(text.splitlines()[:6]) + "\n", "is this a pull's export"),
        (lambda text: "\n".join(text.splitlines()[:60]) + "\n", "not the window of 4,000 to 6,800"),
        (lambda text: text[: text.rindex(",")], "the last line is cut off"),
        (lambda text: text.replace("torque_nm", "torque"), "there is no column 'torque_nm'"),
    ],
)
def test_a_bad_export_logs_nothing(run, folder, spoil, words):
    path = folder / "exports" / "bad.csv"
    path.write_text(spoil(CASES[0]["csv"]))
    os.utime(path, (time.time() - TWO_DAYS,) * 2)
    done = run("record", "--trace", "exports/bad.csv")
    assert done.returncode == 2
    assert words in done.stderr
    assert "nothing was logged" in done.stderr
    assert not (folder / "pulls.journal").exists()


@pytest.mark.parametrize("behind", [0, 3600, -3600])
def test_a_file_that_still_grows_is_refused_whatever_the_clock_of_the_machine_that_writes_it(
    run, folder, monkeypatch, behind
):
    path = folder / "exports" / "t1.csv"
    path.write_text(CASES[0]["csv"])
    aged(path, behind)

    def sleep(_):
        with path.open("a") as file:
            file.write("13.5,7050,238,175.7,96\n")

    monkeypatch.setattr("doe.cell.traces.export_file.time.sleep", sleep)
    done = run("record", "--trace", "exports/t1.csv")
    assert "still being written" in done.stderr
    assert not (folder / "pulls.journal").exists()


def test_without_traces_a_file_is_only_noted(run, folder):
    (folder / "day.toml").write_text(DAY)
    assert run("record", "431.2", "--trace", "exports/t1.csv").returncode == 0
    assert set(pulls(folder)[0].values) == {"mean power"}
    assert "--set-up' looks at" in run("trace", "exports/t1.csv").stderr


def test_record_without_a_trace_stays_light(folder):
    code = (
        "import sys; sys.argv = ['doe', 'record', '431.2']\n"
        "from doe.cli import main\ntry: main()\nexcept SystemExit: pass\n"
        "print({'numpy', 'pandas'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "set()", done.stderr


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('unit = "hp"', 'unit = "N m"', 'unit = "N m": expected a unit of power'),
        ("window_rpm = [4000, 6800]", "", "expected window_rpm beside it"),
        ('name = "mean power"', 'name = "power at rpm"', "expected at_rpm beside it"),
        ('name = "mean power"', 'name = "weighted power"', "expected weights beside it"),
        ("window_rpm = [4000, 6800]", "weights = [[5000, 4000, 1]]", "weights, entry 1"),
        ('torque = "N m"', 'torque = "hp"', "expected a unit of torque"),
        ("[traces]", "[traces]\nsmoother = 90", "smoother"),
    ],
)
def test_a_day_file_that_traces_can_not_serve(run, folder, old, new, words):
    with_key(folder, old, new)
    assert words in run("trace", "exports/t1.csv").stderr


def on_a_terminal(folder, arguments, answers):
    """What a command prints on a terminal where each question gets the next answer."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.chdir(folder)
        os.execv(sys.executable, [sys.executable, "-m", "doe", *arguments])
    said, waiting = b"", list(answers)
    while select.select([terminal], [], [], 60)[0]:
        try:
            piece = os.read(terminal, 4096)
        except OSError:
            break
        said += piece
        if said.endswith(b": ") and waiting:
            os.write(terminal, waiting.pop(0).encode() + b"\n")
        if not piece:
            break
    os.waitpid(pid, 0)
    return said.decode()


def test_set_up_asks_for_each_column_and_writes_what_was_confirmed(folder, run):
    (folder / "day.toml").write_text("# kept\n" + DAY)
    said = on_a_terminal(folder, ["trace", "exports/t2.csv", "--set-up"], [""] * 9 + ["elsewhere", ""])
    assert "elsewhere: there is no such folder; - for none" in said
    assert read_day_file(folder).traces.folder == "exports"
    assert "Drehmoment (power is torque x rpm to 1 % in these units) [torque]" in said
    assert "wrote [traces]" in said
    assert (folder / "day.toml").read_text().startswith("# kept")
    document = json.loads(run("trace", "exports/t2.csv", "--json").stdout)
    assert document["traces"][0]["metrics"]["mean power"]["value"] == pytest.approx(MEAN_HP, rel=3e-4)


def test_set_up_takes_other_answers_and_writes_nothing_on_no(folder):
    (folder / "day.toml").write_text(DAY)
    # time: "-", rpm and its unit, torque and its unit, power: "-", then no.
    said = on_a_terminal(folder, ["trace", "exports/t2.csv", "--set-up"], ["-", "", "", "", "furlong", "", "-", "no"])
    assert "expected a unit of torque" in said
    assert "nothing was written" in said
    assert "[traces]" not in (folder / "day.toml").read_text()


def test_set_up_is_for_a_terminal_and_for_a_day_without_counted_pulls(folder, run):
    assert "nobody is at the terminal" in run("trace", "exports/t1.csv", "--set-up").stderr
    run("record", "--trace", "exports/t1.csv")
    said = on_a_terminal(folder, ["trace", "exports/t2.csv", "--set-up"], [""] * 10)
    assert "1 counted pull was made with [traces] as it stands" in said


def test_samples_that_were_left_out_are_told_when_a_pull_is_logged(run, folder):
    lines = CASES[0]["csv"].splitlines()
    lines[5:8] = [",".join(["", *line.split(",")[1:]]) for line in lines[5:8]]
    path = folder / "exports" / "holes.csv"
    path.write_text("\n".join([*lines, ""]))
    aged(path, TWO_DAYS)
    done = run("record", "--trace", "exports/holes.csv")
    assert f"pull 1: 3 of {len(lines) - 1} samples left out: an empty cell" in done.stderr
