"""The report page says what the judgement says, whole and by itself, and nothing of its own."""

from __future__ import annotations

import html
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from doe.analysis.judging.judgement import OtherGain, SecondOpinion
from doe.day.clock import Position, lay_out
from doe.day.files.planfile import PlanFile
from doe.day.records import Stint
from doe.day.schema import DayFile
from doe.report.html import report_page
from doe.report.sections.day_parts import DayParts, PlanStage
from doe.words.judgements.judge_screen import what_to_do
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


def parts_of(day, plan, pulls, notes=(EDITED,), **more):
    stages = (PlanStage(plan.runs, plan.document),) if plan else ()
    return DayParts(day, plan, pulls, notes, stages=stages, **more)


@pytest.fixture(scope="module")
def parts(day, plan, pulls):
    return parts_of(day, plan, pulls)


@pytest.fixture(scope="module")
def page(parts, judgement):
    return report_page([parts], judgement)


class Reader(HTMLParser):
    """Words and ids of a page; complains of a tag that is closed in the wrong place."""

    VOID = frozenset({"meta", "br", "img"})

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
        if not {"style", "svg", "script"} & set(self.open):
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
    assert "oil: 5W-30 in place of 15W-50 +1.70 hp (+0.89 to +2.51) real gain Oil 5W-30" in text
    assert "Oil 5W-30 is worth 0.89 to 2.51 hp: real; whether it is the 1 hp asked for is open." in text
    assert "Crankcase vacuum on costs 1.46 to 2.54 hp: a real loss." in text
    assert "crankcase vacuum: on in place of off −2.00 hp (−2.54 to −1.46) real loss" in text
    assert "spark plugs: fine wire in place of standard +0.10 hp" in text
    assert "air filter: cone in place of flat not tested not settled" in text
    assert "12 more pulls" in text


def test_one_sentence_says_what_to_do_then_the_picture_then_the_words(page, judgement):
    asked = what_to_do(judgement)
    assert asked.startswith("Keep oil 5W-30 if less than 1 hp would pay; don't keep crankcase vacuum on")
    lead, picture, table = '<p class="lead">', "<svg", '<table class="verdicts">'
    assert f"{lead}{asked}</p>" in html.unescape(page)
    assert page.index(lead) < page.index(picture) < page.index(table)


def test_that_verdicts_hold_without_any_one_pull_is_said_once(parts, judgement):
    def held(*hanging):
        gains = [replace(gain, hangs_on=what) for gain, what in zip(judgement.changes, hanging, strict=False)]
        return words(report_page([parts], replace(judgement, changes=tuple(gains))))

    assert held((), (), ()).count("without any one pull") == 1
    some = held((), ("fitting 2",), ())
    assert "it hangs on fitting 2." in some and "Every verdict that names no pull or fitting holds" in some
    assert "without any one" not in held(("pull 3",), ("fitting 2",), ("pull 1", "pull 2"))


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
    assert "09:58 Pull 6 (oil 5W-30) does not count: misfire heard." in text


def test_promises_are_never_called_certain(page):
    text = words(page)
    assert "over 99 % if it gives just that" in text
    assert "under 1 % if it gives nothing" in text
    assert "air filter: cone worth having from 1 hp nothing" in text


def test_all_warnings_appear_once(page, judgement):
    text = words(page)
    assert "edited by hand" in text
    for warning in (*judgement.warnings, "pull 9 was edited by hand", "the wander is assumed"):
        assert text.lower().count(warning.lower()) == 1


def test_a_warning_that_bears_on_the_answer_stands_beside_it(parts, judgement):
    carried = Note("carried-over", "oil", "oil: what was on before still shows", "serious")
    text = words(report_page([parts], replace(judgement, notes=(*judgement.notes, carried))))
    said = "Warning: Oil: what was on before still shows."
    assert text.count(said) == 1 and "What bears on the answer stands beside it; besides that:" in text
    assert text.index(said) < text.index("The day as it happened")


