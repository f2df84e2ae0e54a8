"""What an early look may spend: printed boundaries, and that no row of looks spends more than the risk."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from doe.stats.spending import cumulative_risk, increment

PUBLISHED = json.loads((Path(__file__).parents[1] / "reference" / "published.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("looks", [3, 4, 5])
def test_the_first_boundary_is_the_one_that_is_printed(looks):
    """Source: published.json, "sequential". At the first look the boundary is where one side's 2.5 % is spent."""
    first = PUBLISHED["sequential"]["ldobf_z"][str(looks)][0]
    assert stats.norm.isf(cumulative_risk(1 / looks, 0.025)) == pytest.approx(first, abs=1e-3)


def test_by_hand():
    # Source: tables of the normal distribution, 2 (1 - Phi(1.9600 x 2)) = 8.86e-5, 2 (1 - Phi(1.9600 / 0.8)) = 0.01429
    assert cumulative_risk(0.25) == pytest.approx(8.86e-5, abs=1e-7)
    assert cumulative_risk(0.64) == pytest.approx(0.01429, abs=1e-5)
    assert increment(0.64, 8.86e-5) == pytest.approx(0.01420, abs=1e-5)


def test_nothing_before_the_first_pull_and_all_of_it_from_the_planned_end_on():
    assert cumulative_risk(0.0) == cumulative_risk(-0.1) == 0.0
    for risk in (0.05, 0.01):
        assert cumulative_risk(1.0, risk) == pytest.approx(risk, rel=1e-12)
        assert cumulative_risk(1.7, risk) == cumulative_risk(1.0, risk)
    assert cumulative_risk(0.5, 0.01) < cumulative_risk(0.5)


@given(st.lists(st.floats(0.0, 1.5), min_size=1, max_size=8), st.sampled_from([0.01, 0.05, 0.2]))
def test_looks_in_any_order_spend_what_the_furthest_may(shares, risk):
    """Also where pulls are voided between two looks and the later one holds less information."""
    spent = 0.0
    for share in shares:
        taken = increment(share, spent, risk)
        assert taken >= 0.0
        spent += taken
    assert spent == pytest.approx(cumulative_risk(max(shares), risk), rel=1e-9, abs=1e-15)
    assert spent <= risk * (1 + 1e-9)
