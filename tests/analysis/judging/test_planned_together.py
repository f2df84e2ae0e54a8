"""Days planned together share one risk: until the last is done every verdict is a look at it."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path

import pytest
from oil_days import PAST, make_day

from doe.analysis.judging import folders
from doe.analysis.judging.ledger.planned_together import campaign_information
from doe.analysis.trials.campaign import read_days
from doe.day.files.campaign_link import CampaignLink, LinkedDay
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import CAMPAIGN
from doe.day.files.which_folder import next_door
from doe.day.log.looks import read_looks
from doe.day.pilot.coming.ending import ANOTHER_DAY, JUDGED, ending_of
from doe.errors import DoeError

judge_and_log = partial(folders.judge_and_log, checks=False)
judge_day = partial(folders.judge_day, checks=False)
SHARES = (0.4, 0.7, 1.0)


def campaign(tmp_path: Path, *pulls: int | None) -> list[Path]:
    """Days that were planned together, each with the first so many of its pulls; all of them are past."""
    dates = [PAST[:-2] + f"{16 + number}" for number in range(len(pulls))]
    shares = [*SHARES[: len(pulls) - 1], 1.0]
    linked = tuple(
        LinkedDay(f"d{number}", date, share) for number, (date, share) in enumerate(zip(dates, shares, strict=True), 1)
    )
    found = []
    for number, (count, date) in enumerate(zip(pulls, dates, strict=True), start=1):
        folder = make_day(tmp_path / f"d{number}", count, date=date, seed=number, gain=0.6)
        document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        link = CampaignLink("invented", number, linked).to_dict()
        (folder / "plan.json").write_text(json.dumps({**document, CAMPAIGN: link}), encoding="utf-8")
        found.append(folder)
    return found


def risk_of(judgement) -> tuple[int | None, float | None]:
    (gain,) = judgement.changes
    return gain.verdict_number, gain.risk


def test_a_finished_day_alone_shows_nothing_and_names_the_others(tmp_path):
    days = campaign(tmp_path, None, 0)
    judged = judge_day(days[0])
    assert judged.withheld
    assert any("d2 (2020-05-17) is not named (24 counted pulls)" in text for text in judged.warnings)
    half = campaign(tmp_path / "half", 9, 0)
    assert any("it shares one risk with d2 (2020-05-17)" in text for text in judge_day(half[0]).warnings)
    by_itself = make_day(tmp_path / "alone", date=PAST, gain=0.6)
    assert not judge_day(by_itself).withheld


def _said(judged) -> str:
    return " ".join(judged.to_text().split())


def test_what_is_to_be_typed_is_about_the_day_that_has_pulls_to_make(tmp_path):
    one, two = campaign(tmp_path / "done", None, 0)
    to_come = next_door(one, two.name)  # the shortest way from here
    for judged in (judge_day(one), judge_day(one, look=True)):
        assert judged.next_day == to_come
    first = judge_day(one).screen().first
    assert first.startswith("No day has hours to come: d2 (2020-05-17) is not named") and "'doe judge " in first
    assert "Go on pulling" not in _said(judge_day(one)) and "doe next" not in _said(judge_day(one))
    assert judge_day([one, two]).final  # their dates are past
    assert f"'doe judge {one} {to_come}' judges the pulls of all days" in _said(judge_day(one))
    fell_away, made = campaign(tmp_path / "rain", 0, None)
    gone = next_door(made, fell_away.name)
    assert judge_day(made).next_day == gone
    assert f"'doe judge {gone} {made}' judges the pulls of all days" in _said(judge_day(made))
    (fell_away / "plan.csv").rename(tmp_path / "away.csv")
    (fell_away / "day.toml").rename(tmp_path / "away.toml")  # not next door any more
    assert judge_day(made).next_day == ""  # its own date is past
    assert "judges the pulls of all days" not in _said(judge_day(made))
    assert "Go on pulling: d1 (2020-05-16) is to come or not named" in _said(judge_day(made))


def test_after_a_verdict_an_unmade_day_whose_hours_were_put_right_comes_next(tmp_path):
    one, two = campaign(tmp_path, None, 0)
    judge_and_log([one, two])
    assert ending_of(one, read_day_file(one)).state == JUDGED
    text = (two / "day.toml").read_text(encoding="utf-8")
    (two / "day.toml").write_text(text.replace("2020-05-17", "2099-05-17"), encoding="utf-8")
    assert ending_of(one, read_day_file(one)).state == ANOTHER_DAY
    assert judge_day([one, two]).next_day == str(two)


def test_a_verdict_final_since_the_hours_of_an_unmade_day_have_passed_is_asked_about_first(tmp_path):
    days = campaign(tmp_path, None, 0)
    told = []
    with pytest.raises(DoeError, match="nothing was shown, and nothing spent"):
        judge_and_log(days, agreed=lambda text: bool(told.append(text)))
    assert told[0].startswith("No pull of d2 (2020-05-17) counts, and its finish has passed")
    assert read_looks(days[0]) == []
    assert judge_and_log(days).final
    both_made = campaign(tmp_path / "made", None, None)
    assert judge_and_log(both_made, agreed=lambda text: False).final  # nothing is asked


def test_days_together_have_one_risk_less_what_looks_took(tmp_path):
    days = campaign(tmp_path, None, None)
    look = judge_and_log(days[0], look=True)
    assert not look.final
    number, spent = risk_of(look)
    assert number == 1
    assert 0 < spent < 0.05 / 4  # 40 % of the information is in
    assert judge_and_log(days[0], look=True).changes == look.changes  # shown again, it costs nothing
    last = judge_and_log(days)
    assert last.final
    assert risk_of(last) == (1, pytest.approx(0.05 - spent))


def test_coming_back_unplanned_is_dearer(tmp_path):
    planned = judge_and_log(campaign(tmp_path / "planned", None, None))
    days = [make_day(tmp_path / f"u{n}", date=f"2020-05-{16 + n}", seed=n, gain=0.6) for n in (1, 2)]
    judge_and_log(days[0])
    assert risk_of(judge_and_log(days)) == (2, pytest.approx(0.025))
    assert risk_of(planned) == (1, pytest.approx(0.05))


def test_one_look_at_two_days_counts_once(tmp_path):
    days = campaign(tmp_path, None, None, None)
    first = risk_of(judge_and_log(days[0], look=True))[1]
    second = risk_of(judge_and_log(days[:2], look=True))[1]
    assert [len(read_looks(day)) for day in days] == [2, 1, 0]
    assert risk_of(judge_and_log(days)) == (1, pytest.approx(0.05 - first - second))


def test_whichever_days_are_looked_at_all_levels_add_up_to_no_more_than_one_risk(tmp_path):
    days = campaign(tmp_path, None, None, None)
    tried = [[days[1]], [days[2], days[0]], [days[0]], days[1:], days]
    spent = 0.0
    for some in tried:
        judged = judge_and_log(some, look=some is not days)
        if not judged.withheld:
            number, risk = risk_of(judged)
            assert number == 1
            spent += risk
    assert judged.final
    assert spent <= 0.05 + 1e-12


def test_a_campaign_that_ends_early_has_its_last_word_and_the_day_after_is_another_verdict(tmp_path):
    days = campaign(tmp_path, None, None, None)
    assert judge_day(days[:2]).withheld
    assert risk_of(judge_and_log(days[:2], final=True)) == (1, pytest.approx(0.05))
    assert risk_of(judge_and_log(days)) == (2, pytest.approx(0.025))


def test_information_grows_with_the_days_and_their_pulls(tmp_path):
    days = campaign(tmp_path, None, 12, None)
    shares = [campaign_information(read_days(days[:count])) for count in (1, 2, 3)]
    assert shares[0] == pytest.approx(0.4)
    assert shares[0] < shares[1] < shares[2] <= 1.0
    assert campaign_information(read_days([make_day(tmp_path / "alone", date=PAST)])) is None
