"""What was planned beside what was done."""

from __future__ import annotations

from dataclasses import replace

from doe.day.clock import lay_out
from doe.day.records import Stint
from doe.report.sections.as_done import stint_lines, unplanned
from doe.words.fitted import changed_text


def test_each_set_counts_its_own_pulls(day, pulls):
    oil = day.baseline | {"oil": "5W-30"}
    runs = lay_out(day, [Stint(day.baseline, 3), Stint(oil, 1), Stint(day.baseline, 1)])
    lines = stint_lines(day, runs, [replace(pull, run=n) for pull, n in zip(pulls[1:3], (1, 2), strict=True)])
    assert [(line.planned, line.made, line.began) for line in lines] == [(3, 2, "09:10"), (1, 0, ""), (1, 0, "")]
    assert [line.fitted for line in lines] == ["baseline", "oil 5W-30", "baseline"]
    assert lines[1].do == "fit oil 5W-30"


def test_pulls_outside_the_plan_are_counted_once(pulls):
    bare = [replace(pull, run=None) for pull in pulls]
    assert unplanned(bare) == 6  # nine pulls less a warm-up, a settling and a void one


def test_several_changes_are_all_named(day):
    both = day.baseline | {"oil": "5W-30", "fuel": "blend"}
    assert changed_text(both, day.baseline) == "oil 5W-30, fuel blend"
