"""Rented days planned together: legal, better than the same days planned by themselves, and one promise for all."""

from __future__ import annotations

import datetime as dt
import itertools
import json
from dataclasses import replace

import pytest
from typed import typed

from doe.day.files.campaign_link import campaign_link, missing_days
from doe.day.files.dayfile import parse_day
from doe.day.files.planfile import CAMPAIGN, read_plan
from doe.day.log.planned.followed import followed_plan
from doe.day.pilot.coming.days_together import days_together
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.errors import InputError
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.drawn.plan import plan_of
from doe.planning.rented import exchange_days
from doe.planning.rented.another_day import another_day
from doe.planning.rented.exchange_days import plan_together, settled_by
from doe.planning.rented.several_days import days_in_order, plan_days
from doe.planning.rented.stored_days import stored_days
from doe.planning.under_way.replan import replan
from doe.planning.wishes.wished import MoreWishes
from doe.words.screen import MORE, filled


def test_days_together_are_legal_and_share_one_promise(planned, faults, text) -> None:
    one, other = planned.plans
    for plan in planned.plans:
        assert faults(plan.day, list(plan.runs)) == []
        assert plan.runs[0].configuration == plan.day.baseline
    # Whichever day is taken as the last, all of them promise the same.
    assert one.expected_settled == pytest.approx(other.expected_settled, abs=1e-6)
    assert [q.se for q in one.questions] == pytest.approx([q.se for q in other.questions], rel=1e-6)
    assert planned.expected_settled > plan_of(parse_day(text), seed=1, effort="quick", fill=True).expected_settled
    document = planned.to_dict()
    json.dumps(document, allow_nan=False)
    on = {one["factor"]: one["days"] for one in document["on_days"]}
    for number, plan in enumerate(planned.plans, start=1):
        for name in ("oil", "vacuum"):
            fitted = any(run.configuration[name] != "base" for run in plan.runs if run.count == "yes")
            assert fitted == (number in on[name])
    said = planned.to_text(details=True)
    assert "settled when both days are done (seed 1)" in said
    assert "judge" in said.splitlines()[-2]
    assert list(planned.to_frame()["days"]) == [[*on["oil"]], [*on["vacuum"]]]


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_screen_says_what_to_do_on_each_day_in_twelve_lines_besides_the_days(planned, width) -> None:
    names = tuple(folder.relative_to(folder.parent) for folder in planned.folders)
    days = replace(planned, folders=names)
    shown = days.screen().plain(width, MORE).splitlines()
    assert max(map(len, shown)) <= width
    first = " ".join(" ".join(shown).split()).partition(".  ")[0]
    assert first.startswith("Follow each day's plan, then type 'doe judge wednesday thursday':")
    whole = days.screen().plain(100, MORE)
    assert len(whole.splitlines()) - len(["", "head", *names]) <= 12, whole
    details = days.to_text(details=True, width=width)
    assert all(len(line) <= width for line in filled(details, width).splitlines())
    assert whole.splitlines()[-1].endswith(MORE)


def test_the_link_stands_in_each_plan_and_leads_to_the_other_days(planned) -> None:
    documents = [
        read_plan(folder, plan.day).document for folder, plan in zip(planned.folders, planned.plans, strict=True)
    ]
    links = [campaign_link(document) for document in documents]
    assert [link.number for link in links] == [1, 2]
    assert links[0].name == links[1].name
    shares = [day.share for day in links[0].days]
    assert 0 < shares[0] < shares[1] == pytest.approx(1.0)
    assert [day.folder for day in missing_days(links[:1])] == ["thursday"]
    assert missing_days(links) == ()
    assert missing_days([None]) == ()
    for folder, document in zip(planned.folders, documents, strict=True):
        assert [one.name for one in days_together(folder, document)] == ["wednesday", "thursday"]


def test_the_plans_are_read_back_as_they_were_written(planned, folders) -> None:
    there = stored_days(days_in_order(planned.folders))
    assert there.to_text() == planned.to_text()
    assert there.after_each == planned.after_each
    assert stored_days(days_in_order(planned.folders[:1])) is None  # the other day is missing
    assert stored_days(days_in_order(folders)) is None


