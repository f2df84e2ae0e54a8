"""What is asked about a number once it is logged: wrong, typed twice, too soon; and what is not asked."""

from __future__ import annotations

import datetime as dt
import random
import re

import pytest
from at_the_bench import ZONE, AtTheBench
from typed import typed

from doe.day.files.dayfile import parse_day
from doe.day.log.journal import scan_journal
from doe.day.log.marks.asked import confirmed, open_doubts
from doe.day.pilot.entries import Entry
from doe.day.pilot.slips.answers_to_doubts import answer
from doe.day.pilot.slips.doubting import doubts_about
from doe.day.pilot.slips.prediction import LIMIT, limit_of, predicted
from doe.day.pilot.standing import Standing
from doe.day.pilot.upnext import up_next
from doe.day.records import Pull

START = dt.datetime(2026, 5, 16, 8, 0)


@pytest.fixture
def tester(tmp_path, day_text):
    """[noise] pull_sd = 1.0 hp, of which nobody knows how well it is known."""
    return AtTheBench(tmp_path, day_text)


def codes(recorded):
    return [doubt.code for doubt in recorded.doubts]


def three(tester) -> None:
    for at, value in enumerate(("435.1", "435.9", "435.4")):
        tester.record(f"09:{4 * at:02d}", value)


def test_far_from_the_other_pulls_with_these_parts(tester):
    three(tester)
    recorded = tester.record("09:12", "453.4")
    assert recorded.doubts[0].text == (
        "453.4 is 18 hp above the other pulls with these parts: keep, or doe record --redo 4 VALUE?"
    )
    assert recorded.pulls[0].values["mean power"] == 453.4  # logged, whatever is asked
    again = tester.record("09:13", "435.4", redo=4)
    assert (again.doubts, tester.log.doubts) == ((), ())


def test_three_and_a_half_prediction_sds_by_hand():
    """Of three pulls at 435 with SD 1: median 435, prediction SD sqrt(1 + 1.57 / 3) = 1.234, so 4.32 is the reach."""
    day = parse_day(DAY)
    pulls = [pull(number, 435.0 + shift) for number, shift in ((1, -0.3), (2, 0.0), (3, 0.3))]
    found = predicted(day, pulls, pull(4, 0.0))
    assert (found.value, found.others) == (435.0, (1, 2, 3))
    assert found.reach == pytest.approx(3.5 * (1 + 1.57 / 3) ** 0.5, rel=1e-12)


def test_of_two_either_may_be_wrong_and_the_third_settles_it(tester):
    tester.record("09:00", "4312")
    recorded = tester.record("09:04", "431.0")
    assert recorded.doubts[0].text == (
        "431 is 3881 hp below pull 1, the only other one with these parts: either 4312 or this one is wrong: keep both,"
        " or doe record --redo 2 VALUE, or doe record --redo 1 VALUE?"
    )
    assert codes(tester.record("09:08", "431.6")) == []  # it agrees with one of the two
    tester.record("09:09", "431.2", redo=1)
    typed("fix", tester.folder, "2", "--keep")
    assert codes(tester.record("09:12", "430.8")) == []


def test_the_first_pull_with_new_parts_tells_no_gain(tester):
    """18 hp is 4 %: no word. 60 hp is more than any part: asked, without a number that a look would have to pay."""
    three(tester)
    assert codes(tester.record("09:40", "453.4", settings=("oil=0W-20",))) == []
    recorded = tester.record("10:20", "513.4", settings=("oil=5W-30",))
    assert recorded.doubts[0].text == ("513.4 is more than 10 % off the baseline: keep, or doe record --redo 5 VALUE?")


def test_a_new_fitting_may_lie_further_off(tester):
    """Nothing is known of the refit scatter: 1 % of 435 hp beside 1 hp of a pull."""
    three(tester)
    assert codes(tester.record("09:40", "444", fresh="oil")) == []
    assert codes(tester.record("09:44", "450")) == ["far-from-same-parts"]


def test_where_nothing_is_known_one_percent(tmp_path, day_text):
    bench = AtTheBench(tmp_path, day_text.replace("[noise]\npull_sd = 1.0\n", ""))
    three(bench)
    assert codes(bench.record("09:12", "447")) == []
    assert codes(bench.record("09:16", "470")) == ["far-from-same-parts"]


def test_typed_twice_and_too_soon(tester):
    three(tester)
    assert codes(tester.record("09:09", "435.4")) == ["typed-twice"]
    tester.record("09:12", "435.6")
    recorded = tester.record("09:13", "435.1")
    assert codes(recorded) == ["sooner-than-a-pull"]
    assert "1.0 min after pull 5, and a pull takes 4 min" in recorded.doubts[0].text
    line = re.search(r'doe (void 6 --why) "(typed twice)"', recorded.doubts[0].text)
    assert typed(*line[1].split(), line[2], cwd=tester.folder).returncode == 0
    assert "sooner-than-a-pull" not in [doubt.code for doubt in tester.log.doubts]


