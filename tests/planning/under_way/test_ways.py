"""The ways to plan the rest of a day: their numbers, what they lose, the drawn order that outlives a cut, and the undo.

The day: vacuum on or off in eight sets of two pulls, three on; its 56 orders are all that there are. Pulls of 4 min
follow each other, a changeover takes 2 min; by hand the plan ends 8 x 8 + 7 x 2 = 78 min after its beginning at most.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import replace
from itertools import combinations, groupby
from pathlib import Path

import pytest
from day_files import day_file, factor
from typed import typed

from doe.analysis.judging.folders import judge_and_log
from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile, write_plan
from doe.day.files.seal import seal_of
from doe.day.log.events import events_of
from doe.day.log.planned.followed import REPLAN, followed_plan
from doe.day.log.planned.plan_writing import log_plan
from doe.day.log.planned.undoing import undo_plan
from doe.day.pilot.coming.ways import Alternative
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.day.records import Stint
from doe.day.storage import only_writer
from doe.errors import InputError
from doe.planning.drawn.what_if import with_minutes_on
from doe.planning.under_way.alternatives import no_better_told, offered
from doe.planning.under_way.choosing import CUT, FULL_WAYS, SEARCH, SHORTEN, WAYS, best_of
from doe.planning.under_way.replan import replan
from doe.planning.under_way.rest import Wishes
from doe.report.sections.day_parts import plan_stages
from doe.words.plans.replan_words import alternatives_lines, offered_text

DRAWN = "ABAABABA"
SETS, ON = len(DRAWN), DRAWN.count("B")
READINGS = (
    200.1,
    199.7,
    203.2,
    202.5,
    200.4,
    199.9,
    199.2,
    200.8,
    202.9,
    203.9,
    200.0,
    199.5,
    203.4,
    202.2,
    200.3,
    199.6,
)


def orders() -> list[str]:
    """The drawn one first, then every other with as many sets with vacuum."""
    every = ["".join("AB"[place in on] for place in range(SETS)) for on in combinations(range(SETS), ON)]
    return [DRAWN, *(order for order in every if order != DRAWN)]


@pytest.fixture
def folder(tmp_path) -> Path:
    """A planned day from 08:00 to 10:00, warm at 08:00."""
    return planned(tmp_path, date="2026-05-16", start="08:00", finish="10:00")


def planned(folder: Path, **hours: str) -> Path:
    noise = "pull_sd = 0.5\npull_df = 20\nwander_sd = 0"
    text = day_file(factor("vacuum", "off", "on 2 2 0 1.5"), noise=noise, **hours)
    (folder / "day.toml").write_text(text, encoding="utf-8")
    day = read_day_file(folder)
    level = {"A": "off", "B": "on"}
    sets = [(letter, len(list(same))) for letter, same in groupby(DRAWN)]
    runs = lay_out(day, [Stint({"vacuum": level[letter]}, 2 * count) for letter, count in sets])
    document = {
        "seal": seal_of(day),
        "orders": {
            "letters": {letter: {"vacuum": name} for letter, name in level.items()},
            "slots": [[2 * place + 1, 2 * place + 2] for place in range(SETS)],
        },
        "not_randomised": None,
        "questions": [{"factor": "vacuum", "level": "on", "family_power": 0.97, "no_difference_power": 0.97}],
    }
    with only_writer(folder):
        log_plan(folder, day, PlanFile(tuple(runs), document, tuple(orders())), rest=False)
    return folder


def made(folder: Path, count: int, late: float = 0.0) -> None:
    """Log so many of the due pulls, each late by so many minutes."""
    standing = up_next(folder).standing
    begin, first = standing.day.begin, standing.next_number
    entries = [
        Entry(value=READINGS[pull - 1], time=begin + dt.timedelta(minutes=run.minute + late))
        for pull, run in enumerate(standing.due[:count], start=first)
    ]
    record_pulls(folder, entries)


def randomisation(folder: Path) -> float | None:
    return judge_and_log([folder]).to_dict()["changes"][0]["randomisation_p"]


def test_each_way_has_its_number_and_what_it_takes(folder) -> None:
    made(folder, 4, late=60.0)
    plan = replan(folder, seed=1, effort="quick")
    assert plan.replaced is not None
    ways = plan.replaced.ways
    assert [(way.number, way.name) for way in ways] == [(1, CUT), (2, SHORTEN), (3, SEARCH)]
    assert ways[0].pulls < 12
    assert all(way.finish is not None and way.finish <= 120 for way in ways)
    for way in ways:
        taken = replan(folder, seed=1, effort="quick", take=way.number)
        assert taken.replaced is not None
        assert taken.replaced.taken == way.name
        assert taken.expected_settled == way.settled
        assert sum(run.count == "yes" for run in taken.runs) == way.pulls
    text = plan.to_text()
    assert "1  the old plan, cut at the end: " in text
    assert "no randomisation test: the rest was searched anew, and its order was not drawn" in text
    with pytest.raises(InputError, match=f"--take 4: there are ways 1 to {len(WAYS)}"):
        replan(folder, seed=1, effort="quick", take=4)


def way(number: int, *, finish: float = 300.0, changeovers: int = 8, settled: float = 2.0, drawn: bool = False):
    why = None if drawn else "searched"
    return Alternative(
        number, WAYS[number - 1], finish, 20, changeovers=changeovers, settled=settled, not_randomised=why
    )


@pytest.mark.parametrize(
    ("ways", "left"),
    [
        ([way(1), way(2, settled=1.9, finish=310), way(3, settled=2.1, changeovers=9)], [1, 3]),
        ([way(1), way(2, settled=2.004), way(3, settled=2.004, changeovers=7)], [3]),
        ([way(1, drawn=True, settled=1.9), way(2, settled=1.9), way(3)], [1, 3]),  # the drawn order is worth something
        ([way(1), way(2, finish=290), way(3, settled=2.3, finish=330)], [2, 3]),
        ([way(1), Alternative(2, SHORTEN), way(3)], [1]),  # of two alike the one with the smaller number
        ([way(number) for number in (1, 2, 3)], [1]),
    ],
)
def test_a_way_that_is_no_better_in_anything_is_not_offered(ways, left) -> None:
    told = no_better_told(ways)
    assert [one.number for one in offered(told)] == left
    text = "\n".join(alternatives_lines(told, 3, lambda minute: f"{minute:g}"))
    assert text.count("not offered, for ") == sum(one.finish is not None for one in told) - len(left)
    best = max(offered(told), key=lambda one: one.weighed)
    shown = offered_text(told, 3, str, "doe plan --from-now", best.name)
    assert f" *{best.number}  " in shown and shown.endswith(f"--take {best.number}")


def test_a_way_that_hangs_on_a_straight_drift_is_neither_taken_nor_as_good_as_another() -> None:
    """One set of three on in the middle is alike to a bend: what it settles is not what it is chosen by."""
    straight = replace(way(1, settled=0.83, changeovers=2, finish=83), if_it_bends=0.08)
    even = replace(way(2, settled=0.81, changeovers=3, finish=85), if_it_bends=0.80)
    told = no_better_told([straight, even, replace(way(3, settled=0.73, changeovers=3, finish=84), if_it_bends=0.72)])
    assert [one.number for one in offered(told)] == [1, 2, 3]
    assert best_of({one.name: one.weighed for one in offered(told)}) == SHORTEN
    lines = alternatives_lines(told, 1, lambda minute: f"{minute:g}", SHORTEN)
    assert lines[0].endswith("0.83 of 1 question settled, 0.08 if the drift bends")
    assert lines[2].startswith(" *2") and "0.81 of 1 question settled, 0.80 if the drift bends" in lines[2]
    assert lines[-1] == "    the best is the way that settles most even if the drift bends"


def test_the_best_that_is_shown_is_the_one_that_is_taken(tmp_path) -> None:
    """Cut to one set on between two sets off, the old plan settles most, as long as the drift is straight."""
    noise = "pull_sd = 1.0\npull_df = 13\nwander_sd = 0"
    text = day_file(factor("timing", "30", "32 2 2 0 2"), date="2026-05-16", start="09:00", finish="10:25", noise=noise)
    (tmp_path / "day.toml").write_text(text, encoding="utf-8")
    day = read_day_file(tmp_path)
    sets = [("30", 2), ("32", 5), ("30", 5), ("32", 2)]
    runs = lay_out(day, [Stint({"timing": level}, pulls) for level, pulls in sets])
    with only_writer(tmp_path):
        log_plan(tmp_path, day, PlanFile(tuple(runs), {"seal": seal_of(day), "questions": []}), rest=False)
    record_pulls(tmp_path, [Entry(value=300.1, time=day.begin + dt.timedelta(minutes=50))])
    plan = replan(tmp_path, now=52.0, seed=1, effort="quick")
    assert plan.replaced is not None
    cut, *_ = ways = plan.replaced.ways
    assert cut.settled > plan.expected_settled and cut.weighed < 0.2
    assert plan.replaced.taken != CUT
    best = max(offered(ways), key=lambda one: one.weighed)
    assert plan.expected_settled == best.settled
    said = " ".join(plan.to_text().split())
    assert f"{cut.settled:.2f} of 1 question settled, {cut.weighed:.2f} if the drift bends" in said


def test_what_is_taken_all_the_same_is_shown_with_what_is_no_worse() -> None:
    told = no_better_told([way(1), way(2, settled=1.9, finish=310), way(3, settled=1.5, drawn=True)])
    lines = alternatives_lines(told, 3, lambda minute: f"{minute:g}", SHORTEN)
    assert lines[2] == (
        " *2  the old plan, longest sets shortened: 20 pulls that count, 8 changeovers, done at 310, 1.90 of 3"
        " questions settled; 1 settles as much, no later and with no more changeovers"
    )


def test_the_whole_rest_of_the_day_is_taken_where_it_is_wished(folder) -> None:
    """A gain of three pull SDs is settled long before the finish: who wants the hours says so."""
    made(folder, 4)
    enough, full = (replan(folder, seed=1, effort="quick", take=3, fill=fill) for fill in (False, True))
    assert enough.runs[-1].minute < full.runs[-1].minute - 20
    assert full.runs[-1].minute > 120 - 5
    assert enough.if_filled is not None and full.if_filled is None
    assert enough.if_filled == pytest.approx(full.expected_settled)
    assert enough.expected_settled >= 0.97 * full.expected_settled
    assert "'doe plan --from-now --fill' takes them" in enough.to_text(details=True)
    assert full.replaced is not None
    assert tuple(way.name for way in full.replaced.ways) == FULL_WAYS
    assert full.replaced.ways[1].finish == pytest.approx(full.runs[-1].minute, abs=5)


def test_where_nothing_is_cut_the_randomisation_test_says_the_same(folder, tmp_path_factory) -> None:
    """A rest that is the old plan under new numbers must not change its p."""
    made(folder, 6)
    other = planned(tmp_path_factory.mktemp("as planned"), date="2026-05-16", start="08:00", finish="10:00")
    made(other, 16)
    plan = replan(folder, seed=1, effort="quick", take=1)
    assert plan.made["not_randomised"] is None
    plan.save(folder)
    made(folder, 10)
    expected = randomisation(other)
    assert expected is not None
    assert randomisation(folder) == pytest.approx(expected)


def test_an_order_that_is_cut_is_tested_among_orders_that_are(folder) -> None:
    """By hand: five of eight sets are left of the drawn order; the others are cut at the same place."""
    made(folder, 4, late=60.0)
    plan = replan(folder, seed=1, effort="quick", take=1)
    kept = plan.made["orders"]["slots"]
    assert kept[:2] == [[1, 2], [3, 4]]
    assert [number for slot in kept[2:] for number in slot] == [run.run for run in plan.runs]
    assert plan.orders[0] == DRAWN[: len(kept)]
    assert sorted(plan.orders) == sorted(order[: len(kept)] for order in orders())
    plan.save(folder)
    made(folder, len(plan.runs))
    assert randomisation(folder) is not None


def test_why_the_order_does_not_outlive_a_plan_for_the_rest(folder) -> None:
    made(folder, 4)
    day = with_minutes_on(read_day_file(folder), "vacuum", "on", 5.0)
    slower = replan(folder, day=day, seed=1, effort="quick", take=1)
    assert "a changeover takes other minutes" in slower.made["not_randomised"]
    wanted = replan(folder, wishes=Wishes(keep=(("vacuum", "on"),)), seed=1, effort="quick", take=1)
    assert "depends on what is fitted" in wanted.made["not_randomised"]
    late = read_day_file(folder).begin + dt.timedelta(minutes=50)
    record_pulls(folder, [Entry(value=200.0, run=9, time=late)])  # sets 3 and 4 are left out
    left = replan(folder, seed=1, effort="quick", take=1)
    assert left.made["not_randomised"] == "planned pulls were left out on the way"
    assert left.orders == ()


def test_a_plan_is_taken_back_by_one_event(folder) -> None:
    made(folder, 4, late=60.0)
    before = followed_plan(folder, read_day_file(folder))
    replan(folder, seed=1, effort="quick", take=3).save(folder)
    changed = followed_plan(folder, read_day_file(folder))
    count = len(events_of(folder, REPLAN))
    undone = undo_plan(folder)
    assert len(events_of(folder, REPLAN)) == count + 1
    after = followed_plan(folder, read_day_file(folder))
    assert before is not None and after is not None and changed is not None
    assert (after.runs, after.document, after.orders) == (before.runs, before.document, before.orders)
    assert (after.runs, undone.event) != (changed.runs, 0)
    assert not check_folder(folder).remaining
    assert [stage.again for stage in plan_stages(folder, read_day_file(folder), after)] == [False, False, True]
    with pytest.raises(InputError, match="no plan before this one"):
        undo_plan(folder)
    replan(folder, seed=1, effort="quick", take=1).save(folder)
    record_pulls(folder, [Entry(value=200.0, time=read_day_file(folder).begin + dt.timedelta(minutes=100))])
    with pytest.raises(InputError, match="pull 5 was made by the plan that would be taken back"):
        undo_plan(folder)


def test_an_edit_by_hand_is_taken_back_too(folder) -> None:
    day = read_day_file(folder)
    before = followed_plan(folder, day)
    assert before is not None
    write_plan(folder, before.runs[:-2], before.document, before.orders)
    undo_plan(folder)
    after = followed_plan(folder, day)
    assert after is not None
    assert (after.runs, after.orders) == (before.runs, before.orders)


def test_a_late_day_offers_its_ways_and_takes_one_by_its_number(tmp_path) -> None:
    begin = dt.datetime.now().replace(second=0, microsecond=0) - dt.timedelta(minutes=70)
    finish = begin + dt.timedelta(minutes=120)
    planned(tmp_path, date=str(begin.date()), start=f"{begin:%H:%M}", finish=f"{finish:%H:%M}")
    made(tmp_path, 4, late=50.0)
    said = typed("next", cwd=tmp_path)
    assert "LATE  doe plan --from-now" in said.stdout
    assert "1  the old plan, cut at the end: " in said.stdout
    best = re.search(r"^ +\*(\d)  ", said.stdout, re.MULTILINE)
    assert best is not None
    assert said.stdout.rstrip().endswith(f"take the best (*), or another by its number: doe next --take {best[1]}")
    told = said.stdout.splitlines()
    settled = {int(m[1]): float(m[2]) for line in told if (m := re.match(r" +\*?(\d)  .* (\d\.\d+) of", line))}
    assert settled[int(best[1])] >= 0.99 * max(settled.values())
    taken = typed("next", "--take", 1, cwd=tmp_path)
    assert "took 1, the old plan, cut at the end; 'doe plan --undo' takes it back" in taken.stderr
    coming = json.loads(typed("next", "--json", cwd=tmp_path).stdout)
    assert abs(coming["behind_minutes"]) < 2.0  # of a plan made this minute nothing is made up, and nothing late
    assert "LATE" not in taken.stdout
    undone = typed("plan", "--undo", cwd=tmp_path)
    assert "the plan before is followed again, 16 steps" in undone.stdout
    before = (tmp_path / "plan.csv").read_bytes()
    assert "nothing was written" in typed("plan", "--from-now", "--preview", "--effort", "quick", cwd=tmp_path).stderr
    assert (tmp_path / "plan.csv").read_bytes() == before
