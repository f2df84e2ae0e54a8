"""The day's clock, against times worked out by hand from the rules in its docstrings."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doe.day.clock import changeover, clock_text, fits, fresh_refit, lay_out, pull_end, work
from doe.day.files.dayfile import parse_day
from doe.day.records import Changeover, Stint

BASE = {"oil": "15W-50", "crankcase vacuum": "off"}
THIN = {"oil": "0W-20", "crankcase vacuum": "on"}
THINNER = {"oil": "5W-30", "crankcase vacuum": "on"}


def test_changeover_minutes_by_hand(day):
    # Source: by hand. On 30, off 20 and 2 settling pulls for 0W-20; on and off 25 and 1 for 5W-30; vacuum on 2, off 3.
    assert changeover(day, BASE, BASE) == Changeover(0, 0, ())
    assert changeover(day, BASE, THIN) == Changeover(30 + 2, 2, ("oil",))
    assert changeover(day, THIN, BASE) == Changeover(20 + 3, 2, ("oil",))  # settling on the way back, too
    assert changeover(day, THIN, THINNER) == Changeover(25, 2, ("oil",))  # max(off 20, on 25)
    assert changeover(day, THINNER, THIN) == Changeover(30, 2, ("oil",))  # max(off 25, on 30)
    assert changeover(day, BASE, {**BASE, "crankcase vacuum": "on"}) == Changeover(2, 0, ())


def test_fresh_refit_by_hand(day):
    assert fresh_refit(day, "oil", "0W-20") == Changeover(20, 2, ("oil",))  # min(on 30, off 20)
    assert fresh_refit(day, "oil", "5W-30") == Changeover(25, 1, ("oil",))
    assert fresh_refit(day, "oil", "15W-50") == Changeover(20, 2, ("oil",))  # cheapest way, most settling pulls


def test_fresh_refit_of_a_noise_study_takes_the_factors_own_minutes(day_text):
    factor = "[[factor]]\nname = 'oil'\nbaseline = 'x'\nrefit = true\nrefit_minutes = 12\nsettling_pulls = 1\n"
    study = parse_day(day_text.split("[[factor]]")[0] + factor)
    assert fresh_refit(study, "oil", "x") == Changeover(12, 1, ("oil",))


def test_work_stops_for_a_break(day):
    assert work(day, 50, 30) == 80
    assert work(day, 90, 30) == 120  # done when the break begins
    assert work(day, 110, 32) == 162  # 10 minutes before, 22 after 140
    assert work(day, 120, 10) == 150  # begun when the break begins: after it
    assert work(day, 130, 0) == 140


def test_a_pull_waits_for_the_end_of_a_break(day):
    assert pull_end(day, 116) == 120
    assert pull_end(day, 116.5) == 144
    assert pull_end(day, 140) == 144


def test_a_day_laid_out_by_hand(day):
    # Source: by hand. Warm-up 30, pull 4, break 120 to 140.
    runs = lay_out(
        day, [Stint(BASE, 2), Stint(THIN, 2), Stint(THINNER, 1), Stint(BASE, 1), Stint(BASE, 2, fresh="oil")]
    )
    rows = [(run.run, run.clock, run.minute, run.install, run.stint, run.do, run.count) for run in runs]
    assert rows == [
        (1, "08:30", 34, 1, 1, "", "yes"),
        (2, "08:34", 38, 1, 1, "", "yes"),
        (3, "09:10", 74, 2, 2, "fit oil 0W-20; set crankcase vacuum to on", "settling"),  # 38 + 32 = 70
        (4, "09:14", 78, 2, 2, "", "settling"),
        (5, "09:18", 82, 2, 2, "", "yes"),
        (6, "09:22", 86, 2, 2, "", "yes"),
        (7, "09:51", 115, 3, 3, "fit oil 5W-30", "settling"),  # 86 + 25 = 111
        (8, "09:55", 119, 3, 3, "", "settling"),
        (9, "10:20", 144, 3, 3, "", "yes"),  # 123 is in the break
        (10, "10:52", 176, 4, 4, "fit oil 15W-50; set crankcase vacuum to off", "settling"),  # 144 + 28 = 172
        (11, "10:56", 180, 4, 4, "", "yes"),
        (12, "11:20", 204, 5, 5, "drain, refill the same 15W-50", "settling"),  # 180 + 20 = 200
        (13, "11:24", 208, 5, 5, "", "settling"),
        (14, "11:28", 212, 5, 5, "", "yes"),
        (15, "11:32", 216, 5, 5, "", "yes"),
    ]
    assert fits(day, runs)


def test_the_engine_arrives_in_the_baseline(day):
    first = lay_out(day, [Stint(THIN, 1)])
    assert [(run.minute, run.count, run.install) for run in first] == [
        (66, "settling", 1),
        (70, "settling", 1),
        (74, "yes", 1),
    ]


def test_a_quick_change_makes_a_stint_but_no_install(day):
    runs = lay_out(day, [Stint(BASE, 1), Stint({**BASE, "crankcase vacuum": "on"}, 1)])
    assert [(run.stint, run.install, run.minute) for run in runs] == [(1, 1, 34), (2, 1, 40)]


def test_a_fresh_refit_and_a_quick_change_add_up(day):
    runs = lay_out(day, [Stint(BASE, 1), Stint({**BASE, "crankcase vacuum": "on"}, 1, fresh="oil")])
    assert runs[1].do == "drain, refill the same 15W-50; set crankcase vacuum to on"
    assert (runs[1].minute, runs[1].count, runs[1].install) == (34 + 20 + 2 + 4, "settling", 2)


def test_a_fresh_refit_of_what_is_changed_anyway_costs_nothing_more(day):
    assert lay_out(day, [Stint(BASE, 1), Stint(THIN, 1, fresh="oil")]) == lay_out(day, [Stint(BASE, 1), Stint(THIN, 1)])


def test_a_part_is_refitted_in_other_words_than_a_fluid(two_refit_day):
    base = two_refit_day.baseline
    assert (
        lay_out(two_refit_day, [Stint(base, 1), Stint(base, 1, fresh="manifold")])[1].do
        == "take off, refit the same cast"
    )


def test_a_pull_may_end_at_the_finish_but_not_after(day):
    # (240 - 30 - 20)/4 = 47.5 pulls: 22 end at minute 118, the next 25 at 240.
    runs = lay_out(day, [Stint(BASE, 47)])
    assert runs[21].minute == 118 and runs[22].minute == 144 and runs[-1].minute == 240
    assert fits(day, runs)
    assert not fits(day, lay_out(day, [Stint(BASE, 48)]))


def test_clock_text_cuts_seconds_off(day):
    assert clock_text(day, 42.9) == "08:42"
    assert clock_text(day, 59.9999999999) == "09:00"


LEVELS = st.fixed_dictionaries(
    {"oil": st.sampled_from(["15W-50", "0W-20", "5W-30"]), "crankcase vacuum": st.sampled_from(["off", "on"])}
)
STINTS = st.lists(
    st.builds(Stint, LEVELS, st.integers(1, 4), st.sampled_from([None, None, "oil"])), min_size=1, max_size=8
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(stints=STINTS)
def test_no_pull_overlaps_another_or_a_break_and_nothing_is_hurried(day, stints):
    runs = lay_out(day, stints)
    ends = [day.cell.warm_up_minutes, *(run.minute for run in runs)]
    assert all(later - day.cell.pull_minutes >= sooner - 1e-9 for sooner, later in pairwise(ends))
    assert all(run.minute <= 120 or run.minute - 4 >= 140 for run in runs)
    assert sum(run.count == "yes" for run in runs) == sum(stint.pulls for stint in stints)
    assert [run.run for run in runs] == list(range(1, len(runs) + 1))
    assert {run.stint for run in runs} == set(range(1, len(stints) + 1))