def test_a_day_replanned_takes_the_promise_of_all_days_with_it_and_the_plans_are_shown(with_plans) -> None:
    record_pulls(with_plans[0], [Entry(value=200.0, time=dt.datetime(2026, 5, 20, 8, 30))])
    replan(with_plans[0], seed=1, effort="quick").save(with_plans[0])
    there = stored_days(days_in_order(with_plans))
    said = there.to_text()
    assert "wednesday: the rest was planned anew, so" in " ".join(said.split())
    for folder, plan in zip(with_plans, there.plans, strict=True):  # as `doe plan FOLDER` shows each
        assert list(plan.runs) == list(followed_plan(folder, plan.day).runs)
        assert f"{folder}\n\n{plan.to_text()}" in said
    assert there.to_dict()["holds"] == str(with_plans[0])
    shown = typed("plan", *with_plans)
    assert (shown.returncode, shown.stdout) == (0, f"{there.screen().plain(more=MORE)}\n")
    replan(with_plans[1], seed=1, effort="quick", take=1).save(with_plans[1])
    document = stored_days(days_in_order(with_plans)).to_dict()
    assert (document["replanned"], document["holds"]) == ([str(one) for one in with_plans], str(with_plans[1]))
    assert another_day(days_in_order(with_plans), seed=1, effort="quick").begun


@pytest.mark.parametrize("link", [None, 3, {}, {"name": "x", "number": 3, "days": []}, {"days": [{"folder": 1}]}])
def test_a_link_that_nobody_wrote_is_none(link) -> None:
    assert campaign_link({CAMPAIGN: link}) is None
    assert campaign_link({}) is None


def test_days_with_time_enough_are_cut_short_and_the_one_not_needed_is_named(folders) -> None:
    for folder in folders:
        path = folder / "day.toml"
        path.write_text(path.read_text("utf-8").replace("smallest_gain = 1", "smallest_gain = 30"), "utf-8")
    # Sorted by their dates, however they are named.
    short = plan_days(folders[::-1], seed=1, effort="quick")
    assert list(short.folders) == folders
    assert short.needless
    # Shortness, the order for a day cut short and the draws of both days together take at most 4 %.
    assert short.expected_settled >= 0.96 * short.if_filled
    assert "The hours that are left would add" in short.to_text(details=True)
    assert "hardly needed" in short.to_text()
    assert sum(plan.minutes_used for plan in short.plans) < 250
    for plan in short.plans:  # none is given up
        assert any(run.configuration != plan.day.baseline for run in plan.runs)


def test_wishes_hold_on_each_day_and_fill_takes_its_hours(folders) -> None:
    days = plan_days(folders, seed=1, effort="quick", fill=True, wishes=MoreWishes(min_pulls=4))
    for plan in days.plans:
        for _, runs in itertools.groupby(plan.runs, key=lambda run: run.stint):
            assert sum(run.count == "yes" for run in runs) >= 4
    assert [wish.text for wish in days.wishes] == ["at least 4 pulls a set"]
    assert days.wishes_cost == days.wishes[0].costs >= 0
    assert "at least 4 pulls a set: costs" in days.to_text()
    assert days.if_filled is None
    assert "The hours that are left" not in days.to_text(details=True)
    assert sum(plan.minutes_used for plan in days.plans) > 350


def test_a_sweep_over_the_days_never_makes_them_worse(text) -> None:
    day = parse_day(text)
    before = plan_together([day, day, day], seed=2, effort="quick")
    after = exchange_days.improved(before, [7], 300)
    assert after.settled >= before.settled == pytest.approx(settled_by(before.days))
    arrays = day_arrays(day, candidate_levels(day, mixed=True))
    assert exchange_days.others([exchange_days.OneDay(arrays, None)], 0) is None


def test_quick_parts_only_are_dealt_out_to_the_days_too(make_day, factor) -> None:
    parts = "".join(factor(name, "on 2 2 0 1.0") for name in "abcd")
    day = make_day(factors=parts, minutes=120, breaks=(), warm_up=10.0)
    together = plan_together([day, day], seed=1, effort="quick")
    assert together.settled > plan_together([day], seed=1, effort="quick").settled


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("2026-05-21", "2026-05-20"), "it begins when .* does; give each day its own date"),
        (("smallest_gain = 1.0", "smallest_gain = 2.5"), "a smallest_gain differs"),
        (("pull_sd = 1.0", "pull_sd = 1.2"), r"\[noise\] differs"),
        (('"vacuum"', '"trumpets"'), "its parts and levels are not those of this day"),
    ],
)
def test_days_that_do_not_go_together_are_refused(folders, change, said) -> None:
    path = folders[1] / "day.toml"
    text = path.read_text(encoding="utf-8")
    assert change[0] in text
    path.write_text(text.replace(*change), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        plan_days(folders, seed=1, effort="quick")


def test_a_day_too_short_is_named(folders) -> None:
    path = folders[1] / "day.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("finish = 11:20", "finish = 08:30"), encoding="utf-8")
    with pytest.raises(InputError, match=r"thursday: nothing that could be answered fits into this day"):
        plan_days(folders, seed=1, effort="quick")
