"""The day picture shows every pull where it was made, as what it was, and what was fitted when."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from matplotlib.figure import Figure

from doe.report.day_figure import (
    BASELINE_LOOK,
    NOT_COUNTED_LOOK,
    VOID_LOOK,
    BaselineBand,
    day_figure,
    fitted_picture,
    pulls_picture,
)  # fmt: skip
from doe.report.style import CHANGE_COLOURS, DESK, PHONE


@pytest.fixture
def ax():
    return Figure().subplots()


def marks(ax):
    """Marker and place of every pull drawn, the line of the baselines left out."""
    return {
        (float(x), float(y)): line
        for line in ax.lines
        if line.get_linestyle() == "None"
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    }


def test_every_pull_stands_at_its_minute_and_value(day, pulls, ax):
    assert pulls_picture(day, pulls, ax) is ax
    assert set(marks(ax)) == {(pull.minute, pull.values["mean power"]) for pull in pulls}


def test_baseline_void_and_uncounted_pulls_look_different(day, pulls, ax):
    pulls_picture(day, pulls, ax)
    shapes = {place[0]: line.get_marker() for place, line in marks(ax).items()}
    assert shapes[44] == BASELINE_LOOK["marker"]
    assert shapes[88] == VOID_LOOK["marker"]
    hollow = marks(ax)[(84.0, 206.0)]
    assert hollow.get_markerfacecolor() == NOT_COUNTED_LOOK["markerfacecolor"] == "none"


def test_two_changes_at_once_share_the_disc(day, pulls, ax):
    pulls_picture(day, pulls, ax)
    both = marks(ax)[(98.0, 204.9)]
    assert (both.get_markerfacecolor(), both.get_markerfacecoloralt()) == CHANGE_COLOURS[:2]
    assert marks(ax)[(92.0, 206.8)].get_fillstyle() == "full"


def test_the_line_joins_counted_baselines_only(day, pulls, ax):
    pulls_picture(day, pulls, ax)
    line = next(line for line in ax.lines if line.get_linestyle() == "-")
    assert list(line.get_xdata()) == [44, 48, 120]


def test_strips_show_what_was_on_from_the_start_of_its_first_pull(day, pulls, ax):
    fitted_picture(day, pulls, ax)
    bars = [
        [tuple(float(x) for x in path.get_extents().intervalx) for path in bar.get_paths()] for bar in ax.collections
    ]
    assert bars[0] == [(80, 98)]  # oil: its pulls end at minutes 84 to 98, each takes 4
    assert bars[1] == [(50, 54), (94, 98)]  # vacuum
    assert bars[2] == []  # spark plugs: never fitted


def test_strips_are_named_and_refits_marked(day, pulls, ax):
    fitted_picture(day, pulls, ax)
    names = [text.get_text() for text in ax.texts]
    assert names[0] == "oil: 5W-30"
    assert names[-1] == "parts refitted"
    assert names[2] == "spark plugs: fine wire (no pull)"
    assert list(ax.lines[0].get_xdata()) == [80, 116]


def test_the_clock_is_written_as_clock(day, pulls):
    below = day_figure(day, pulls).axes[1]
    write = below.xaxis.get_major_formatter()
    assert write(30, None) == "09:00"  # the day starts at 08:30
    assert 30 in below.xaxis.get_major_locator().tick_values(0, 120)


def test_pulls_without_times_stand_by_their_number(day, pulls, ax):
    untimed = [replace(pull, minute=None, time=None) for pull in pulls]
    pulls_picture(day, untimed, ax)
    assert {x for x, _ in marks(ax)} == {float(pull.number) for pull in pulls}


def test_a_pull_without_a_value_is_left_out(day, pulls, ax):
    pulls_picture(day, [replace(pulls[1], values={}), *pulls[2:]], ax)
    assert len(marks(ax)) == len(pulls) - 2


def test_an_empty_log_draws_an_empty_day(day):
    assert len(day_figure(day, ()).axes) == 2


def far_off(pulls, **values):
    """The same day with other readings of some pulls."""
    return [
        replace(pull, values={"mean power": values.get(f"pull_{pull.number}", pull.values["mean power"])})
        for pull in pulls
    ]


def test_a_void_far_off_sits_at_the_edge_with_its_number_and_the_scale_follows_the_pulls_that_count(day, pulls, ax):
    pulls_picture(day, far_off(pulls, pull_6=31.25, pull_5=250.0), ax)
    low, high = ax.get_ylim()
    counted = [pull.values["mean power"] for pull in pulls if pull.void is None and pull.count == "yes"]
    assert low < min(counted) < max(counted) < high
    assert (max(counted) - min(counted)) / (high - low) > 0.3
    assert marks(ax)[(88.0, low)].get_marker() == VOID_LOOK["marker"]
    assert (84.0, high) in marks(ax)
    assert [text.get_text() for text in ax.texts] == ["pull 6: 31.25", "pull 5: 250"]


def test_neighbours_at_the_edge_share_their_words(day, pulls, ax):
    far = far_off(pulls, pull_6=1, pull_7=2)
    far[6] = replace(far[6], void="x", minute=far[5].minute + 2)
    pulls_picture(day, far, ax)
    assert [text.get_text() for text in ax.texts] == ["pull 6: 1\npull 7: 2"]


def test_where_no_pull_counts_the_scale_holds_them_all(day, pulls, ax):
    pulls_picture(day, [replace(pull, void="x") for pull in far_off(pulls, pull_6=1)], ax)
    assert (len(marks(ax)), len(ax.texts), ax.get_ylim()[0] < 1) == (len(pulls), 0, True)


def test_equal_readings_and_a_void_are_drawn(day, pulls, ax):
    pulls_picture(day, [replace(pull, values={"mean power": 0.0 if pull.void else 200.0}) for pull in pulls], ax)
    assert [text.get_text() for text in ax.texts] == ["pull 6: 0"]


def test_the_key_names_what_is_drawn_and_nothing_else(day, pulls):
    def key(pulls, **more):
        return [text.get_text() for text in day_figure(day, pulls, **more).legends[0].get_texts()]

    assert len(key(pulls)) == 5
    assert key(pulls[1:3]) == ["baseline (line: one to the next)"]
    band = BaselineBand(80.0, 205.0, 0.0, 1.0)
    assert key(pulls[1:3], band=band, noted=[2]) == [
        "baseline (line: one to the next)", "a warning speaks of it", "95 of 100 baseline pulls lie here"
    ]  # fmt: skip


def test_the_fitted_baseline_runs_through_its_mean_with_its_drift(day, pulls, ax):
    pulls_picture(day, pulls, ax, band=BaselineBand(80.0, 205.0, -0.01, 1.0))
    line = next(line for line in ax.lines if line.get_linestyle() == "--")
    assert list(line.get_xdata()) == [40, 120]
    assert list(line.get_ydata()) == [205.4, 204.6]


@pytest.mark.parametrize("minutes", [8, 20, 50, 100])
def test_a_short_day_has_a_clock_too(day, pulls, minutes):
    spread = [replace(pull, minute=33 + k * minutes / 8) for k, pull in enumerate(pulls)]
    axes = day_figure(day, spread).axes[1]
    low, high = axes.get_xlim()
    assert sum(low <= tick <= high for tick in axes.get_xticks()) >= 2


@pytest.mark.parametrize("hours", [1, 4, 8, 12, 14])
@pytest.mark.parametrize("width", [PHONE, DESK])
def test_the_hours_do_not_run_into_each_other(day, pulls, hours, width):
    spread = [replace(pull, minute=k * hours * 60 / 8) for k, pull in enumerate(pulls)]
    figure = day_figure(day, spread, width)
    figure.draw_without_rendering()
    labels = [text for text in figure.axes[1].get_xticklabels() if text.get_text()]
    inside = [text for text in labels if figure.axes[1].get_xlim()[0] <= text.get_position()[0]]
    boxes = [text.get_window_extent() for text in inside]
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))
