"""What if: other days without touching a file; what another hour buys."""

from __future__ import annotations

import datetime as dt

import pytest

from doe.errors import InputError
from doe.planning.drawn.frontier import frontier
from doe.planning.drawn.what_if import what_if, with_break, with_finish


def test_minutes_are_those_without_breaks(make_day) -> None:
    day = what_if(make_day(), minutes=480)
    assert day.length_minutes == 510  # Source: by hand, with its break of 30 minutes.


def test_a_longer_day_may_pass_midnight(make_day) -> None:
    day = what_if(make_day(start=13 * 60, breaks=()), minutes=720)
    assert (day.day.start, day.day.finish) == (dt.time(13), dt.time(1))
    assert day.length_minutes == 720
    assert with_break(day, dt.time(0, 10), 20).pauses == ((670.0, 690.0),)


def test_impossible_lengths_are_refused(make_day) -> None:
    with pytest.raises(InputError, match="warm-up and a pull must fit"):
        what_if(make_day(), minutes=1)
    with pytest.raises(InputError, match="at most 16 hours"):
        what_if(make_day(), minutes=2000)


def test_noise_and_gains(make_day) -> None:
    day = what_if(make_day(), noise={"pull_sd": 0.8}, smallest_gains={("oil", "thin"): 1.5})
    assert day.noise.pull_sd == 0.8
    assert day.noise.pull_df == 15
    assert day.questions[0][1].smallest_gain == 1.5
    with pytest.raises(InputError, match="--pull-sd -1: expected more than 0"):
        what_if(make_day(), noise={"pull_sd": -1.0})
    with pytest.raises(InputError, match="--smallest-gain oil=thin:0"):
        what_if(make_day(), smallest_gains={("oil", "thin"): 0.0})


def test_another_break(make_day) -> None:
    day = with_break(make_day(), dt.time(10, 0), 20)
    assert day.pauses == ((120.0, 140.0), (240.0, 270.0))
    with pytest.raises(InputError, match="--break 12:20"):
        with_break(make_day(), dt.time(12, 20), 20)


def test_an_earlier_finish_takes_the_breaks_behind_it_away(make_day) -> None:
    assert with_finish(make_day(), 200.0).pauses == ()


def test_frontier_never_gets_worse_with_hours(make_day, factor) -> None:
    found = frontier(make_day(factors=factor("vacuum", "on 2 2 0 0.8")), hours=(2, 4, 6, 30))
    settled = [row.expected_settled for row in found.rows]
    assert settled[3] is None
    assert settled[0] < settled[1] < settled[2]
    gains = [row.detectable_gain[0] for row in found.rows[:3]]
    assert gains == sorted(gains, reverse=True)
    assert "vacuum on" in found.to_text()
    assert len(found.to_frame()) == 4
    assert found.to_dict()["questions"] == [{"factor": "vacuum", "level": "on"}]
