"""Fittings of each refit factor, on the odd sequences that testers make."""

from __future__ import annotations

from dataclasses import replace

import pytest

from doe.day.clock import lay_out
from doe.day.fittings import fittings_of, refitted_between
from doe.day.records import Pull, Stint


def pulls(*rows: tuple) -> list[Pull]:
    """Pulls from (install, oil, vacuum[, manifold]), numbered in order."""
    names = ("oil", "crankcase vacuum", "manifold")
    return [
        Pull(number, None, None, None, install, dict(zip(names, levels, strict=False)), {}, "yes")
        for number, (install, *levels) in enumerate(rows, start=1)
    ]


def test_a_refit_factor_and_a_quick_one_changed_together_make_one_fitting(day):
    rows = pulls((1, "15W-50", "off"), (2, "0W-20", "on"), (2, "0W-20", "off"), (3, "15W-50", "on"))
    assert fittings_of(day, rows) == {"oil": [1, 2, 2, 3]}


def test_a_change_taken_off_and_put_on_again_with_nothing_between_is_a_new_fitting(day):
    # Nothing was pulled in the baseline between: the recorded install number, up by one, tells it.
    rows = pulls((1, "0W-20", "off"), (1, "0W-20", "off"), (2, "0W-20", "off"))
    assert fittings_of(day, rows) == {"oil": [1, 1, 2]}


def test_of_two_refit_factors_the_one_left_alone_keeps_its_fitting(two_refit_day):
    rows = pulls(
        (1, "15W-50", "off", "cast"),
        (2, "15W-50", "off", "sheet"),
        (3, "0W-20", "off", "sheet"),
        (4, "15W-50", "off", "sheet"),
        (5, "15W-50", "off", "cast"),
    )
    assert fittings_of(two_refit_day, rows) == {"oil": [1, 1, 2, 3, 3], "manifold": [1, 2, 2, 2, 3]}


def test_both_refit_factors_changed_at_once_get_a_fitting_each(two_refit_day):
    rows = pulls((1, "15W-50", "off", "cast"), (2, "0W-20", "off", "sheet"))
    assert fittings_of(two_refit_day, rows) == {"oil": [1, 2], "manifold": [1, 2]}


def test_a_recorded_fresh_refit_names_its_factor(two_refit_day):
    before, after = pulls((1, "15W-50", "off", "cast"), (2, "15W-50", "off", "cast"))
    fresh = replace(after, fresh="manifold")
    assert fittings_of(two_refit_day, [before, fresh]) == {"oil": [1, 1], "manifold": [1, 2]}
    # Nobody said which part: none is taken as new, which claims the least.
    assert fittings_of(two_refit_day, [before, after]) == {"oil": [1, 1], "manifold": [1, 1]}


def test_a_fresh_refit_of_one_part_while_another_is_changed(two_refit_day):
    before, after = pulls((1, "15W-50", "off", "cast"), (2, "15W-50", "off", "sheet"))
    assert refitted_between(two_refit_day, before, replace(after, fresh="oil")) == ("manifold", "oil")


def test_a_planned_fresh_refit_that_was_not_done_is_no_new_fitting(day):
    base = day.baseline
    planned = lay_out(day, [Stint(base, 1), Stint(base, 1, fresh="oil")])
    assert fittings_of(day, planned) == {"oil": [1, 2, 2, 2]}
    # Recorded as kept: the install number did not go up.
    assert fittings_of(day, pulls((1, "15W-50", "off"), (1, "15W-50", "off"))) == {"oil": [1, 1]}


@pytest.mark.parametrize("fresh", ["oil", "manifold"])
def test_a_plans_order_names_the_part_that_is_fitted_afresh(two_refit_day, fresh):
    base = two_refit_day.baseline
    runs = lay_out(two_refit_day, [Stint(base, 1), Stint(base, 1, fresh=fresh)])
    got = fittings_of(two_refit_day, runs)
    assert {name for name, numbers in got.items() if numbers[-1] == 2} == {fresh}


def test_voided_and_settling_pulls_take_part_in_the_sequence(day):
    # The thin oil was on for one voided pull only: the baseline after it is a new fitting all the same.
    rows = pulls((1, "15W-50", "off"), (2, "0W-20", "off"), (3, "15W-50", "off"))
    rows[1] = replace(rows[1], void="misfire", count="settling")
    assert fittings_of(day, rows) == {"oil": [1, 2, 3]}


def test_a_void_inside_a_stint_changes_nothing(day):
    rows = pulls((1, "15W-50", "off"), (2, "0W-20", "off"), (2, "0W-20", "off"), (2, "0W-20", "off"))
    rows[2] = replace(rows[2], void="misfire")
    assert fittings_of(day, rows) == {"oil": [1, 2, 2, 2]}


def test_a_pull_logged_later_in_anothers_place_is_taken_where_its_install_was(day):
    rows = pulls((1, "15W-50", "off"), (2, "0W-20", "off"), (3, "15W-50", "off"), (2, "0W-20", "off"))
    assert fittings_of(day, rows) == {"oil": [1, 2, 3, 2]}


def test_a_day_of_quick_factors_has_no_fittings(day, day_text):
    from doe.day.files.dayfile import parse_day

    quick = parse_day(day_text.replace("refit = true", "refit = false"))
    assert fittings_of(quick, pulls((1, "15W-50", "off"), (1, "0W-20", "off"))) == {}
    assert fittings_of(day, []) == {"oil": []}
