"""Who comes back until something comes out is told no more that is false than the ledger promises: the benchmark."""

from __future__ import annotations

import pytest

CAMPAIGNS = 400


@pytest.fixture(scope="module")
def study(benchmark_module):
    return benchmark_module("ledger_study")


def bound(share: float) -> float:
    """A share with 3.3 binomial standard errors: one run in 2,000 lies above."""
    return share + 3.3 * (share * (1 - share) / CAMPAIGNS) ** 0.5


@pytest.mark.parametrize("protocol", ["days", "looks", "pulls"])
def test_nobody_who_comes_back_is_told_more_that_is_false_than_twice_the_risk(study, protocol):
    case = study.CASES[2]
    steps = study.steps_of(case, protocol, ledger=True)[1]
    spent = sum(step.risk for step in steps)
    assert spent <= 2 * study.RISK + 1e-9
    found = study.row_of(case, protocol, CAMPAIGNS, 5)
    assert found.false_real < bound(spent)
    assert found.false_none < bound(spent)
    without = study.row_of(case, protocol, CAMPAIGNS, 5, ledger=False)
    assert found.false_none < without.false_none


def test_looks_add_up_to_the_risk_and_the_last_word_has_what_is_left(study):
    for case in study.CASES:
        steps = study.steps_of(case, "looks", ledger=True)[1]
        assert sum(step.risk for step in steps) == pytest.approx(study.RISK)
        assert len(steps) > 3


def test_what_would_settle_it_at_the_second_level_does(study):
    case = study.CASES[2]
    found = study.told_once(case, 60, 3)
    once = study.row_of(case, "one verdict", 60, 3)
    assert found.verdicts > 1
    assert all(more > few for more, few in zip(found.settled, once.settled, strict=True))
