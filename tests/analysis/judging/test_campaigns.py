"""Day folders judged together: by date, each once, and what is taken of the nights between them."""

from __future__ import annotations

import csv
import json
import shutil
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest
from day_files import day_file, factor
from typer.testing import CliRunner

from doe.analysis.judging.folders import judge_day
from doe.analysis.scatter.repeatability import noise_of_days
from doe.analysis.trials.campaign import read_days
from doe.analysis.trials.from_folders import fitting_names, trial_of_days
from doe.cli import app
from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.files.seal import seal_of
from doe.day.log.reading import read_log
from doe.day.records import Stint
from doe.errors import InputError

PARTS = [
    factor("oil", "thick", "thin 10 10 - 1.0", refit=True),
    factor("manifold", "cast", "sheet 10 10 - 1.0", refit=True),
]
LEVELS = {"A": ("thick", "cast"), "B": ("thin", "cast"), "C": ("thick", "sheet"), "D": ("thin", "sheet")}


def make_day(
    folder: Path,
    sets: str,
    date: str = "2020-05-16",
    *,
    start: str = "08:00",
    seed: int = 1,
    plan: dict | None = None,
) -> Path:
    """A finished day of two pulls a set, a letter a set."""
    folder.mkdir(parents=True)
    text = day_file(*PARTS, date=date, start=start, finish="23:00", warm_up=20)
    (folder / "day.toml").write_text(text, encoding="utf-8")
    day = read_day_file(folder)
    stints = [Stint(dict(zip(("oil", "manifold"), LEVELS[one], strict=True)), 2) for one in sets]
    runs = lay_out(day, stints)
    write_plan(folder, runs, {"seal": seal_of(day), **(plan or {})})
    rng = np.random.default_rng(seed)
    shift = 0.3 * rng.standard_normal(100)
    rows = []
    for run in runs:
        value = 200 + 2 * (run.configuration["oil"] == "thin") + shift[run.install] + 0.3 * rng.standard_normal()
        minute = int(start[:2]) * 60 + int(run.minute)
        rows.append(
            [run.run, f"{minute // 60:02d}:{minute % 60:02d}", *run.configuration.values(), f"{value:.2f}", run.count]
        )
    write_pulls(folder, rows)
    return folder


