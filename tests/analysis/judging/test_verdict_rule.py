"""The verdict rule: worked cases, its edges, and what must hold of any two intervals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.analysis.judging.verdict_rule import verdict, verdicts
from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS

NAN = math.nan
#: outer interval, inner interval, smallest gain, verdict; the edges themselves settle nothing
WORKED = [
    ((0.1, 3.9), (0.4, 3.6), 1.0, REAL_GAIN),
    ((-3.9, -0.1), (-3.6, -0.4), 1.0, REAL_LOSS),
    ((-0.1, 3.9), (0.2, 3.6), 1.0, NOT_SETTLED),  # the outer one decides, not the inner
    ((-1.1, 1.1), (-0.9, 0.9), 1.0, NO_DIFFERENCE),  # the inner one decides, not the outer
    ((-1.1, 1.3), (-0.9, 1.1), 1.0, NOT_SETTLED),
    ((-1.3, 1.1), (-1.1, 0.9), 1.0, NOT_SETTLED),
    ((0.1, 0.9), (0.2, 0.8), 1.0, NO_DIFFERENCE),  # a real difference, but too small to matter
    ((-0.9, -0.1), (-0.8, -0.2), 1.0, NO_DIFFERENCE),
    ((-0.9, 0.9), (-0.8, 0.8), None, NOT_SETTLED),  # nobody said what would matter
    ((0.1, 0.9), (0.2, 0.8), None, REAL_GAIN),
    ((0.0, 3.9), (0.3, 3.6), 1.0, NOT_SETTLED),
    ((-3.9, 0.0), (-3.6, -0.3), 1.0, NOT_SETTLED),
    ((-1.2, 1.2), (-1.0, 0.9), 1.0, NOT_SETTLED),
    ((-1.2, 1.2), (-0.9, 1.0), 1.0, NOT_SETTLED),
    ((NAN, NAN), (NAN, NAN), 1.0, NOT_SETTLED),
    ((NAN, NAN), (NAN, NAN), None, NOT_SETTLED),
]


@pytest.mark.parametrize(("outer", "inner", "smallest", "word"), WORKED)
def test_worked_cases(outer, inner, smallest, word):
    assert verdict(*outer, *inner, smallest) == word


def test_many_at_once_are_judged_as_one_by_one():
    """Every worked case beside every other, as a day of several changes."""
    columns = np.array([[*outer, *inner] for outer, inner, _, _ in WORKED]).T[:, None, :]
    smallest = np.array([NAN if value is None else value for _, _, value, _ in WORKED])
    found = verdicts(*columns, smallest)
    assert found.shape == (1, len(WORKED))
    assert found[0].tolist() == [word for *_, word in WORKED]


@given(
    st.floats(-10, 10), st.floats(0.01, 5), st.floats(0.3, 1.0), st.one_of(st.none(), st.floats(0.01, 10))
)  # fmt: skip
def test_a_gain_named_the_other_way_round_is_a_loss(centre, half, inner, smallest):
    low, high = centre - half, centre + half
    inner_low, inner_high = centre - inner * half, centre + inner * half
    turned = {REAL_GAIN: REAL_LOSS, REAL_LOSS: REAL_GAIN}
    there = verdict(low, high, inner_low, inner_high, smallest)
    back = verdict(-high, -low, -inner_high, -inner_low, smallest)
    assert back == turned.get(there, there)
