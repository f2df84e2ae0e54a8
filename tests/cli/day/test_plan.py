"""``doe plan`` as a tester types it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from shutil import copytree

import pytest
from day_files import day_file, factor
from searches import short_searches
from typed import Done, in_process, typed

from doe.errors import DoeError

DAY = day_file(
    factor("oil", "15W-50", "0W-20 20 20 1 2.0", refit=True),
    factor("crankcase vacuum", "off", "on 2 2 - 1.5"),
    title="An invented day",
    finish="15:00",
    breaks=[("12:00", 30)],
    warm_up=30,
    noise="pull_sd = 1.0\npull_df = 15\ninstall_sd = 0.5\ninstall_df = 5",
)


@pytest.fixture
def folder(tmp_path) -> Path:
    (tmp_path / "day.toml").write_text(DAY, encoding="utf-8")
    return tmp_path


@pytest.fixture
def doe(monkeypatch):
    """A function that runs one command in this process; in one of its own (`in_process`) a plan is searched in full."""
    short_searches(monkeypatch)
    return typed


@pytest.fixture
def plan(doe):
    return lambda folder, *words: doe("plan", folder, "--effort", "quick", *words)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory) -> tuple[Path, Done]:
    """The day with its plan of seed 1, made once, and what was said when it was drawn."""
    folder = tmp_path_factory.mktemp("drawn")
    (folder / "day.toml").write_text(DAY, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        short_searches(patch)
        done = typed("plan", folder, "--effort", "quick", "--seed", 1)
    assert done.returncode == 0, done.stderr
    return folder, done


@pytest.fixture
def planned(drawn, tmp_path) -> Path:
    """A copy of it."""
    return copytree(drawn[0], tmp_path, dirs_exist_ok=True)


def _without_oil(folder: Path) -> None:
    """One quick part: a small day, quickly planned."""
    begin, end = DAY.index("[[factor]]"), DAY.rindex("[[factor]]")
    (folder / "day.toml").write_text(DAY[:begin] + DAY[end:], encoding="utf-8")


def files(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_the_json_holds_what_scripts_rely_on(folder) -> None:
    done = in_process("plan", folder, "--effort", "quick", "--seed", 7, "--json")
    assert done.returncode == 0
    document = json.loads(done.stdout)
    assert list(document) == [
        "format", "minutes_available", "minutes_used", "seed", "runs", "questions", "expected_settled", "compared",
        "one_at_a_time_settled", "break_even_interplay", "drops", "if_cut", "if_filled", "if_it_wanders", "wishes",
        "wishes_cost", "bring", "cautions", "notes",
    ]  # fmt: skip
    assert document["format"] == 1
    assert document["seed"] == 7
    assert document["minutes_available"] == 390  # Source: by hand: seven hours less half an hour.
    assert list(document["runs"][0]) == [
        "run", "clock", "minute", "install", "stint", "do", "configuration", "count",
    ]  # fmt: skip
    assert list(document["questions"][0]) == [
        "factor", "level", "smallest_gain", "detectable_gain", "power", "family_power", "no_difference_power", "se",
        "df", "answerable", "dropped",
    ]  # fmt: skip
    assert list(document["compared"]) == ["one pass", "A-B-A", "stacked", "in turn"]
    assert document["compared"]["A-B-A"]["detectable_gain"][0]["factor"] == "oil"
    assert {"plan.csv", "plan.json", "orders.txt"} <= files(folder)
    assert "wrote" in done.stderr


def test_the_text_is_for_a_tester(plan, folder) -> None:
    done = plan(folder, "--seed", 7)
    assert done.returncode == 0
    for words in ("questions until", "fit oil 0W-20", "12:00  12:30", "break", "real gain ", " in 100", "throw-away"):
        assert words in done.stdout
    assert "Traceback" not in done.stderr
    details = plan(folder, "--details").stdout
    for words in ("The day", "times in 100", "A-B-A", "If you must stop early"):
        assert words in details


def test_the_same_seed_gives_the_same_plan_in_another_process(folder) -> None:
    _without_oil(folder)
    words = ("plan", folder, "--effort", "quick", "--seed", 3, "--json")
    assert in_process(*words).stdout == typed(*words).stdout


def test_what_if_writes_nothing(plan, folder) -> None:
    done = plan(folder, "--minutes", 480, "--pull-sd", 0.8, "--smallest-gain", "oil:1.5", "--seed", 1, "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert document["minutes_available"] == 480
    assert document["questions"][0]["smallest_gain"] == 1.5
    assert files(folder) == {"day.toml"}
    assert "nothing was written" in done.stderr
    equals = plan(folder, "--smallest-gain", "vac=on=1.25", "--seed", 1, "--json")
    assert json.loads(equals.stdout)["questions"][1]["smallest_gain"] == 1.25


def test_pictures(plan, folder, tmp_path) -> None:
    _without_oil(folder)
    picture = tmp_path / "day.svg"
    done = plan(folder, "--minutes", 300, "--seed", 1, "--figure", picture)
    assert done.returncode == 0, done.stderr
    assert "<svg" in picture.read_text(encoding="utf-8")


def test_frontier_says_what_another_hour_buys(doe, folder) -> None:
    _without_oil(folder)
    done = doe("plan", folder, "--frontier", "--effort", "quick", "--json")
    assert done.returncode == 0, done.stderr
    rows = json.loads(done.stdout)["hours"]
    hours, own = [row["hours"] for row in rows], json.loads(done.stdout)["own_hours"]
    assert len(hours) == 9
    assert own in hours
    assert 0.2 * own < hours[0] < 0.6 * own < 1.2 * own < hours[-1] < 1.6 * own
    settled = [row["expected_settled"] or 0.0 for row in rows]
    assert all(later >= earlier for earlier, later in pairwise(settled))
    for row in rows:
        assert sum(chance or 0.0 for chance in row["chance"]) == pytest.approx(row["expected_settled"] or 0.0)
    assert files(folder) == {"day.toml"}


def test_with_pulls_it_refuses_and_the_advice_works(doe, plan, planned) -> None:
    assert doe("record", planned, "200.1", "--time", "08:40").returncode == 0
    done = plan(planned, "--new")
    assert done.returncode == 2
    assert "--from-now" in done.stderr
    assert "--from-now' plans the rest of the day anew; this plan is kept" in " ".join(plan(planned).stdout.split())
    rest = plan(planned, "--from-now", "--finish", "14:30", "--break", "10:00+15", "--minutes-on", "oil:25", "--json")
    assert rest.returncode == 0, rest.stderr
    runs = json.loads(rest.stdout)["runs"]
    assert runs[-1]["minute"] <= 390
    assert not any(120 < run["minute"] < 135 for run in runs)
    assert "plan.1.csv" in files(planned)


def test_a_plan_that_exists_is_shown_and_not_lost(plan, drawn, planned) -> None:
    kept = {name: (planned / name).read_bytes() for name in files(planned)}
    again = plan(planned, "--seed", 2)
    assert again.stdout.splitlines()[:2] == drawn[1].stdout.splitlines()[:2]
    said = "This plan was drawn before, with seed 1, so --seed and --effort change nothing:"
    assert said in " ".join(again.stdout.split())
    assert "--new' draws another" in " ".join(again.stdout.split())  # lines break where the folder's name ends
    told = plan(planned, "--json")
    assert "This plan was drawn before" in told.stderr
    assert {name: (planned / name).read_bytes() for name in files(planned)} == kept
    assert json.loads(plan(planned, "--json").stdout) == json.loads(plan(planned, "--json", "--seed", 9).stdout)


def test_another_plan_is_drawn_when_asked_for_and_the_old_one_kept(plan, folder) -> None:
    _without_oil(folder)
    plan(folder, "--seed", 1)
    old = (folder / "plan.csv").read_bytes()
    assert plan(folder, "--new", "--seed", 2).returncode == 0
    assert (folder / "plan.1.csv").read_bytes() == old
    assert json.loads((folder / "plan.json").read_text(encoding="utf-8"))["seed"] == 2
    assert plan(folder, "--fill", "--seed", 3).returncode == 0  # a wish draws a new plan, too
    assert "plan.2.csv" in files(folder)


def test_a_changed_day_is_said_and_planned_anew_also_with_other_parts(plan, planned) -> None:
    (planned / "day.toml").write_text(DAY.replace("15:00", "14:00"), encoding="utf-8")
    assert "day.toml has changed since: " in " ".join(plan(planned).stdout.split())
    (planned / "day.toml").write_text(DAY.replace("crankcase vacuum", "breather"), encoding="utf-8")
    lost = plan(planned)
    assert (lost.returncode, lost.stdout) == (2, "")
    assert "--new' draws another" in lost.stderr
    anew = plan(planned, "--new", "--seed", 2)
    assert anew.returncode == 0, anew.stderr
    assert "breather" in anew.stdout


def test_a_sheet_that_was_made_is_spoken_of_before_another_plan_is_drawn(doe, plan, folder) -> None:
    _without_oil(folder)
    plan(folder, "--seed", 1)
    assert doe("sheet", folder).returncode == 0
    anew = plan(folder, "--new", "--seed", 2)  # nobody sits at this terminal, so it goes on
    assert anew.returncode == 0
    assert "a run sheet of this plan was made at" in anew.stderr


def test_a_what_if_that_names_todays_value_writes_nothing(plan, planned) -> None:
    kept = {name: (planned / name).read_bytes() for name in files(planned)}
    done = plan(planned, "--pull-sd", "1.0", "--seed", 2)
    assert "nothing was written" in done.stderr
    assert {name: (planned / name).read_bytes() for name in files(planned)} == kept
    assert "--new: not with a what-if" in plan(planned, "--new", "--pull-sd", "1.0").stderr
    vouched = plan(planned, "--wander-sd", "0", "--seed", 2)
    assert "nothing was written" in vouched.stderr
    assert "If the engine wanders" not in vouched.stdout


def test_a_warm_up_pull_or_a_voided_one_forbids_no_plan(doe, plan, folder) -> None:
    _without_oil(folder)
    assert doe("record", folder, "199.0", "--time", "08:10", "--count", "warm-up").returncode == 0
    assert doe("record", folder, "150.0", "--time", "08:20", "--count", "yes").returncode == 0
    assert plan(folder, "--seed", 1).returncode == 2
    assert doe("void", folder, "--why", "throttle stuck").returncode == 0
    done = plan(folder, "--seed", 1)
    assert done.returncode == 0, done.stderr


def test_what_is_for_the_rest_of_the_day_needs_from_now(plan, folder) -> None:
    done = plan(folder, "--drop", "oil")
    assert (done.returncode, done.stdout) == (2, "")
    assert "add --from-now" in done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--smallest-gain", "camshaft:1"), "camshaft"),
        (("--smallest-gain", "oil"), "expected CHANGE:VALUE"),
        (("--smallest-gain", "oil:much"), "expected a number"),
        (("--smallest-gain", "oil:-1"), "expected more than 0"),
        (("--pull-sd", "0"), "expected more than 0"),
        (("--minutes", "3"), "must fit"),
        (("--from-now", "--finish", "late"), "time of day"),
        (("--from-now", "--break", "10:00"), "HH:MM+MINUTES"),
        (("--effort", "huge"), "effort"),
        (("--after", "nowhere"), "nowhere"),
    ],
)
def test_slips_are_explained(plan, folder, words, said) -> None:
    done = plan(folder, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert files(folder) == {"day.toml"}


def test_a_wish_draws_and_writes_a_new_plan_by_the_rule_of_new(plan, planned) -> None:
    done = plan(planned, "--seed", "1", "--last", "vac", "--max-changeovers", "8", "--supply", "0W-20:3")
    assert done.returncode == 0
    assert "crankcase vacuum last: costs" in done.stdout
    assert "oil 0W-20 fitted at most 3 times: costs" in done.stdout
    assert {"plan.csv", "plan.1.csv"} <= files(planned)
    shown = plan(planned)
    assert shown.stdout.splitlines()[6:] == done.stdout.splitlines()[2:]
    assert "day.toml has changed" not in shown.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--last", "ail"], "--last ail: "),
        (["--apart", "oil"], "--apart oil: expected two parts, PART:PART"),
        (["--apart", "oil:oil"], "expected two different parts"),
        (["--supply", "oil"], "--supply oil: expected PART=LEVEL:3"),
        (["--supply", "oil=0W-20:2.5"], "expected a whole number of fittings, not '2.5'"),
        (["--max-changeovers", "0"], "with this wish nothing could be answered: at most 0 changeovers"),
    ],
)
def test_slips_in_wishes_are_explained(plan, folder, words, said) -> None:
    done = plan(folder, "--seed", "1", *words)
    assert done.returncode == 2
    assert said in " ".join(done.stderr.split())
    assert not (folder / "plan.csv").exists()


def test_ease_shows_plans_with_less_work_and_its_number_writes_one(plan, folder) -> None:
    _without_oil(folder)
    text = (folder / "day.toml").read_text(encoding="utf-8")
    short = text.replace("15:00", "11:00").replace("[{ from = 12:00:00, minutes = 30 }]", "[]")
    (folder / "day.toml").write_text(short, encoding="utf-8")
    shown = plan(folder, "--seed", "1", "--ease")
    assert shown.returncode == 0
    assert files(folder) == {"day.toml"}
    rows = {words[0]: words for line in shown.stdout.splitlines() if (words := line.split())}
    assert rows["1"][2:4] == ["of", rows["2"][3]]  # questions settled of all
    done = plan(folder, "--seed", "1", "--ease", "2")
    assert done.returncode == 0
    assert f"at most {rows['2'][4]} changeovers: costs" in done.stdout
    assert (folder / "plan.csv").exists()
    assert plan(folder, "--ease", "7", "--seed", "1").returncode == 2


def test_several_rented_days_are_planned_together(doe, folder, tmp_path) -> None:
    names = ["monday", "tuesday"]
    for number, name in enumerate(names):
        (tmp_path / name).mkdir()
        (tmp_path / name / "day.toml").write_text(DAY.replace("2026-05-16", f"2026-05-2{number}"), encoding="utf-8")
    days = [tmp_path / name for name in names]
    words = ("plan", *days, "--effort", "quick", "--seed", "1")
    looked = doe(*words, "--another-day")
    assert looked.returncode == 0
    assert "7 hours, would settle" in " ".join(looked.stdout.split())
    assert all(files(day) == {"day.toml"} for day in days)
    done = doe(*words)
    assert done.returncode == 0
    assert "of 2 questions settled when both days are done" in " ".join(done.stdout.split())
    assert done.stdout.startswith("Follow each day's plan, then type 'doe judge")
    assert all((day / "plan.csv").exists() for day in days)
    before = [(day / "plan.json").read_bytes() for day in days]
    again = doe(*words, "--seed", "2")
    assert (again.returncode, again.stdout) == (0, done.stdout)
    assert "these plans were there already" in again.stderr
    assert [(day / "plan.json").read_bytes() for day in days] == before
    assert doe(*words, "--new").returncode == 0
    alone = doe("plan", days[0], "--effort", "quick", "--new")
    assert "this day was planned together with tuesday" in alone.stderr
    apart = doe(*words)
    assert (apart.returncode, apart.stdout) == (2, "")
    assert "planned without the others already" in apart.stderr
    assert doe("plan", *days, "--frontier").returncode == 2
    assert "named twice" in doe("plan", days[0], days[0]).stderr
    assert "--new: not with --another-day" in doe("plan", *days, "--another-day", "--new").stderr


def test_nothing_fits_is_no_slip_but_can_not_be_done(plan, folder) -> None:
    (folder / "day.toml").write_text(DAY.replace("finish = 15:00", "finish = 08:40").replace(
        "[{ from = 12:00:00, minutes = 30 }]", "[]"), encoding="utf-8")  # fmt: skip
    done = plan(folder)
    assert (done.returncode, done.stdout) == (1, "")
    assert "minutes are missing" in done.stderr


def test_without_noise_it_says_what_to_write(plan, folder) -> None:
    text = DAY.replace("pull_sd = 1.0\npull_df = 15\n", "")
    (folder / "day.toml").write_text(text, encoding="utf-8")
    done = plan(folder)
    assert done.returncode == 2
    assert "pull_sd is missing" in done.stderr


def test_a_day_after_another(plan, folder, tmp_path) -> None:
    _without_oil(folder)
    plan(folder, "--seed", 1)
    second = tmp_path / "second"
    second.mkdir()
    first = (folder / "day.toml").read_text(encoding="utf-8")
    (second / "day.toml").write_text(first.replace("2026-05-16", "2026-05-17"), encoding="utf-8")
    done = plan(second, "--after", folder, "--seed", 1)
    assert done.returncode == 0, done.stderr
    assert "judged together" in done.stdout


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT for one process there")
def test_ctrl_c_keeps_the_best_so_far(folder) -> None:
    words = [sys.executable, "-m", "doe", "plan", str(folder), "--effort", "long", "--seed", "1"]
    watched, terminal = os.openpty()  # the bar is drawn where somebody watches: it tells that the search has begun
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=terminal, text=True)
    os.close(terminal)
    seen = b""
    while b"%" not in seen:
        seen += os.read(watched, 1000)
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate()
    os.close(watched)
    assert process.returncode == 0, seen
    assert "stopped early" in out
    assert "plan.csv" in files(folder)


def test_every_option_is_explained(doe) -> None:
    text = doe("plan", "--help").stdout
    for option in ("--seed", "--effort", "--after", "--from-now", "--frontier", "--figure", "--fresh-refit"):
        assert option in text
    assert "Example: doe plan my-day" in text


def test_who_waits_for_a_plan_is_told_what_for_before_the_bar_and_after_it(folder, monkeypatch) -> None:
    told = []

    def searched(day, *, progress, **wishes):
        assert told == ["planning"]
        progress(0.5, 1.0)
        assert told == ["planning"]  # the bar is there
        progress(1.0, 1.0)
        raise DoeError("enough")

    for module in ("plan_command", "shown_plan"):
        monkeypatch.setattr(f"doe.cli.day.{module}.working", told.append)
    monkeypatch.setattr("doe.planning.drawn.plan.plan_of", searched)
    assert typed("plan", folder, "--effort", "quick").returncode == 1
    assert told == ["planning", "ordering the sets"]