def test_an_honest_pull_may_show_the_same_number(tester):
    three(tester)
    assert codes(tester.record("09:12", "435.4")) == []


def test_the_same_eight_figures_are_no_chance(tester):
    tester.record("09:00", "435.12345")
    assert codes(tester.record("09:04", "435.12345")) == ["typed-twice"]


def test_a_kept_number_is_not_asked_about_again(tester):
    three(tester)
    tester.record("09:12", "453.4")
    assert typed("fix", tester.folder, "4", "--keep").returncode == 0
    assert tester.log.doubts == ()
    events = scan_journal(tester.folder).events
    assert (open_doubts(events, ()), confirmed(events)) == ([], {4})


def test_a_pull_that_does_not_count_may_be_cold(tester):
    three(tester)
    assert codes(tester.record("09:12", "400", count="settling")) == []
    assert codes(tester.record("09:16", "4354", count="settling")) == ["far-from-same-parts"]


@pytest.mark.parametrize("df", [5.0, 8.0, 20.0, 100.0])
def test_the_limit_of_an_estimated_scatter_is_as_rare(df):
    """Against Student's t of SciPy: the same share lies beyond."""
    stats = pytest.importorskip("scipy.stats")
    assert limit_of(df) == pytest.approx(stats.t.isf(stats.norm.sf(LIMIT), df), rel=0.04)


DAY = """
[day]
date = 2026-05-16
start = 08:00:00
finish = 18:00:00
[cell]
pull_minutes = 4.0
[metric]
name = "mean power"
unit = "hp"
[noise]
pull_sd = 1.0
install_sd = 0.5
wander_sd = 0.4
[[factor]]
name = "oil"
baseline = "thick"
refit = true
[[factor.change]]
level = "thin"
minutes_on = 10
minutes_off = 10
"""


def pull(number: int, value: float, oil: str = "thick", install: int = 1, minute: float | None = None) -> Pull:
    minute = 4.0 * number if minute is None else minute
    return Pull(
        number, None, START + dt.timedelta(minutes=minute), minute, install, {"oil": oil}, {"mean power": value}, "yes"
    )


def asked_on(day, rng: random.Random, *, scatter: float = 1.0, drift: float = 0.0) -> tuple[int, int]:
    """How many of a day's honest pulls are asked about."""
    made: list[Pull] = []
    doubts, minute = [], 0.0
    for install in range(1, 13):
        oil, refit, wander = ("thick", "thin")[install % 2], rng.gauss(0, 0.5), rng.gauss(0, 0.4)
        minute += 10.0
        for _ in range(3):
            minute += 4.0
            value = 435.0 + 6.0 * (oil == "thin") + refit + wander + drift * minute / 60 + rng.gauss(0, scatter)
            one = pull(len(made) + 1, round(value, 1), oil, install, minute)
            doubts += doubts_about(
                Standing(day, (), made, doubts=tuple(doubts)), Entry(value=value), one, None, crossed=None, now=START
            )
            made.append(one)
    return len(doubts), len(made)


def test_fewer_than_one_honest_pull_in_a_thousand_is_asked_about():
    """60 days of 36 pulls: more than 6 by chance once in 100 where one in 1,000 is asked about (Poisson)."""
    rng, day = random.Random(1), parse_day(DAY)
    found = [asked_on(day, rng) for _ in range(60)]
    assert sum(asked for asked, _ in found) <= 6


@pytest.fixture
def at_a_terminal(monkeypatch):
    """Somebody can read a question and type an answer."""
    monkeypatch.setattr("doe.cli.asking.somebody_there", lambda: True)


def asked(tester, typed_answers: str, *words: str):
    """Three pulls with the same parts, and what `doe record` makes of one that follows them in words."""
    three(tester)
    return typed("record", *words, cwd=tester.folder, answers=typed_answers)


def test_logged_first_asked_afterwards(tester, at_a_terminal):
    done = asked(tester, "435.4\n", "453.4", "--time", "09:12")
    assert done.returncode == 0
    assert [line.split(":")[0] for line in done.stdout.splitlines()] == ["logged pull 4", "logged pull 5"]
    assert "453.4 is 18 hp above the other pulls" in done.stderr
    assert [pull.void for pull in tester.log.pulls][3:] == ["logged again as pull 5", None]
    assert tester.log.pulls[4].time == tester.log.pulls[3].time


def test_enter_keeps_it(tester, at_a_terminal):
    done = asked(tester, "\n", "453.4", "--time", "09:12")
    assert "right as it is: pull 4: 453.4 hp" in done.stdout
    assert tester.log.doubts == ()


def test_the_end_of_input_leaves_it_logged_and_marked(tester, at_a_terminal):
    done = asked(tester, "", "453.4", "--time", "09:12")
    assert (done.returncode, "left open: it is logged, and marked" in done.stderr) == (0, True)
    assert [doubt.pull for doubt in tester.log.doubts] == [4]
    shown = " ".join(typed("log", tester.folder).stdout.split())
    assert "453.4 is 18 hp above" in shown


