"""Which verdict is due: a new one, or the same again where no counted pull is new."""

from __future__ import annotations

import pytest

from doe.analysis.judging.ledger.alterations import altered_since
from doe.analysis.judging.ledger.ledger_entries import asks
from doe.analysis.judging.ledger.turns import shown_before, turn_of
from doe.day.log.looks import Altered, Look, Seen, Told
from doe.stats.spending import cumulative_risk

OIL = ("oil", "thin")


def seen(counted, logged=None, days=1, asked="") -> Seen:
    return Seen(days, "power", frozenset(logged or counted), {number: f"{number}" for number in counted}, asked)


def look(now: Seen, number=1, spent=0.05, *, final=True, time="t") -> Look:
    told = (Told(*OIL, number, spent, spent, "not settled"),)
    return Look(1, time, len(now.counted), 3, 0.5, spent, final, told=told, seen=now)


def due(ledgers, now, **options):
    return turn_of(ledgers, now, [OIL], 0.05, **{"final": True, **options})


def test_the_same_pulls_have_the_same_level_and_spend_nothing():
    now = seen(range(1, 9))
    turn = due([[look(now)]], [now])
    assert (turn.levels[OIL].number, turn.levels[OIL].risk, turn.spends[OIL], turn.again) == (1, 0.05, 0.0, True)
    assert turn.levels[OIL].next_risk == 0.025


@pytest.mark.parametrize(
    ("counted", "new"), [(range(1, 9), False), (range(1, 8), False), (range(1, 10), True), ([*range(1, 7), 9], True)]
)
def test_a_pull_is_new_by_its_number_not_by_how_many_there_are(counted, new):
    before = look(seen(range(1, 8), logged=range(1, 9)))  # pull 8 was void: counted again it is not new
    assert due([[before]], [seen(counted)]).again != new


def test_without_the_journal_a_pull_is_new_where_there_are_more():
    old = Look(1, "t", 8, 3, 1.0, 0.05, True)
    assert due([[old]], [seen(range(2, 10))]).again
    assert not due([[old]], [seen(range(1, 10))]).again


def test_voiding_what_came_later_brings_no_earlier_level_back():
    few, more = seen(range(1, 9)), seen(range(1, 13))
    ledger = [look(few), look(more, 2, 0.025)]
    turn = due([ledger], [seen(range(1, 9), logged=range(1, 13))])
    assert (turn.levels[OIL].number, turn.levels[OIL].risk, turn.spends[OIL]) == (2, 0.025, 0.0)


def test_the_last_word_is_due_after_a_look_at_the_same_pulls_and_a_look_is_not_due_twice():
    now = seen(range(1, 9))
    ledger = [look(now, spent=0.01, final=False)]
    last = due([ledger], [now])
    assert (last.levels[OIL].risk, last.look, last.again) == (pytest.approx(0.04), (2, pytest.approx(0.04)), False)
    again = due([ledger], [now], final=False, information=0.5)
    assert (again.levels[OIL].risk, again.look, again.spends[OIL]) == (0.01, (1, 0.01), 0.0)
    assert again.levels[OIL].next_risk == pytest.approx(0.04)


def test_a_look_in_a_later_stage_shares_that_stages_level():
    now = seen(range(1, 9))
    turn = due([[look(now)]], [seen(range(1, 11))], final=False, information=0.7)
    assert turn.levels[OIL].number == 2
    assert turn.levels[OIL].risk == pytest.approx(cumulative_risk(0.7, 0.025))
    assert turn.levels[OIL].risk + turn.levels[OIL].next_risk == pytest.approx(0.025)


def test_nothing_new_means_no_look():
    now = seen(range(1, 9))
    ledger = [look(seen(range(1, 8)), spent=cumulative_risk(0.6), final=False)]
    assert not due([ledger], [now], final=False, information=0.6).allowed
    assert due([ledger], [now], final=False, information=0.7).allowed


def test_a_question_that_was_never_told_pays_for_itself():
    now = seen(range(1, 9))
    turn = turn_of([[look(now)]], [now], [OIL, ("fuel", "E10")], 0.05, final=True)
    assert turn.spends == {OIL: 0.0, ("fuel", "E10"): 0.05}


def test_other_days_together_are_another_verdict():
    a, b, c = (seen(range(1, 9), days=2) for _ in range(3))
    one, two, three = [look(a, time="t2")], [look(b, time="t2")], [look(c, time="t3")]
    assert shown_before([one, two], [a, b], final=True)
    assert shown_before([two, one], [b, a], final=True)
    assert shown_before([one, three], [a, c], final=True) is None
    assert shown_before([one], [seen(range(1, 9))], final=True) is None
    assert due([one, three], [a, c]).levels[OIL].number == 2


def test_what_was_altered_is_told_apart():
    before = look(seen([1, 2, 3, 4], logged=[1, 2, 3, 4, 5], asked="a"))
    now = Seen(1, "power", frozenset([1, 2, 4, 5, 6]), {1: "1", 4: "other", 5: "5", 6: "6"}, "b")
    assert altered_since(before, now) == Altered("t", voided=(2,), gone=(3,), counted=(5,), mended=(4,), asked=True)
    assert not altered_since(
        before, Seen(1, "power", frozenset(range(1, 9)), {n: f"{n}" for n in (1, 2, 3, 4, 8)}, "a")
    )


def test_what_is_asked_first_names_every_number_once():
    now = seen(range(1, 12))
    turn = turn_of([[look(seen(range(1, 9)))]], [now], [OIL, ("fuel", "E10")], 0.05, final=True)
    assert asks(turn).startswith("This is the second verdict on oil thin: it has 2.5 % of risk")
    assert "fuel" not in asks(turn)
