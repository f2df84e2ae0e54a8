"""What an honest test of a claim would have taken: held to the planner and to plain sense."""

from dataclasses import replace

import pytest

from doe.claims.evidence.scatter import USUAL_SHARES
from doe.claims.protocol import honest_tests
from doe.claims.protocol_result import POWER
from doe.claims.reading.claimsfile import parse_claims
from doe.claims.reading.schema import NoiseTable
from doe.errors import DoeError

SWITCH = """
[test]
unit = "hp"
metric = "peak power"
[[step]]
name = "off"
value = 200.0
[[step]]
name = "on"
changed = ["vacuum"]
value = 204.0
[[claim]]
name = "vacuum"
about = ["vacuum"]
from = ["off"]
to = ["on"]
gain = 4.0
"""
REFIT = SWITCH.replace('changed = ["vacuum"]', 'changed = ["vacuum"]\nrefit = true')


def shortest(text, **noise):
    (test,) = honest_tests(parse_claims(text, "a.toml"), NoiseTable(**noise), "a test").tests
    return test


@pytest.fixture(scope="module")
def switch():
    return shortest(SWITCH, pull_sd=1.5, install_sd=0.5)


def test_it_gives_the_right_verdict_either_way(switch):
    assert min(switch.day.if_real, switch.day.if_nothing) >= POWER


def test_it_returns_and_its_figures_agree(switch):
    day = switch.day
    assert day.returns >= 1
    assert sum(pulls for _, pulls in day.order) == day.pulls
    assert day.minutes >= 40 + 4 * (day.pulls + day.settling_pulls)
    assert day.fittings == 1  # a switch fits nothing


def test_a_part_that_is_fitted_takes_longer_and_several_fittings(switch):
    fitted = shortest(REFIT, pull_sd=1.5, install_sd=0.5).day
    assert fitted.minutes > switch.day.minutes
    assert fitted.fittings >= 4  # both sides at least twice, or nobody knows what re-fitting adds
    assert fitted.returns >= 1


def test_more_scatter_takes_longer(switch):
    assert shortest(SWITCH, pull_sd=3.0, install_sd=0.5).day.minutes > switch.day.minutes


def test_minutes_as_stated_are_planned_with(switch):
    slow = SWITCH + "\n[protocol]\npull_minutes = 8.0\nwarm_up_minutes = 60\nminutes_on = 5\n"
    found = shortest(slow, pull_sd=1.5, install_sd=0.5)
    assert found.day.minutes > switch.day.minutes
    assert "5 min to fit it, 2 min to go back" in found.clock
    assert "8 min a pull, 60 min to warm up" in found.clock


def test_a_gain_that_no_day_shows_is_said_so():
    found = honest_tests(parse_claims(SWITCH, "a.toml"), NoiseTable(pull_sd=40.0, install_sd=0.0), "a test")
    assert found.tests[0].day is None
    assert "12 hours are not enough" in found.to_text()


def test_a_scatter_of_next_to_nothing_still_takes_a_return():
    day = shortest(REFIT, pull_sd=1e-9, install_sd=0.5).day
    assert day.returns >= 1
    assert day.if_real >= POWER


def test_without_a_scatter_several_are_tried_and_it_says_so():
    found = honest_tests(parse_claims(SWITCH, "a.toml"), NoiseTable(), "a test")
    assert [test.pull_sd for test in found.tests] == [share * 200 for share in USUAL_SHARES]
    assert "pull-scatter-assumed" in [note.code for note in found.notes]
    assert found.to_dict()["protocols"][0]["day"]["pulls"] == found.tests[0].day.pulls
    assert len(found.to_frame()) == 3


def test_it_is_planned_for_the_gain_worth_having_else_the_usual_one_never_for_the_claimed_one(switch):
    assert (switch.gain, switch.meaning) == (2.0, "1% of the baseline")  # 4.0 is claimed
    usual = shortest(SWITCH + "[prior]\ntypical_gain = 3.0\n", pull_sd=1.5, install_sd=0.5)
    assert (usual.gain, usual.meaning) == (3.0, "usual for such parts")
    assert usual.day.minutes < switch.day.minutes
    worth = shortest(SWITCH + "smallest_gain = 5.0\n[prior]\ntypical_gain = 3.0\n", pull_sd=1.5, install_sd=0.5)
    assert (worth.gain, worth.meaning) == (5.0, "worth having")


def test_nothing_to_show_is_an_error_in_words():
    claims = parse_claims(SWITCH.replace("value = 200.0", ""), "a.toml")
    with pytest.raises(DoeError, match="vacuum: without a baseline reading, give smallest_gain or typical_gain"):
        honest_tests(claims, NoiseTable(), "a test")


def test_same_file_same_answer(switch):
    again = shortest(SWITCH, pull_sd=1.5, install_sd=0.5)
    assert replace(again, clock="") == replace(switch, clock="")
