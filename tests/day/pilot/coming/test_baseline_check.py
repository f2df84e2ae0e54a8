"""The last baseline against those before it, by hand and by simulation; all days invented."""

from __future__ import annotations

import datetime as dt
import math
import random
from dataclasses import replace
from functools import cache

import pytest
from day_files import day_file, factor
from scipy import stats

from doe.day.files.dayfile import parse_day
from doe.day.pilot.coming.baseline_check import BaselineCheck, baseline_check, t_factor
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.day.records import Pull
from doe.errors import InputError

PARTS = factor("vacuum", "off", "on 2 2 0 1.5") + factor("oil", "thick", "thin 20 20", refit=True)
SD_1 = "pull_sd = 1.0"


@cache
def day(noise: str = SD_1, more: str = "", scale: str | None = None):
    return parse_day(day_file(PARTS, noise=noise, scale=scale).replace("[metric]", f"{more}\n[metric]"))


def pulls(
    *sets: tuple[float, ...], between: float = 250.0, installs: tuple[int, ...] = (), step: float = 60.0
) -> list[Pull]:
    """Baseline sets an hour apart, with a pull with vacuum on after each."""
    made: list[Pull] = []
    for number, values in enumerate(sets):
        install = installs[number] if installs else 1
        for place, value in enumerate((*values, between)):
            on = "on" if place == len(values) else "off"
            fitted = {"vacuum": on, "oil": "thick"}
            minute = step * number + 4 * place
            made.append(Pull(len(made) + 1, None, None, minute, install, fitted, {"mean power": value}, "yes"))
    return made


def word(*sets: tuple[float, ...], noise: str = SD_1, **more) -> str | None:
    check = baseline_check(day(noise), pulls(*sets, **more))
    assert check is not None
    return check.word


def test_the_band_by_hand():
    """Two sets of two, SD 1: half-width 2.5758 sqrt(1/2 + 1/2)."""
    check = baseline_check(day(), pulls((199.0, 201.0), (201.5, 202.5)))
    assert check is not None
    assert (check.word, check.mean, check.pulls) == ("steady", 202.0, (4, 5))
    assert (check.low, check.high) == (pytest.approx(200 - 2.5758), pytest.approx(200 + 2.5758))


def test_the_three_words():
    assert word((200.0, 200.0), (203.0, 203.0)) == "drifting"
    assert word((200.0, 200.0), (206.0, 206.0)) == "off"
    falling = [(200.0 - 2 * place,) * 3 for place in range(5)]
    assert word(*falling) == "drifting"
    assert word(*[(200.0,) * 3] * 4, (204.0,) * 3) == "off"
    assert word(*[(200.0,) * 3] * 4, (201.0,) * 3) == "steady"


def test_what_is_not_known_is_not_said():
    assert word((200.0, 200.0)) is None
    assert word((200.0,), (201.0,), noise="") is None
    assert word((200.0, 200.0), (206.0, 206.0), installs=(1, 3)) is None
    assert word((200.0, 200.0), (206.0, 206.0), installs=(1, 3), noise="pull_sd = 1.0\ninstall_sd = 3.0") == "steady"
    assert word((200.0, 200.0), (206.0, 206.0), noise="pull_sd = 1.0\nwander_sd = 3.0") == "steady"
    assert baseline_check(day(), []) is None


def test_the_scatter_of_the_day_itself_where_nothing_is_stated():
    assert word((199.0, 200.0, 201.0), (199.5, 200.5, 201.5), noise="") == "steady"
    assert word((199.0, 200.0, 201.0), (239.0, 240.0, 241.0), noise="") == "off"


def test_a_scatter_in_percent_is_one_of_the_baseline():
    """1 % of 200 hp is 2 hp."""
    check = baseline_check(day(scale="percent"), pulls((200.0, 200.0), (200.0, 200.0)))
    assert check is not None and check.high is not None
    assert check.high == pytest.approx(200 + 2 * 2.5758)


def test_it_tells_no_gain():
    """What is read with a part on changes nothing."""
    sets = [(200.0, 200.4), (200.9, 200.1), (199.5, 201.0)]
    told = {baseline_check(day(), pulls(*sets, between=value)) for value in (200.0, 250.0, 120.0)}
    assert len(told) == 1


def test_void_and_throw_away_pulls_are_left_out():
    made = pulls((200.0, 200.0), (206.0, 206.0))
    made = [replace(pull, void="knock") if pull.number in (4, 5) else pull for pull in made]
    check = baseline_check(day(), made)
    assert check is not None
    assert check.pulls == (1, 2)
    made = [replace(pull, count="settling") if pull.number == 4 else pull for pull in pulls((200.0,) * 2, (201.0,) * 2)]
    assert baseline_check(day(), made).pulls == (5,)  # type: ignore[union-attr]


@pytest.mark.parametrize("df", [1, 2, 3, 4, 6, 10, 30, 1000])
def test_the_t_point_is_students(df):
    assert t_factor(df) == pytest.approx(stats.t.ppf(0.995, df), rel=0.01)


def test_a_quiet_engine_is_called_steady():
    """2,000 last sets of quiet days: 1 in 100 outside, within four standard errors of the binomial."""
    drawn = random.Random(5)
    days, outside = 2000, 0
    for _ in range(days):
        sets = [tuple(200 + drawn.gauss(0, 1) for _ in range(drawn.randint(1, 4))) for _ in range(drawn.randint(2, 7))]
        outside += word(*sets) != "steady"
    assert abs(outside / days - 0.01) < 4 * math.sqrt(0.01 * 0.99 / days)


def test_the_opening_set_against_earlier_days():
    usual = day(more="usual = [203.6, 206.0]")
    check = baseline_check(usual, pulls((204.0, 205.0)))
    assert check == BaselineCheck(None, 204.5, (1, 2), 204.5, True, usual=(203.6, 206.0))
    assert check.is_usual
    assert not baseline_check(usual, pulls((201.0, 202.0))).is_usual  # type: ignore[union-attr]
    with pytest.raises(InputError, match=r"usual = \[206, 203\]: expected the lower number first"):
        day(more="usual = [206.0, 203.0]")


def test_next_says_it(tmp_path):
    text = day_file(PARTS, noise=SD_1).replace("[metric]", "usual = [203.6, 206.0]\n[metric]")
    (tmp_path / "day.toml").write_text(text, encoding="utf-8")
    at = dt.datetime(2026, 5, 16, 8, 40, tzinfo=dt.UTC)
    record_pulls(tmp_path, [Entry(value=204.9)], now=at)
    said = up_next(tmp_path, now=at).to_text()
    assert "BASE  the engine makes its usual number: 204.9 hp, usual 203.6 to 206" in said
    record_pulls(tmp_path, [Entry(value=206.0, settings={"vacuum": "on"})], now=at + dt.timedelta(minutes=8))
    record_pulls(tmp_path, [Entry(value=196.0, settings={"vacuum": "off"})], now=at + dt.timedelta(minutes=16))
    coming = up_next(tmp_path, now=at + dt.timedelta(minutes=17))
    assert (
        "BASE  off: the last baseline set made 196 hp, those before it say 201.3 to 208.5; find out" in coming.to_text()
    )
    assert coming.to_dict()["baseline"]["word"] == "off"
