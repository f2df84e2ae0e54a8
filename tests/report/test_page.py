"""The report page says what the judgement says, whole and by itself, and nothing of its own."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from doe.day.clock import lay_out
from doe.day.files.planfile import PlanFile
from doe.day.log.reading import PullLog
from doe.day.records import Stint
from doe.report.html import report_page
from doe.words.notes import Note

EDITED = Note("edited-row", "pull 9", "pull 9 was edited by hand", "serious")


@pytest.fixture(scope="module")
def plan(day, judgement):
    base, vacuum = day.baseline, day.baseline | {"crankcase vacuum": "on"}
    oil = day.baseline | {"oil": "5W-30"}
    runs = lay_out(day, [Stint(base, 2), Stint(vacuum, 1), Stint(oil, 2), Stint(oil | {"crankcase vacuum": "on"}, 1)])
    questions = [
        {
            "factor": gain.factor,
            "level": gain.level,
            "smallest_gain": gain.smallest_gain,
            "detectable_gain": None if gain.level == "cone" else 0.9,
            "family_power": 0.9996,
            "no_difference_power": 0.004,
            "dropped": False,
        }
        for gain in judgement.changes
    ]
    return PlanFile(tuple(runs), {"seed": 7, "questions": questions, "cautions": ["the wander is assumed"]})


@pytest.fixture(scope="module")
def page(day, plan, pulls, judgement):
    return report_page(day, plan, PullLog(pulls, (EDITED,)), judgement)


class Reader(HTMLParser):
    """Words and ids of a page; complains of a tag that is closed in the wrong place."""

    VOID = frozenset({"meta", "br"})

    def __init__(self):
        super().__init__()
        self.open, self.words, self.ids = [], [], []

    def handle_starttag(self, tag, attrs):
        self.ids += [value for name, value in attrs if name == "id"]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.ids += [value for name, value in attrs if name == "id"]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not {"style", "svg"} & set(self.open):
            self.words.append(data)


def read(page):
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    return reader


def words(page):
    return re.sub(r"\s+", " ", " ".join(read(page).words))


def test_every_change_stands_with_verdict_gain_and_interval(page):
    text = words(page)
    assert "oil: 5W-30 in place of 15W-50 real gain +1.70 hp (+0.89 to +2.51)" in text
    assert "crankcase vacuum: on in place of off real loss −2.00 hp (−2.54 to −1.46)" in text
    assert "spark plugs: fine wire in place of standard no difference that matters +0.10 hp" in text
    assert "air filter: cone in place of flat not settled not tested" in text
    assert "12 more pulls" in text


def test_says_what_the_interval_means_and_what_noise_there_was(page):
    text = words(page)
    assert "On 95 of 100 such days all true gains lie in their brackets." in text
    assert "Pull-to-pull scatter" in text
    assert "0.55 hp" in text
    assert "−0.12 hp per hour" in text
    assert "Nothing was known of the noise before the day." in text


def test_shows_the_plan_as_made_and_as_done(page):
    text = words(page)
    # The log of the invented day fulfils runs 1, 2, 3, 5 and 6 with counted pulls; run 5 was made twice, once void.
    assert "5 of 6 planned pulls were made and count. The order was drawn at random with seed 7." in text
    assert "09:10 (08:30) baseline 2 of 2" in text
    assert "1 of 2, 1 void" in text
    assert "Pull 6 (oil 5W-30): misfire heard." in text


def test_promises_are_never_called_certain(page):
    text = words(page)
    assert "over 99 % if it gives just that" in text
    assert "under 1 % if it gives nothing" in text
    assert "air filter: cone worth having from 1 hp nothing" in text


def test_all_warnings_appear_once(page, judgement):
    text = words(page)
    for warning in (*judgement.warnings, "pull 9 was edited by hand", "the wander is assumed"):
        assert text.count(warning) == 1


def test_cautions_name_the_cells_rules_first(page):
    text = words(page)
    assert text.index("come first") < text.index("Hot metal")
    assert "Hot oil" in text
    assert "Fuel change" in text


def test_needs_nothing_from_outside(page):
    assert not re.search(r'(?:src|href)="(?!#)', page)
    assert "@import" not in page
    assert "<script" not in page
    assert "url(http" not in page


def test_ids_are_unique_and_every_reference_has_its_target(page):
    ids = read(page).ids
    assert len(ids) == len(set(ids))
    used = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', page))
    assert used <= set(ids)
    assert used


def test_same_day_same_page(page, day, plan, pulls, judgement):
    assert report_page(day, plan, PullLog(pulls, (EDITED,)), judgement) == page


def test_names_from_the_day_file_are_no_markup(day, pulls, judgement):
    nasty = day.model_copy(update={"day": day.day.model_copy(update={"title": "<b>5 & 6</b>"})})
    page = report_page(nasty, None, PullLog(pulls), judgement)
    assert "<b>5" not in page
    assert "&lt;b&gt;5 &amp; 6" in page


def test_an_unfinished_day_shows_no_gain(day, plan, pulls, judgement):
    gains = tuple(
        replace(g, gain=None, family_low=None, family_high=None, verdict="not settled") for g in judgement.changes
    )
    page = report_page(day, plan, PullLog(pulls), replace(judgement, final=False, baseline_mean=None, changes=gains))
    assert "The plan is not finished, so no gain is shown" in words(page)
    assert page.count("<svg") == 1


def test_without_a_plan_the_page_says_that_nothing_was_sealed(day, pulls, judgement):
    text = words(report_page(day, None, PullLog(pulls), replace(judgement, sealed=None, notes=())))
    assert "There was no plan" in text
    assert "the questions may have been chosen after seeing the numbers" in text
    assert "Warnings None." in text


def test_an_altered_day_file_is_said(day, plan, pulls, judgement):
    text = words(report_page(day, plan, PullLog(pulls), replace(judgement, sealed=False)))
    assert "were altered after the plan was made" in text