def write_pulls(folder: Path, rows: list[list]) -> None:
    with (folder / "pulls.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([["pull", "time", "oil", "manifold", "mean power", "count"], *rows])


def pulls_of(folder: Path) -> list[list[str]]:
    with (folder / "pulls.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.reader(file))[1:]


def readings(folder: Path, *rows: str) -> None:
    (folder / "readings.csv").write_text("\n".join(["pull,name,value", *rows, ""]), encoding="utf-8")


def printed(*words: object) -> str:
    ran = CliRunner().invoke(app, [str(word) for word in words])
    assert ran.exit_code == 0, ran.output
    return ran.stdout


def fittings(folders: list[Path]) -> dict[str, list[int]]:
    trial, *_ = trial_of_days(read_days(folders), "mean power")
    return {name: numbers.tolist() for name, numbers in trial.fittings.items()}


def over_night(folders: list[Path], last: int = -1) -> dict[str, bool]:
    """For each part whether the first counted pull of the last day has a fitting of the days before."""
    trial, *_ = trial_of_days(read_days(folders), "mean power")
    late = trial.day == trial.day.max()
    return {name: bool(own[late][0] in own[~late]) for name, own in trial.fittings.items()}


def nights(folders: list[Path]) -> list[str]:
    return [line for line in judge_day(folders).warnings if "fitting" in line]


def test_a_fitting_has_the_number_that_its_log_gives_it(tmp_path):
    folder = make_day(tmp_path / "day", "ABAB", seed=1)
    (day,) = read_days([folder])
    second = [pull.number for pull in day.pulls if pull.install == 2]
    assert second
    for number in second:
        printed("void", folder, number, "--why", "fan was off")
    trial, _, names, _ = trial_of_days(read_days([folder]), "mean power")
    assert list(dict.fromkeys(fitting_names(trial, names))) == ["1", "3", "4"]
    other = make_day(tmp_path / "other", "ABAB", "2020-05-17", seed=2)
    trial, _, names, _ = trial_of_days(read_days([folder, other]), "mean power")
    assert list(dict.fromkeys(fitting_names(trial, names))) == [
        "day/1",
        "day/3",
        "day/4",
        *(f"other/{n}" for n in (1, 2, 3, 4)),
    ]


@pytest.fixture
def three(tmp_path) -> list[Path]:
    """Three days; the second ends as it began and as the third begins."""
    return [
        make_day(tmp_path / "z", "ABAB", "2020-05-16", seed=1),
        make_day(tmp_path / "y", "BABA", "2020-05-17", seed=2),
        make_day(tmp_path / "x", "ABAC", "2020-05-18", seed=3),
    ]


@pytest.mark.parametrize("options", [(), ("--json",)])
def test_the_order_of_the_folders_changes_no_byte(three, options):
    orders = [three, three[::-1], [three[1], three[2], three[0]]]  # the last day first, in the middle, last
    for command in ("judge", "noise"):
        assert len({printed(command, *order, *options) for order in orders}) == 1


def test_two_days_of_one_date_go_by_their_start_then_by_their_path(tmp_path):
    evening = make_day(tmp_path / "a", "BABA", start="14:00", seed=2, plan={"still_on": ["oil"]})
    noon = make_day(tmp_path / "b", "ABAB", start="08:00", seed=1)
    assert [day.folder for day in read_days([evening, noon])] == [noon, evening]
    assert over_night([evening, noon]) == {"oil": True, "manifold": False}
    alike = [make_day(tmp_path / name / "day", "ABAB", "2020-05-20", seed=ord(name)) for name in "dc"]
    assert [day.name for day in read_days(alike)] == ["c/day", "d/day"]
    for folders in ([evening, noon], alike):
        for options in ((), ("--json",)):
            assert len({printed("judge", *order, *options) for order in permutations(folders)}) == 1


def test_without_a_word_every_part_is_fitted_afresh_each_day_and_it_is_said_once(three):
    assert over_night(three) == {"oil": False, "manifold": False}
    (line,) = nights(three)
    assert line.startswith("each day has fresh fittings of oil and manifold: neither plan nor log says")
    assert "oil thin before y" in line and "oil thick before x" in line and "manifold cast before x" in line
    assert over_night(three[:2]) == {"oil": False, "manifold": False}
    assert " ".join(printed("judge", *three).split()).count("each day has fresh fittings") == 1


def test_what_the_note_advises_is_taken(three):
    (line,) = nights(three)
    readings(three[1], line.rpartition("such as ")[2])  # 1,kept,oil
    assert over_night(three[:2]) == {"oil": True, "manifold": False}
    carried, rest = nights(three[:2])
    assert carried == "taken as the same fitting over night: oil thin from z to y, as pull 1 of y says"
    assert "but for these" in rest and "oil thin" not in rest
    readings(three[1], "1,kept,oil", "1,Kept,manifold")
    assert over_night(three[:2]) == {"oil": True, "manifold": True}
    readings(three[1], "1,kept,oil; manifold")
    assert over_night(three[:2]) == {"oil": True, "manifold": True}
    assert len(nights(three[:2])) == 1


def test_the_plan_says_what_stays_on_from_the_day_that_it_names(tmp_path):
    one = make_day(tmp_path / "one", "ABA", "2020-05-16")
    other = make_day(tmp_path / "other", "ABA", "2020-05-17", seed=5)
    link = {"after": {"folder": "one", "date": "2020-05-16"}, "still_on": ["oil"]}
    two = make_day(tmp_path / "two", "ABA", "2020-05-18", seed=2, plan=link)
    assert over_night([one, two]) == {"oil": True, "manifold": False}
    assert "oil thick from one to two, as the plan of two says" in nights([one, two])[0]
    assert over_night([one, other, two]) == {"oil": False, "manifold": False}
    assert any("since 2020-05-16, but the day before it here is other" in line for line in nights([one, other, two]))


@pytest.mark.parametrize(("sets", "why"), [("BAB", "but one ends with thick and two begins with thin")])
def test_who_says_that_it_stayed_on_while_the_rows_say_otherwise_is_told(tmp_path, sets, why):
    one = make_day(tmp_path / "one", "ABA", "2020-05-16")
    two = make_day(tmp_path / "two", sets, "2020-05-17", seed=2, plan={"still_on": ["oil"]})
    assert over_night([one, two])["oil"] is False
    assert any(why in line for line in nights([one, two]))


def test_a_fresh_fitting_in_the_morning_stands_over_the_plan(tmp_path):
    one = make_day(tmp_path / "one", "ABA", "2020-05-16")
    two = make_day(tmp_path / "two", "ABA", "2020-05-17", seed=2, plan={"still_on": ["oil", "manifold"]})
    readings(two, "1,fresh,oil")
    assert over_night([one, two]) == {"oil": False, "manifold": True}


@pytest.mark.parametrize("plan", [{}, {"still_on": ["oil", "manifold"]}])
@pytest.mark.parametrize("warm", ["A", "B", "C", "D"])
def test_an_uncounted_warm_up_row_changes_no_number(tmp_path, plan, warm):
    one = make_day(tmp_path / "one", "ABAB", "2020-05-16")
    two = make_day(tmp_path / "two", "BCBA", "2020-05-17", seed=2, plan=plan)
    before = judge_day([one, two])
    assert over_night([one, two]) == {"oil": bool(plan), "manifold": bool(plan)}
    first, last = pulls_of(two), pulls_of(one)
    write_pulls(two, [["0", "08:02", *LEVELS[warm], "190", "warm-up"], *first])
    write_pulls(one, [*last, ["90", "20:00", *LEVELS[warm], "190", "warm-up"]])
    (two / "pulls.csv").write_text((two / "pulls.csv").read_text().replace("\n0,", "\n99,"), encoding="utf-8")
    rows = pulls_of(two)
    write_pulls(two, [[str(at), *row[1:]] for at, row in enumerate(rows, start=1)])
    after = judge_day([one, two])
    assert [(g.gain, g.se, g.df, g.verdict) for g in after.changes] == [
        (g.gain, g.se, g.df, g.verdict) for g in before.changes
    ]


def test_a_kept_on_the_warm_up_row_counts_and_a_later_one_is_told_and_ignored(tmp_path):
    one = make_day(tmp_path / "one", "ABA", "2020-05-16")
    two = make_day(tmp_path / "two", "ABA", "2020-05-17", seed=2)
    rows = pulls_of(two)
    write_pulls(two, [["1", "08:02", *LEVELS["A"], "190", "warm-up"], *[[str(int(n) + 1), *r] for n, *r in rows]])
    readings(two, "1,kept,oil", "5,kept,manifold")
    assert over_night([one, two]) == {"oil": True, "manifold": False}
    day = read_day_file(two)
    assert any("ignored elsewhere: pull 5" in line for line in read_log(two, day, None).warnings)


def test_a_part_without_fittings_can_not_be_kept(tmp_path):
    one = make_day(tmp_path / "one", "ABA")
    text = (one / "day.toml").read_text().replace('baseline = "cast"\nrefit = true', 'baseline = "cast"')
    (one / "day.toml").write_text(text)
    readings(one, "1,kept,manifold")
    with pytest.raises(InputError, match="'manifold' has no refit = true"):
        read_log(one, read_day_file(one), None)


def test_a_day_counts_once(tmp_path):
    one = make_day(tmp_path / "one", "ABA")
    with pytest.raises(InputError, match="named twice"):
        judge_day([one, one.parent / "." / "one"])
    shutil.copytree(one, tmp_path / "copy")
    write_pulls(tmp_path / "copy", pulls_of(one)[:-1])
    with pytest.raises(InputError, match="a copy of the day"):
        judge_day([one, tmp_path / "copy"])


THIN = '"thin"\nminutes_on = 10\nminutes_off = 10\nsmallest_gain = '


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('baseline = "cast"\nrefit = true', 'baseline = "cast"', "refit"),
        (f"{THIN}1.0", f"{THIN}2.0", "the smallest_gain of oil thin"),
    ],
)
def test_days_that_ask_otherwise_are_no_campaign(tmp_path, old, new, what):
    one, two = make_day(tmp_path / "one", "ABA"), make_day(tmp_path / "two", "ABA", "2020-05-17", seed=2)
    text = (two / "day.toml").read_text()
    assert old in text
    (two / "day.toml").write_text(text.replace(old, new))
    for order in ([one, two], [two, one]):
        with pytest.raises(InputError, match=what) as found:
            judge_day(order)
        assert "two/day.toml" in str(found.value)


