"""``doe audit`` as a reader types it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from typed import Done, typed

from doe.day.files.template import NewDay, start_folder

DEMO = Path(__file__).parents[3] / "plans_demo" / "claims"
SPACER = DEMO / "best_of_three.toml"
OILS = [str(DEMO / f"thin_oil_{number}.toml") for number in ("one", "two", "three")]
# The keys that scripts may rely on.
PROMISED = [
    *("name", "gain", "gain_percent", "selection_bias", "gain_adjusted", "se", "df", "low", "high", "p_noise"),
    *("needed_pull_sd", "drift_to_undo", "power", "wrong_sign", "exaggeration", "probability_real"),
    *("probability_real_min", "probability_real_max", "ceiling", "confounded_with", "faults", "verdict"),
]


def audit(*words: str | Path, cwd: Path = DEMO) -> Done:
    return typed("audit", *words, cwd=cwd)


def test_the_verdict_stands_in_the_text_and_nothing_on_stderr():
    done = audit(SPACER)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("Don't go by spacer: within noise.")
    done = audit(SPACER, "--details")
    assert "spacer: within noise" in done.stdout
    assert "verdict at the scatter that is known: not settled" in done.stdout
    assert "In plain words" in done.stdout


def test_json_is_one_document_with_the_words_of_the_design():
    done = audit(*OILS, "--json")
    document = json.loads(done.stdout)
    assert document["format"] == 1
    assert [claim["name"] for claim in document["claims"]] == ["thin oil"] * 3
    assert set(PROMISED) <= set(document["claims"][0])
    assert {"code", "severity", "text"} <= set(document["claims"][0]["faults"][0])
    assert document["pooled"]["k"] == 3


def test_a_new_file_is_written_read_and_never_written_over(tmp_path):
    done = audit("--new", "mine.toml", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "doe audit mine.toml" in done.stdout
    read = audit("mine.toml", "--json", cwd=tmp_path)
    assert read.returncode == 0
    (claim,) = json.loads(read.stdout)["claims"]
    assert claim["verdict"] == "not settled"
    assert "no-numbers" in [fault["code"] for fault in claim["faults"]]
    before = (tmp_path / "mine.toml").read_bytes()
    again = audit("--new", "mine.toml", cwd=tmp_path)
    assert (again.returncode, again.stdout) == (2, "")
    assert "was left alone" in again.stderr
    assert (tmp_path / "mine.toml").read_bytes() == before


def test_the_page_is_written_and_said_on_stderr(tmp_path):
    done = audit(SPACER, "--html", tmp_path / "audit.html", "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["pooled"] is None  # one test
    assert "wrote" in done.stderr
    assert (tmp_path / "audit.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_noise_of_a_day_of_ones_own(tmp_path):
    start_folder(tmp_path / "day", NewDay(pull_sd=2.5, install_sd=0.7))
    day = tmp_path / "day" / "day.toml"
    own = re.sub(r"(?m)^window_rpm.*$", "", day.read_text(encoding="utf-8").replace('"mean power"', '"peak power"'))
    day.write_text(own, encoding="utf-8")
    silent = tmp_path / "spacer.toml"
    text = (DEMO / SPACER).read_text(encoding="utf-8")
    silent.write_text(re.sub(r"(?m)^(pull|install)_(sd|df) = .*$", "", text), encoding="utf-8")
    (claim,) = json.loads(audit(silent, "--noise", tmp_path / "day", "--json").stdout)["claims"]
    # Source: by hand, means of 2 twice and the best of 3 (variance .55947): 2.5^2 (.25 + .55947) + 0.7^2 1.5.
    assert claim["se"] == pytest.approx((2.5**2 * (0.25 + 0.55947) + 0.7**2 * 1.5) ** 0.5, rel=1e-5)


def test_the_honest_protocol(tmp_path):
    done = audit("--protocol", DEMO / "torque_in_wrong_unit.toml")
    assert done.returncode == 0
    assert done.stdout.startswith("An honest test would have taken 2 h 10 min for lid open.")
    assert "Pulls: those that count, and throw-away pulls." in " ".join(done.stdout.split())
    assert "planning for claim 1 of 1" in done.stderr


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (["--new", "a.toml", "--noise", "."], "--new can't be combined with --noise"),
        (["--new", "a.toml", "--html", "a.html"], "--new can't be combined with --html"),
        (["--new", "--protocol", "a.toml"], "--new can't be combined with --protocol"),
        (["--protocol", "a.toml", "b.toml"], "--protocol takes one FILE, 2 are named"),
        (["nowhere.toml"], "nowhere.toml: there is no such file"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(tmp_path, words, complaint):
    done = audit(*words, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert complaint in done.stderr
    assert list(tmp_path.iterdir()) == []


TEXT = SPACER.read_text(encoding="utf-8")
BROKEN = {
    "empty.toml": (b"", "the file is empty"),
    "unquoted.toml": (b"[test]\ntitle = Thin oil\n", 'line 2, column 9: put the text in quotes: "Thin oil"'),
    "comma.toml": (TEXT.replace("217.4", "217,4").encode(), "write the number with a point: 217.4"),
    "twice.toml": (TEXT.replace("[[step]]", "[step]").encode(), "write [[step]], in two brackets"),
    "binary.toml": (bytes(range(256)), "this is no text file"),
    "deep.toml": (b"a = " + b"[" * 3000, "nested far too deeply"),
    "nan.toml": (TEXT.replace("217.4", "nan").encode(), '[[step]] 2 "spacer": value = nan: expected a finite number'),
    "no-step.toml": (TEXT.replace('to = ["spacer"]', 'to = ["spacr"]').encode(), "did you mean 'spacer'?"),
}  # fmt: skip


def test_broken_files_are_answered_all_at_once_with_their_places_and_never_a_traceback(tmp_path):
    for name, (data, _) in BROKEN.items():
        (tmp_path / name).write_bytes(data)
    done = audit(*BROKEN, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr
    for name, (_, complaint) in BROKEN.items():
        assert any(line.startswith(name) and complaint in line for line in done.stderr.splitlines()), name


def test_all_faults_at_once(tmp_path):
    broken = TEXT.replace("paid_by", "payed_by").replace("217.4", '"217.4"').replace("gain = 2.2", "gain = inf")
    (tmp_path / "a.toml").write_text(broken)
    lines = audit("a.toml", cwd=tmp_path).stderr.splitlines()
    assert len(lines) == 3
    assert "did you mean 'paid_by'?" in lines[0]


def test_whatever_a_windows_editor_saves_is_read(tmp_path):
    for encoding in ("utf-16", "utf-8-sig", "cp1252"):
        text = TEXT.replace("\n", "\r\n").replace("A spacer", f"Spacer, 20 °C, {encoding}")
        (tmp_path / encoding).write_bytes(text.encode(encoding))
    done = audit("utf-16", "utf-8-sig", "cp1252", "--details", cwd=tmp_path)
    assert done.returncode == 0
    assert all(f"Spacer, 20 °C, {encoding}" in done.stdout for encoding in ("utf-16", "utf-8-sig", "cp1252"))