def test_what_other_software_says_is_explained_once_where_it_is_the_same_for_all(parts, judgement):
    def page_with(*reasons):
        other = [OtherGain(gain.factor, gain.level, 1.0, 0.3, 1.0, 0.3, (why,))
                 for gain, why in zip(judgement.changes, reasons, strict=False)]  # fmt: skip
        opinion = SecondOpinion("statsmodels 0.14", "MixedLM", tuple(other))
        return words(report_page([parts], replace(judgement, second_opinion=opinion)))

    assert page_with("the study is left out", "the study is left out").lower().count("the study is left out") == 1
    both = page_with("the study is left out", "the scatter is 0")
    assert "the study is left out" in both and "the scatter is 0" in both


def test_cautions_name_the_cells_rules_first(page):
    text = words(page)
    assert text.index("come first") < text.index("Hot metal")
    assert "Hot oil" in text
    assert "Fuel change" in text


def test_needs_nothing_from_outside(page):
    assert not re.search(r'(?:src|href)="(?!#)', page)
    assert "@import" not in page
    assert re.findall(r"<script[^>]*>", page) == ['<script type="application/json" id="data">']
    assert "default-src 'none'; style-src 'unsafe-inline'; img-src data:" in page
    assert "url(http" not in page


def test_ids_are_unique_and_every_reference_has_its_target(page):
    ids = read(page).ids
    assert len(ids) == len(set(ids))
    used = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', page))
    assert used <= set(ids)
    assert used


def test_same_day_same_page(page, parts, judgement):
    assert report_page([parts], judgement) == page


def test_names_from_the_day_file_are_no_markup(day, pulls, judgement):
    nasty = day.model_copy(update={"day": day.day.model_copy(update={"title": "<b>5 & 6</b>"})})
    page = report_page([parts_of(nasty, None, pulls, ())], judgement)
    assert "<b>5" not in page
    assert "&lt;b&gt;5 &amp; 6" in page


def test_an_unfinished_day_shows_no_gain(day, plan, pulls, judgement):
    gains = tuple(
        replace(g, gain=None, family_low=None, family_high=None, verdict="not settled") for g in judgement.changes
    )
    unfinished = replace(judgement, final=False, baseline_mean=None, changes=gains)
    page = report_page([parts_of(day, plan, pulls, ())], unfinished)
    assert "The plan is not finished, so no gain is shown" in words(page)
    assert page.count("<svg") == 2  # the day, narrow and wide


def test_without_a_plan_the_page_says_that_nothing_was_sealed(day, pulls, judgement):
    text = words(report_page([parts_of(day, None, pulls, ())], replace(judgement, sealed=None, notes=())))
    assert "There was no plan" in text
    assert "the questions may have been chosen after seeing the numbers" in text
    assert "Warnings None." in text


def test_an_altered_day_file_is_said(day, plan, pulls, judgement):
    text = words(report_page([parts_of(day, plan, pulls, ())], replace(judgement, sealed=False)))
    assert "were altered after the plan was made" in text


