"""What each verdict on a question may spend: levels by hand, and that no order of looks and verdicts spends more."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.day.log.looks import Look, Told
from doe.day.log.stages import Stage, early_looks, level_of, stage_of

OIL, FUEL = ("oil", "thin"), ("fuel", "E10")


def shown(number: int | None, spent: float, *, final: bool = True, question=OIL) -> Look:
    told = Told(*question, number, spent or None, spent, "not settled")
    return Look(1, "t", 10, 5, 1.0, spent, final, told=(told,))


def test_each_level_is_half_of_the_one_before():
    # Source: by hand, 5 %/2^(n-1).
    assert [level_of(n, 0.05) for n in (1, 2, 3, 4)] == pytest.approx([0.05, 0.025, 0.0125, 0.00625])
    assert level_of(3, 0.10) == pytest.approx(0.025)
    assert level_of(2000, 0.05) > 0


def test_whoever_comes_back_for_ever_has_the_last_level_again_and_again():
    stage, numbers = Stage(1, 0.05, 0.05), []
    for _ in range(60):
        numbers.append(stage.number)
        stage = stage.verdict().look(0.0)
    assert numbers == list(range(1, 61))
    assert stage.left == level_of(60, 0.05) == 1e-9


@pytest.mark.parametrize(
    ("ledgers", "number", "left"),
    [
        ([], 1, 0.05),
        ([[]], 1, 0.05),
        ([[shown(1, 0.05)]], 2, 0.025),
        ([[shown(1, 0.01, final=False)]], 1, 0.04),
        ([[shown(1, 0.01, final=False), shown(1, 0.04)]], 2, 0.025),
        ([[shown(1, 0.05), shown(2, 0.01, final=False)]], 2, 0.015),
        ([[shown(1, 0.05)], [shown(1, 0.05), shown(2, 0.025)]], 3, 0.0125),  # days together: the largest number
        ([[shown(1, 0.01, final=False)], [shown(1, 0.02, final=False)]], 1, 0.02),  # the looks of all days
        ([[shown(1, 0.03, final=False)], [shown(1, 0.04, final=False)]], 2, 0.005),  # beyond a stage: the next one pays
        ([[shown(1, 0.0)]], 2, 0.025),  # the same pulls again, after a void
        ([[shown(None, 0.0)]], 1, 0.05),  # no interval, no verdict
        ([[shown(1, 0.05, question=FUEL)]], 1, 0.05),
        ([[Look(1, "t", 9, 3, 0.5, 0.01, False)]], 1, 0.04),  # a table of the first version
        ([[Look(1, "t", 9, 3, 0.5, 0.01, False), Look(2, "t", 9, 3, 1.0, 0.04, True, True)]], 2, 0.025),
    ],
)
def test_where_a_question_stands(ledgers, number, left):
    found = stage_of(ledgers, OIL, 0.05)
    assert found.number == number
    assert found.left == pytest.approx(left)


def test_looks_are_counted_since_the_last_verdict_of_each_day():
    early, last = shown(1, 0.01, final=False), shown(1, 0.04)
    assert early_looks([[early, early, last]]) == 0
    assert early_looks([[early, last, early], [early]]) == 2
    assert early_looks([[early, shown(1, 0.0, final=False)]]) == 1  # the second time after a void


@given(st.lists(st.one_of(st.none(), st.floats(0.01, 1.0)), max_size=60), st.sampled_from([0.05, 0.01, 0.2]))
def test_no_order_of_looks_and_verdicts_spends_more_than_twice_the_risk(moves, risk):
    """None is a final verdict, a share is a look that takes that much of what is left."""
    stage, spent = Stage(1, risk, risk), 0.0
    for move in moves:
        if move is None:
            spent += stage.left
            stage = stage.verdict()
        else:
            spent += move * stage.left
            stage = stage.look(move * stage.left)
        assert stage.left > 0
    assert spent <= 2 * risk + 60e-9