def test_a_question_of_a_later_day_has_its_smallest_gain(tmp_path):
    one, two = make_day(tmp_path / "one", "ABAB"), make_day(tmp_path / "two", "ACAC", "2020-05-17", seed=2)
    text = (one / "day.toml").read_text()
    cut = text.index('[[factor.change]]\nlevel = "sheet"')
    (one / "day.toml").write_text(text[:cut] + "refit_minutes = 10\n")
    found = {gain.level: gain for gain in judge_day([one, two]).changes}
    assert found["sheet"].smallest_gain == found["thin"].smallest_gain == 1.0
    assert found["sheet"].gain is not None


def test_judge_and_noise_take_the_nights_alike(three):
    readings(three[2], "1,kept,oil", "1,kept,manifold")
    found = noise_of_days(three)
    assert [line for line in found.warnings if "fitting" in line and "over night" in line] == [
        line for line in judge_day(three).warnings if "fitting" in line and "over night" in line
    ]
    assert noise_of_days(three[::-1]).to_text() == found.to_text()


def test_days_whose_noise_differs_take_that_of_the_first(tmp_path):
    one, two = make_day(tmp_path / "one", "ABAB"), make_day(tmp_path / "two", "ABAB", "2020-05-17", seed=2)
    with (two / "day.toml").open("a") as file:
        file.write("[noise]\npull_sd = 3.0\npull_df = 9\n")
    lines = {json.dumps(judge_day(order).to_dict()) for order in ([one, two], [two, one])}
    assert len(lines) == 1
    assert "that of one is taken" in lines.pop()