def test_an_answer_that_is_none_is_asked_again(tester, at_a_terminal):
    done = asked(tester, "what\nv\n", "435.4", "--time", "09:09")
    assert "'what' is no answer to this" in done.stderr
    assert tester.log.pulls[-1].void == "typed twice"


def test_a_number_that_cannot_be_is_asked_for_again(tester, at_a_terminal):
    tester.record("09:00", "4312")
    done = typed("record", "431.0", "--time", "09:04", cwd=tester.folder, answers="-5\n9 431\n1 431.2\n\n")
    assert done.returncode == 0
    assert "-5: expected a number above 0" in done.stderr and "there is no such pull" in done.stderr
    assert [pull.void for pull in tester.log.pulls] == ["logged again as pull 3", None, None]


def test_without_a_terminal_it_is_logged_marked_and_told(tester):
    done = asked(tester, "435.4\n", "453.4", "--time", "09:12")
    assert (done.returncode, len(done.stdout.splitlines())) == (0, 1)
    assert "453.4 is 18 hp above the other pulls" in done.stderr
    assert len(tester.log.pulls) == 4


def test_the_other_of_two_may_be_the_wrong_one(tester, at_a_terminal):
    tester.record("09:00", "4312")
    typed("record", "431.0", "--time", "09:04", cwd=tester.folder, answers="1 431.2\n\n")
    assert [(pull.number, pull.void) for pull in tester.log.pulls] == [
        (1, "logged again as pull 3"),
        (2, None),
        (3, None),
    ]


def test_nothing_to_keep_is_said(tester):
    three(tester)
    assert "nothing is asked about pull 2" in typed("fix", tester.folder, "2", "--keep").stderr
    assert "there is no pull 9" in typed("fix", tester.folder, "9", "--keep").stderr


def test_a_wrong_number_that_comes_too_soon_is_asked_about_as_wrong(tester):
    three(tester)
    assert codes(tester.record("09:09", "400")) == ["far-from-same-parts"]


def test_several_open_questions_are_told_in_one_line(tester):
    three(tester)
    tester.record("09:12", "453.4")
    tester.record("09:16", "400")
    assert tester.log.warnings == (
        "asked about when logged, and not answered: pull 4; pull 5; 'doe log' shows the questions; right as it is:"
        " doe fix PULL --keep",
    )
    assert typed("log", tester.folder).stderr == ""


def test_a_time_later_than_now_is_logged_asked_about_and_moves_no_clock(tester):
    tester.plan(("15W-50", "off", 4), ("0W-20", "off", 4))
    tester.record("10:57", "435.0")
    usual = [tester.record("11:01", "435.4"), up_next(tester.folder, now=at("11:02")).step.until][1]
    tester.record("11:01", "435.4", redo=2, time="10:59")
    recorded = tester.record("11:01", "435.1", redo=2, time="23:10")
    assert recorded.doubts[0].text == (
        "23:10 is later than now, 11:01: when did it end? doe record --redo 4 --time HH:MM"
    )
    assert recorded.pulls[0].values == {"mean power": 435.1}
    coming = up_next(tester.folder, now=at("11:02"))
    assert coming.step.until <= usual
    assert "23:10 is later than now" in " ".join(note.text for note in coming.notes)
    late = tester.record("11:06", "435.2", time="11:05").pulls[0]
    assert (late.run, late.after) == (3, None)  # not entered late: nobody knows that anything was made after it
    tester.record("11:07", redo=4, time="11:01")
    assert tester.log.doubts == ()


@pytest.mark.parametrize(("now", "said"), [("11:01", "11:02"), ("11:01", "10:30"), ("13:10", "1:09")])
def test_a_time_that_may_be_is_not_asked_about(tester, now, said):
    tester.record("10:20", "435.0")
    assert "later-than-now" not in codes(tester.record(now, "435.4", time=said))


def test_a_later_time_is_answered_with_the_time(tester, at_a_terminal):
    tester.record("09:00", "435.0")
    recorded = tester.record("11:01", "435.4", time="23:10")
    answer(tester.folder, recorded, recorded.doubts[0], "10:59")
    assert [(pull.number, pull.redo, pull.time.minute) for pull in tester.log.pulls if pull.redo] == [(3, 2, 59)]


def test_logged_again_at_a_time_at_which_other_parts_were_on(tester):
    three(tester)
    tester.record("10:00", "437.0", settings=("oil=0W-20",))
    asked = tester.record("10:10", "435.0", redo=2, time="10:09").doubts
    assert [doubt.code for doubt in asked] == ["other-parts-then"]
    assert (
        "in the place of pull 2, with its parts and fitting; at 10:09 those of pull 4 were on (oil 0W-20"
        in asked[0].text
    )
    assert tester.log.doubts == asked
    assert codes(tester.record("10:11", redo=5, time="09:05")) == []
    assert tester.log.doubts == ()
    assert codes(tester.record("10:12", redo=4, time="09:01")) == ["other-parts-then"]


def at(clock: str) -> dt.datetime:
    return dt.datetime(2026, 5, 16, *map(int, clock.split(":")), tzinfo=ZONE)
