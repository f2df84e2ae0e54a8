"""The page to print: what changes in bold, a heavy line at each fitting, what to bring, where to stop, cautions."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from day_files import day_file, factor

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.records import Stint
from doe.planning.drawn.plan import plan_day
from doe.planning.under_way.stops import stops_of
from doe.report.run_sheet.page import write_page
from doe.words.day.run_sheet_words import stop_line

DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 20 1 2", refit=True),
    factor("ignition", "stock", "<b>hot</b> 2 3 0 1.5"),
    title="Oil & spark",
    finish="13:00",
    warm_up=30,
    breaks=[("09:30", 15)],
    noise="pull_sd = 0.6\ninstall_sd = 0.2\ninstall_df = 8",
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "day.toml").write_text(DAY, encoding="utf-8")
    day = read_day_file(tmp_path)
    thin, hot = {**day.baseline, "oil": "0W-20"}, {**day.baseline, "ignition": "<b>hot</b>"}
    sets = [
        Stint(day.baseline, 2),
        Stint(hot, 2),
        Stint(thin, 2),
        Stint(day.baseline, 2),
        Stint(hot, 2),
        Stint(thin, 2),
    ]
    write_plan(tmp_path, lay_out(day, sets), {})
    return tmp_path


@pytest.fixture
def page(folder):
    return write_page(folder)[0].read_text(encoding="utf-8")


def test_only_what_changes_is_bold_and_names_are_no_markup(page):
    bold = re.findall(r'<td class="change"><strong>(.*?)</strong>', page)
    assert bold == [
        "set ignition to &lt;b&gt;hot&lt;/b&gt;",
        "fit oil 0W-20; set ignition to stock",
        "fit oil 15W-50",
        "set ignition to &lt;b&gt;hot&lt;/b&gt;",
        "fit oil 0W-20; set ignition to stock",
    ]
    assert "<b>hot" not in page


def test_a_heavy_line_stands_before_each_fitting_and_the_break_in_its_place(page):
    assert page.count('<tbody class="fitting">') == 3
    assert re.search(r"<td>09:30</td><td colspan=\"6\">break, 15 min", page)


def test_every_pull_has_its_boxes(page):
    rows = re.findall(r'<th scope="row">\d+</th>.*?</tr>', page.split('<table class="stops">')[0], re.DOTALL)
    assert len(rows) == 15  # twelve that count, three thrown away
    assert all(row.count('<td class="box">') == 4 for row in rows)


def test_what_to_bring_and_the_cautions_are_those_of_the_changes(page):
    assert "oil 0W-20: for 2 fittings" in page
    assert "oil 15W-50: for 1 fitting, besides what is on when the engine arrives" in page
    assert "Hot oil" in page
    assert "Fuel change" not in page
    assert "come first" in page


def test_where_one_may_stop_grows_and_ends_with_the_plan(folder, page):
    stops = stops_of(folder)
    assert [stop.settled for stop in stops] == sorted(stop.settled for stop in stops)
    assert stops[-1].run == 15
    assert "oil 0W-20" in stop_line(stops[-1].chances)[0]
    assert "If the day must stop early" in page


def test_the_last_stop_is_the_promise_of_the_plan(tmp_path, searches_are_short):
    """The plan's own arithmetic for the whole day, from the same steps."""
    (tmp_path / "day.toml").write_text(DAY, encoding="utf-8")
    plan = plan_day(tmp_path, seed=1, effort="quick")
    plan.save(tmp_path)
    last = stops_of(tmp_path)[-1]
    assert last.settled == pytest.approx(plan.expected_settled, rel=1e-9)
    for chance, question in zip(last.chances, plan.questions, strict=True):
        assert chance.real == pytest.approx(question.family_power, rel=1e-9)


def test_it_needs_nothing_from_outside_and_can_load_nothing(page):
    assert "default-src 'none'" in page
    assert "<script" not in page
    assert not re.search(r'(?:src|href)="', page)


def test_what_day_and_plan_it_is_of_stands_by_the_cautions_and_not_on_a_leaf_of_its_own(page):
    assert "run sheet of 2026-05-16, plan " in page[page.index("<h2>Safety") : page.rindex("</section>")]


def test_same_plan_same_page(folder, page):
    assert write_page(folder)[0].read_text(encoding="utf-8") == page


def test_a_noise_study_has_a_sheet_without_stops(tmp_path):
    text = day_file(factor("oil", "thick", refit=True, refit_minutes=10), warm_up=4, noise="pull_sd = 1.0")
    (tmp_path / "day.toml").write_text(text, encoding="utf-8")
    day = read_day_file(tmp_path)
    write_plan(tmp_path, lay_out(day, [Stint(day.baseline, 2), Stint(day.baseline, 2, "oil")]), {})
    page = write_page(tmp_path)[0].read_text(encoding="utf-8")
    assert "drain, refill the same thick" in page
    assert "must stop early" not in page
    assert "oil thick: for 1 fitting" in page
