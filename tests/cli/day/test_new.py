"""``doe new`` as a tester types it."""

from __future__ import annotations

import json
from pathlib import Path

from typed import Done, typed

from doe.day.files.dayfile import read_day_file


def new(*words: str, answers: str = "", cwd: Path) -> Done:
    return typed("new", *words, answers=answers, cwd=cwd)


def test_a_day_is_started_and_the_next_step_named(tmp_path):
    done = new("my-day", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "doe plan my-day" in done.stdout
    assert [factor.name for factor in read_day_file(tmp_path / "my-day").factor] == ["oil", "crankcase vacuum"]


def test_it_refuses_to_overwrite(tmp_path):
    new("my-day", cwd=tmp_path)
    before = (tmp_path / "my-day" / "day.toml").read_bytes()
    for words in (["my-day"], ["my-day", "--ask"], ["my-day", "--noise-study"]):
        done = new(*words, cwd=tmp_path)
        assert (done.returncode, done.stdout) == (2, "")
        assert "is there already and was left alone" in done.stderr
    assert (tmp_path / "my-day" / "day.toml").read_bytes() == before


def test_json_is_one_document(tmp_path):
    done = new("my-day", "--json", cwd=tmp_path)
    assert json.loads(done.stdout)["file"].endswith("day.toml")
    assert json.loads(done.stdout)["format"] == 1


def test_a_noise_study_is_started(tmp_path):
    done = new("study", "--noise-study", cwd=tmp_path)
    assert done.returncode == 0
    assert "doe noise study --save-to" in done.stdout
    day = read_day_file(tmp_path / "study")
    assert day.questions == ()
    assert day.factor[0].refit_minutes == 30


ANSWERS = {
    "title": "Manifolds",
    "date": "2026-05-16",
    "start": "13:00",
    "finish": "18:00",
    "break": "",                 # noon is not in these hours: no break
    "warm-up": "30",
    "pull": "3,5",
    "metric": "",
    "unit": "kW",
    "pull sd": "0.8",
    "install sd": "0.4",
    "part": "manifold",
    "baseline": "cast",
    "refit": "yes",
    "level": "sheet",
    "on": "45",
    "off": "",                   # as long as to fit it
    "settling": "",
    "gain": "3",
    "another level": "",
    "another part": "",
}  # fmt: skip


def answers(**changed: str) -> str:
    return "".join(f"{answer}\n" for answer in {**ANSWERS, **changed}.values())


def test_ask_writes_what_was_answered(tmp_path):
    done = new("my-day", "--ask", answers=answers(), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    day = read_day_file(tmp_path / "my-day")
    assert (day.day.title, day.length_minutes, day.day.breaks) == ("Manifolds", 300, ())
    assert (day.cell.warm_up_minutes, day.cell.pull_minutes) == (30, 3.5)
    assert (day.metric.name, day.metric.unit) == ("mean power", "kW")
    assert (day.noise.pull_sd, day.noise.install_sd, day.noise.pull_df) == (0.8, 0.4, None)
    (factor,) = day.factor
    assert (factor.name, factor.levels, factor.refit) == ("manifold", ("cast", "sheet"), True)
    assert (factor.change[0].minutes_on, factor.change[0].minutes_off) == (45, 45)
    assert (factor.change[0].settling_pulls, factor.change[0].smallest_gain) == (1, 3)


WRONG = {
    "date": ("16 May\n2026-05-16", "expected a date such as 2026-05-16"),
    "start": ("13\n13:00", "expected a time such as 8:30"),
    "finish": ("12:00\n18:00", "expected a time after the start, 13:00"),
    "pull": ("0\n3.5", "expected a number above 0"),
    "warm-up": ("x\n30", "'x': expected a number"),
    "metric": ("time\n", "expected another name: time is taken"),
    "part": ("mean power\nmanifold", "expected another name: mean power is taken"),
    "baseline": ("\n@1\ncast", "expected a name that does not begin with '@'"),
    "refit": ("perhaps\nyes", "expected yes or no"),
    "level": ("CAST\nsheet", "expected another name: CAST is taken"),
    "settling": ("1.5\n1", "expected a whole number"),
}


def test_an_answer_that_can_not_be_used_is_asked_again(tmp_path):
    typed = answers(**{question: wrong for question, (wrong, _) in WRONG.items()})
    done = new("my-day", "--ask", answers=typed, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert [told for _, told in WRONG.values() if told not in done.stderr] == []
    assert read_day_file(tmp_path / "my-day").factor[0].levels == ("cast", "sheet")


def test_answers_that_end_too_early_leave_nothing_behind(tmp_path):
    done = new("my-day", "--ask", answers="Manifolds\n", cwd=tmp_path)
    assert done.returncode == 1
    assert "nothing was written" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "my-day").exists()


def test_ask_serves_a_noise_study_too(tmp_path):
    lines = ["", "", "9:00", "11:30", "", "30", "4", "", "", "oil", "15W-50", "25", "2", ""]
    done = new("study", "--noise-study", "--ask", answers="".join(f"{line}\n" for line in lines), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    (factor,) = read_day_file(tmp_path / "study").factor
    assert (factor.baseline, factor.refit_minutes, factor.settling_pulls) == ("15W-50", 25, 2)
