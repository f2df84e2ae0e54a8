"""The formulas of an audit against published values, closed forms and second routes."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from doe.claims.evidence.design_analysis import design_analysis
from doe.claims.evidence.order_statistics import best_of
from doe.claims.evidence.prior import ceiling, chance_real, two_groups

DESIGNS = json.loads((Path(__file__).parents[2] / "reference" / "design_analysis.json").read_text())["cases"]


def test_the_best_of_few_in_closed_form():
    # Source: David & Nagaraja (2003), Order Statistics, sec. 3.2 (from memory); e3 and v3 re-derived by integration.
    assert best_of(1) == (0.0, 1.0)
    assert best_of(2) == pytest.approx((1 / math.sqrt(math.pi), 1 - 1 / math.pi), rel=1e-10)
    variance = 1 + math.sqrt(3) / (2 * math.pi) - 9 / (4 * math.pi)
    assert best_of(3) == pytest.approx((1.5 / math.sqrt(math.pi), variance), rel=1e-10)


@pytest.mark.parametrize(
    ("pulls", "mean"),
    [(2, 0.56419), (3, 0.84628), (4, 1.02938), (5, 1.16296), (6, 1.26721), (8, 1.42360), (10, 1.53875), (20, 1.86748)],
)
def test_the_best_of_n_as_tabled(pulls, mean):
    # Source: Harter (1961), Biometrika 48, 151-165, table 1, five decimals (from memory); 2 to 6 also in the
    # project's method; 8, 10, 20 confirmed by the simulation below.
    assert best_of(pulls)[0] == pytest.approx(mean, abs=6e-6)


@pytest.mark.parametrize("pulls", [2, 5, 8, 20])
def test_the_best_of_n_simulated(pulls):
    best = np.random.default_rng(5).standard_normal((200_000, pulls)).max(axis=1)
    mean, variance = best_of(pulls)
    assert best.mean() == pytest.approx(mean, abs=4 * math.sqrt(variance / len(best)))
    assert best.var() == pytest.approx(variance, rel=0.03)  # 4 SEs of a variance of a mildly skew variable


@pytest.mark.parametrize(
    ("gain", "se", "power", "wrong", "times", "digits"),
    [(2.0, 8.1, 0.06, 0.24, 9.7, 0.2), (0.1, 3.28, 0.05, 0.46, 77, 1.0)],
)
def test_gelman_and_carlin(gain, se, power, wrong, times, digits):
    # Source: Gelman & Carlin (2014), Perspectives on Psychological Science 9, 641-651: the menstrual-cycle example
    # (2, 8.1) and the sex-ratio example (0.1, 3.28), from memory. Their factors were simulated (10,000 draws), so 9.7
    # and 77 carry a Monte-Carlo error; the closed form is 9.54 and 76.7, see the next test.
    found = design_analysis(gain, se)
    assert found.power == pytest.approx(power, abs=0.005)
    assert found.wrong_sign == pytest.approx(wrong, abs=0.005)
    assert found.exaggeration == pytest.approx(times, abs=digits)


@pytest.mark.parametrize(("gain", "se"), [(2.0, 8.1), (1.0, 3.3), (3.0, 1.5)])
def test_design_analysis_by_integration(gain, se):
    # Second route: the integrals of the definitions, one by one.
    def integral(of, low, high):
        return integrate.quad(lambda x: of(x) * stats.norm.pdf(x, gain, se), low, high, epsabs=1e-13)[0]

    edge, far = stats.norm.isf(0.025) * se, 40 * se
    right, wrong = integral(lambda x: 1.0, edge, far), integral(lambda x: 1.0, -far, -edge)
    size = integral(abs, edge, far) + integral(abs, -far, -edge)
    found = design_analysis(gain, se)
    assert found.power == pytest.approx(right + wrong, rel=1e-8)
    assert found.wrong_sign == pytest.approx(wrong / (right + wrong), rel=1e-7)
    assert found.exaggeration == pytest.approx(size / (right + wrong) / gain, rel=1e-8)


def test_design_analysis_on_few_degrees_of_freedom():
    # Source: design_analysis.json, made by R from design_analysis.R: pt() with a noncentrality, and integrate(). R's
    # pt() is good to 1e-12 of 1, so that a share of wrong signs of 1e-9 has no digits.
    for case in DESIGNS:
        found = design_analysis(case["ratio"] * 2.5, 2.5, case["df"])
        assert found.power == pytest.approx(case["power"], rel=1e-10)
        assert found.wrong_sign == pytest.approx(case["wrong_sign"], rel=1e-8, abs=1e-10)
        assert found.exaggeration == pytest.approx(case["exaggeration"], rel=1e-8)
        # Second route: scipy's noncentral t.
        edge = stats.t.isf(0.025, case["df"])
        both = stats.nct.sf(edge, case["df"], case["ratio"]) + stats.nct.sf(edge, case["df"], -case["ratio"])
        assert found.power == pytest.approx(both, rel=1e-8)


@given(gain=st.floats(0.01, 50), se=st.floats(0.05, 20), df=st.floats(0.5, 1e9) | st.just(math.inf))
def test_design_analysis_is_sane(gain, se, df):
    found = design_analysis(gain, se, df)
    assert 0.049 < found.power <= 1 + 1e-12
    assert 0 <= found.wrong_sign <= 0.5
    assert found.exaggeration >= 1 - 1e-9


@settings(max_examples=30)
@given(gain=st.floats(-8, 8), se=st.floats(0.1, 5), typical=st.floats(0.1, 10))
def test_two_groups_with_normal_noise_in_closed_form(gain, se, typical):
    # Source: conjugate normal: Bayes factor N(x; 0, s^2 + t^2)/N(x; 0, s^2); posterior mean x t^2/(s^2 + t^2).
    total = math.hypot(se, typical)
    log_factor, positive = two_groups(gain, se, math.inf, typical)
    expected = stats.norm.logpdf(gain, scale=total) - stats.norm.logpdf(gain, scale=se)
    assert log_factor == pytest.approx(expected, abs=2e-5)
    share = stats.norm.cdf(gain * typical / (se * total))
    assert positive == pytest.approx(share, abs=2e-5)


@pytest.mark.parametrize(
    ("gain", "se", "df", "typical"), [(3.0, 1.2, 4.0, 2.0), (0.4, 1.0, 2.0, 0.5), (9.0, 1.0, 6.0, 3.0)]
)
def test_two_groups_with_t_noise_by_adaptive_quadrature(gain, se, df, typical):
    def over(low, high):
        points = [p for p in (0.0, gain) if low < p < high]
        density = lambda g: stats.norm.pdf(g, scale=typical) * stats.t.pdf((gain - g) / se, df)  # noqa: E731
        return integrate.quad(density, low, high, points=points, limit=400, epsabs=1e-13)[0]

    below, above = over(-60 * typical, 0.0), over(0.0, 60 * typical)
    log_factor, positive = two_groups(gain, se, df, typical)
    assert math.exp(log_factor) == pytest.approx((below + above) / stats.t.pdf(gain / se, df), rel=1e-5)
    assert positive == pytest.approx(above / (below + above), abs=1e-5)


def test_two_groups_far_out_do_not_overflow():
    assert two_groups(1000.0, 1.0, math.inf, 1.0) == pytest.approx((249_999.65, 1.0), rel=1e-5)
    found = chance_real(500.0, 1.0, math.inf, 0.0, typical_gain=5.0, chance_of_nothing=0.5, sign=1.0)
    assert (found.real, found.ceiling) == (1.0, 1.0)


@pytest.mark.parametrize(("p", "lowest"), [(0.1, 0.385), (0.05, 0.289), (0.01, 0.111), (0.005, 0.067), (0.001, 0.0184)])
def test_the_ceiling_as_published(p, lowest):
    # Source: Sellke, Bayarri & Berger (2001), table 1, lowest chance of "nothing" at even odds (from memory;
    # re-derived by hand from -e p ln p: 0.05 gives 0.407, 0.407/1.407 = 0.289).
    assert 1 - ceiling(p, 0.5) == pytest.approx(lowest, abs=6e-4)


def test_no_ceiling_for_a_large_p():
    assert ceiling(0.37, 0.5) is None
    assert ceiling(1.0, 0.5) is None
    assert ceiling(0.36, 0.5) == pytest.approx(0.5, abs=1e-3)  # at 1/e the bound is the chance before


@settings(max_examples=40)
@given(z=st.floats(1.0, 6.0), typical=st.floats(0.1, 20))
def test_no_typical_gain_beats_the_ceiling_by_much(z, typical):
    # The bound holds for normal noise and any N(0, t^2), to within what it neglects below p = 1/e.
    p = 2 * stats.norm.sf(z)
    found = chance_real(z, 1.0, math.inf, p, typical_gain=typical, chance_of_nothing=0.5, sign=1.0)
    if found.ceiling is not None:
        anything = found.bayes_factor / (1 + found.bayes_factor)
        assert anything <= found.ceiling + 1e-4


@settings(max_examples=40)
@given(gain=st.floats(-20, 20), se=st.floats(0.2, 5), nothing=st.floats(0.05, 0.95))
def test_the_chance_lies_in_its_range_and_both_signs_share_it(gain, se, nothing):
    p = 2 * stats.norm.sf(abs(gain) / se)
    up, down = (
        chance_real(gain, se, math.inf, p, typical_gain=3.0, chance_of_nothing=nothing, sign=sign)
        for sign in (1.0, -1.0)
    )
    for found in (up, down):
        assert found.real_min <= found.real <= found.real_max
    assert up.real + down.real <= 1.0
    posterior = 1 / (1 + nothing / (1 - nothing) / up.bayes_factor)
    assert up.real + down.real == pytest.approx(posterior, abs=1e-9)