def test_headings_go_down_one_step_at_a_time_and_every_table_names_its_rows_and_columns(page):
    levels = [int(level) for level in re.findall(r"<h(\d)", page)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert not re.search(r"<th(?![^>]*scope=)[ >]", page)
    assert page.count('role="img"') == len(re.findall(r'<svg[^>]*aria-label="[^"]{30,}', page)) == 4


def test_the_pictures_text_says_what_they_show(page):
    assert "oil 5W-30: real gain, +1.70 hp (+0.89 to +2.51)" in page
    assert re.search(r"6 pulls that count, from 203.1 to 206.8 hp, 3 fittings, 1 void", page)


def data_of(page):
    return json.loads(re.search(r'id="data">(.*?)</script>', page, re.DOTALL)[1])


def test_every_pull_stands_in_the_table_and_in_the_data(page, pulls):
    data = data_of(page)
    assert [pull["pull"] for pull in data["days"][0]["pulls"]] == [pull.number for pull in pulls]
    assert data["judgement"]["changes"][0]["gain"] == 1.7
    assert "6 09:58 200.0 oil 5W-30 void 2 5 misfire heard" in words(page)


def test_text_of_the_day_cannot_end_the_data(day, pulls, judgement):
    nasty = [replace(pulls[0], further={"note": "</script><script>alert(1)</script>"}), *pulls[1:]]
    page = report_page([parts_of(day, None, tuple(nasty), ())], judgement)
    assert page.count("<script") == 1
    assert "alert(1)" in data_of(page)["days"][0]["pulls"][0]["note"]


def test_the_customers_copy_holds_back_what_testers_typed_and_says_how_many_pulls_were_taken_out(parts, judgement):
    page = report_page([parts], judgement, reader="customer")
    assert "misfire" not in page
    assert "Pull 6 (oil 5W-30) does not count." in words(page)
    assert "1 pull was taken out; the reasons stand in the file copy." in words(page)


def test_what_one_before_and_one_after_would_have_shown(page):
    # By hand: oil and spark plugs are fitted anew, sd sqrt(2 (0.55^2 + 0.25^2)) = 0.854 hp; of the smallest gains
    # 0.75 hp (fuel, not refitted, sd sqrt(2) 0.55 = 0.778) is passed with probability 1 - Phi(0.964) = 0.167.
    told = "One pull before and one after fuel blend, on this engine, shows a gain of 0.75 hp or more on 17 of 100 days"
    assert told in words(page)


def test_a_replanned_day_tells_both_plans(day, plan, pulls, judgement):
    morning, rest = plan.runs[:3], plan.runs[3:]
    later = lay_out(day, [Stint(day.baseline, 2)], Position(200.0, day.baseline, install=3, stint=9, run=20))
    stages = (
        PlanStage(morning + rest, plan.document, "2026-05-16T08:00:00"),
        PlanStage(tuple(later), {"replaced": {"taken": "searched anew"}}, "2026-05-16T10:10:00"),
    )
    made = tuple(pull for pull in pulls if pull.run != 6)
    text = words(report_page([DayParts(day, plan, made, (), stages=stages)], judgement))
    assert "under 2 plans, the later ones made during the day" in text
    assert "The first plan's order was drawn at random with seed 7." in text
    assert "10:10 The rest of the day was planned anew (searched anew): 2 pulls that count from here" in text
    assert text.index("Pull 6 (oil 5W-30) does not count") < text.index("10:10 The rest of the day")
    assert "not made (10:10) oil 5W-30, crankcase vacuum on" in text
    assert "replaced: 1 was planned" in text
    assert "10:10 No pull from here on is planned with crankcase vacuum on and oil 5W-30;" in text
    assert "not made (11:50) baseline" in text


def test_a_campaign_has_one_page(day, plan, pulls, judgement):
    first, second = (parts_of(day, plan, pulls, (), name=name) for name in ("monday", "tuesday"))
    page = report_page([first, second], judgement)
    text = words(page)
    assert "Invented day: 2 days" in text
    assert text.index("16 May 2026: monday") < text.index("16 May 2026: tuesday")
    assert page.count("<svg") == 6
    ids = read(page).ids
    assert len(ids) == len(set(ids))


def test_who_and_what_stand_where_day_toml_says_them(day, plan, pulls, judgement):
    named = DayFile.model_validate(
        day.model_dump(by_alias=True)
        | {"people": {"customer": "A. Nobody", "operator": "B. Nobody"}, "engine": {"name": "V8 no. 3", "fuel": "E10"}}
    )
    text = words(report_page([parts_of(named, plan, pulls, ())], judgement))
    assert "Engine V8 no. 3 Fuel E10 Customer A. Nobody Operator B. Nobody" in text


def test_the_answer_says_what_it_cost_and_what_the_part_costs_for_each_hp(day, plan, pulls, judgement):
    document = day.model_dump(by_alias=True)
    document["day"] |= {"currency": "EUR", "per_hour": 60.0}
    document["factor"][0]["change"][0]["price"] = 340.0
    document["factor"][1]["change"][0]["price"] = 99.0
    text = words(report_page([parts_of(DayFile.model_validate(document), plan, pulls, ())], judgement))
    # Two hours of 60 EUR; of 54 + 86 minutes of their own the oil has 54. 340 EUR over 1.7, 2.51 and 0.89 hp. By hand.
    assert "Its answer cost 46 EUR; at 340 EUR the part costs 200 EUR for each hp (135 EUR to 382 EUR)." in text
    assert "Its answer cost 74 EUR." in text  # a loss is bought by nobody
    assert "Its answer cost" not in words(report_page([parts_of(day, plan, pulls, ())], judgement))
