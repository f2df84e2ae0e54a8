"""``doe new`` as a tester types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typed import Done, typed

from doe.day.files.dayfile import read_day_file


@pytest.fixture(autouse=True)
def no_plan(monkeypatch):
    """The look at a plan, which ends what was asked, takes seconds; one test has it."""
    monkeypatch.setattr("doe.cli.day.asked_day.show_plan", lambda folder: None)


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
    "start": ("25\n13:00", "expected a time such as 8:30"),
    "finish": ("12:00\n18:00", "expected a time after the start, 13:00; it may be past midnight"),
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


def test_answers_that_end_too_early_are_kept(tmp_path):
    """The first run stops behind the warm-up; the second goes on there, and leaves nothing but the day."""
    lines = answers().splitlines(keepends=True)
    done = new("my-day", "--ask", answers="".join(lines[:6]), cwd=tmp_path)
    assert done.returncode == 1
    assert "no day was written; 6 answers kept: 'doe new my-day --ask' goes on from there" in done.stderr
    assert "Traceback" not in done.stderr
    other = new("my-day", "--ask", "--noise-study", answers="", cwd=tmp_path)
    assert "answered before" not in other.stderr
    done = new("my-day", "--ask", answers="".join(lines[6:]), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "answered before:\n  Title of the day: Manifolds\n" in done.stderr
    assert read_day_file(tmp_path / "my-day").cell.warm_up_minutes == 30
    assert [path.name for path in (tmp_path / "my-day").iterdir()] == ["day.toml"]


def test_nothing_answered_leaves_nothing_behind(tmp_path):
    done = new("my-day", "--ask", answers="", cwd=tmp_path)
    assert (done.returncode, "nothing was written" in done.stderr) == (1, True)
    assert not (tmp_path / "my-day").exists()


def test_ctrl_c_keeps_what_was_answered(tmp_path, monkeypatch):
    typed_lines = iter(["Manifolds\n"])

    def line() -> str:
        for one in typed_lines:
            return one
        raise KeyboardInterrupt

    monkeypatch.setattr("doe.cli.day.questions_in_turn.read_line", line)
    done = new("my-day", "--ask", cwd=tmp_path)
    assert done.returncode == 1
    assert "1 answer kept" in done.stderr


def test_one_can_go_back(tmp_path):
    """What stands is what was typed last: minutes to take it back 20, two throw-away pulls."""
    wrong = {"title": "back\nWrong\nback\nManifolds", "gain": "back\nback\n20\n2\n3"}
    done = new("my-day", "--ask", answers=answers(**wrong), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "this is the first question" in done.stderr
    day = read_day_file(tmp_path / "my-day")
    change = day.factor[0].change[0]
    assert (day.day.title, change.minutes_off, change.settling_pulls, change.smallest_gain) == ("Manifolds", 20, 2, 3)


def test_times_and_numbers_as_people_type_them(tmp_path):
    typed_so = {"start": "8", "finish": "5.30 pm", "break": "12.15\n", "pull": "4,5", "gain": "400/150"}
    done = new("my-day", "--ask", answers=answers(**typed_so), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    day = read_day_file(tmp_path / "my-day")
    assert (f"{day.day.start:%H:%M}", f"{day.day.finish:%H:%M}") == ("08:00", "17:30")
    assert (day.pauses, day.cell.pull_minutes) == (((255, 285),), 4.5)
    assert day.factor[0].change[0].smallest_gain == 2.67  # Source: 400 / 150, three figures


def test_what_decides_of_a_day_has_no_default(tmp_path):
    nothing = {"pull sd": "\n\n0.8", "install sd": "\nunknown", "gain": "\n3"}
    done = new("my-day", "--ask", answers=answers(**nothing), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr.count("  expected ") == 4
    assert read_day_file(tmp_path / "my-day").noise.install_sd is None


def test_the_scatter_may_be_typed_as_readings(tmp_path):
    """Source: by hand. 200, 201 and 202: SD 1 on 2 df."""
    done = new("my-day", "--ask", answers=answers(**{"pull sd": "200 201\n200;201,0 202"}), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "expected one number, or 3 to 10 readings" in done.stderr
    noise = read_day_file(tmp_path / "my-day").noise
    assert (noise.pull_sd, noise.pull_df, noise.source) == (1.0, 2, "3 readings of the baseline")


def test_it_ends_with_the_first_lines_of_a_plan(tmp_path, monkeypatch):
    monkeypatch.undo()
    done = new("my-day", "--ask", answers=answers(refit="no", on="5", settling="0", pull="8"), cwd=tmp_path)
    assert "what such a day can answer (a quick look; nothing is drawn yet):" in done.stderr
    assert "1 question until" in done.stderr
    assert not (tmp_path / "my-day" / "plan.csv").exists()


def test_ask_serves_a_noise_study_too(tmp_path):
    lines = ["", "", "9:00", "11:30", "", "30", "4", "", "", "oil", "15W-50", "25", "2", ""]
    done = new("study", "--noise-study", "--ask", answers="".join(f"{line}\n" for line in lines), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    (factor,) = read_day_file(tmp_path / "study").factor
    assert (factor.baseline, factor.refit_minutes, factor.settling_pulls) == ("15W-50", 25, 2)
