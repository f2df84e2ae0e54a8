"""What means of later pulls can be trusted to: by hand, and at the ends of what is known."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.analysis.scatter.components import InstallScatter
from doe.analysis.scatter.trusted import trusted


def refit(sd, df):
    return InstallScatter(sd, df, 0.0, 9.0, sd**2)


def test_limits_by_hand():
    # Source: by hand. t(0.975; 14) = 2.1448: 4 pulls of SD 0.5 have a mean known to 2.1448 x 0.5/2 = 0.5362, two such
    # means to sqrt(2) times that, 0.7583.
    found = trusted(0.5, 14, None, 4)
    assert (round(found.mean, 4), round(found.two_means, 4), found.refitted) == (0.5362, 0.7583, None)


def test_a_refit_between_by_hand():
    # Source: by hand. One pull, both SDs 1 on 4 and 12 df: df = (1 + 1)^2/(1/4 + 1/12) = 12, t = 2.1788, so
    # 2.1788 x sqrt(2 x 2) = 4.3576.
    assert trusted(1.0, 12, refit(1.0, 4.0), 1).refitted == pytest.approx(4.3576, abs=1e-4)


def test_what_is_known_for_certain_is_the_normal_s():
    found = trusted(1.0, 1e7, refit(0.5, 1e7), 3)
    assert found.refitted == pytest.approx(1.959964 * math.sqrt(2 * (0.25 + 1 / 3)), rel=1e-5)


@given(st.floats(0.1, 5), st.integers(2, 60), st.floats(0.05, 5), st.floats(1, 12))
def test_more_pulls_never_know_less(sd, df, install, install_df):
    limits = [trusted(sd, df, refit(install, install_df), n) for n in (1, 2, 4, 8)]
    for one, more in pairwise(limits):
        assert more.mean < one.mean
        assert more.refitted <= one.refitted
    assert all(limit.refitted >= limit.two_means for limit in limits)
