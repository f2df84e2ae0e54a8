"""Weights, variances and intervals of a claim by hand, by identity and by simulation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.claims.evidence.interval import (
    Sensitivity,
    correlations,
    evidence,
    layout,
    needed_pull_sd,
    sensitivity,
    standing_pull_sd,
    weights,
)
from doe.claims.reading.schema import Claim, ClaimsFile, NoiseTable


def claim(start, end, **more):
    return {"name": "c", "about": ["part"], "from": start, "to": end, **more}


def there_and_back(**noise):
    steps = [
        {"name": "a", "pulls": 2, "shown": "mean", "value": 400},
        {"name": "b", "pulls": 4, "shown": "mean", "value": 406, "changed": ["part"], "refit": True},
        {"name": "a2", "pulls": 2, "shown": "mean", "value": 402, "changed": ["part"], "refit": True},
    ]
    return ClaimsFile.model_validate({"noise": noise, "step": steps, "claim": [claim(["a", "a2"], ["b"])]})


def test_weights_and_variance_by_hand():
    # Source: by hand. Weights -1/2, 1, -1/2: pulls (1/4)/2 + 1/4 + (1/4)/2 = 1/2; installs 1/4 + 1 + 1/4 = 3/2; the
    # gaps carry -1/2 and +1/2, 1/4 + 1/4 = 1/2.
    file = there_and_back()
    assert weights(file, file.claim[0]) == pytest.approx([-0.5, 1.0, -0.5])
    assert sensitivity(file, file.claim[0]) == Sensitivity(0.0, 0.5, 1.5, 0.5)


def test_a_steady_drift_cancels_there_and_back_and_a_shift_always():
    file = there_and_back()
    w = weights(file, file.claim[0])
    assert w @ [1.0, 1.0, 1.0] == pytest.approx(0, abs=1e-12)
    assert w @ [0.0, 1.0, 2.0] == pytest.approx(0, abs=1e-12)


def test_satterthwaite_by_hand():
    # Source: by hand. Parts 0.5 x 4 = 2 on 10 df and 1.5 x 1 = 1.5 on 3 df: 3.5^2/(4/10 + 2.25/3) = 12.25/1.15.
    noise = NoiseTable(pull_sd=2.0, pull_df=10.0, install_sd=1.0, install_df=3.0)
    found = evidence(5.0, Sensitivity(0.0, 0.5, 1.5, 0.5), noise)
    assert found.df == pytest.approx(12.25 / 1.15)
    assert found.se == pytest.approx(math.sqrt(3.5))
    assert evidence(5.0, Sensitivity(0.0, 0.5, 1.5, 0.5), NoiseTable(pull_sd=2.0)).df == math.inf


def test_without_a_pull_sd_there_is_no_evidence():
    assert evidence(5.0, Sensitivity(0.0, 0.5, 1.5, 0.5), NoiseTable(install_sd=1.0)) is None
    assert correlations(there_and_back(), NoiseTable()) is None


def test_the_variance_of_a_stacked_test_simulated():
    # Every kind of noise drawn as the words say it; one million tests; bound: 5 SEs of a variance.
    steps = [
        {"name": "s0", "pulls": 3, "shown": "best"},
        {"name": "s1", "pulls": 2, "shown": "mean", "refit": True},
        {"name": "s2", "pulls": 5, "shown": "best"},
        {"name": "s3", "pulls": 4, "shown": "last", "refit": True},
        {"name": "s4"},
    ]
    file = ClaimsFile.model_validate({"step": steps, "claim": [claim(["s0", "s2"], ["s1", "s4"])]})
    random, tests = np.random.default_rng(3), 1_000_000
    installs = random.normal(0, 0.8, (3, tests))[[0, 1, 1, 2, 2]]
    drift = np.vstack([np.zeros(tests), random.normal(0, 0.4, (4, tests)).cumsum(axis=0)])
    pulls = np.stack(
        [
            random.normal(0, 1.3, (3, tests)).max(axis=0),
            random.normal(0, 1.3, (2, tests)).mean(axis=0),
            random.normal(0, 1.3, (5, tests)).max(axis=0),
            random.normal(0, 1.3, tests),
            random.normal(0, 1.3, tests),
        ]
    )
    made = weights(file, file.claim[0]) @ (installs + drift + pulls)
    found = evidence(0.0, sensitivity(file, file.claim[0]), NoiseTable(pull_sd=1.3, install_sd=0.8, drift_sd=0.4))
    assert made.mean() == pytest.approx(found.bias, abs=5 * found.se / 1000)
    assert made.var() == pytest.approx(found.se**2, rel=5 * math.sqrt(2) / 1000)


def test_the_noise_of_steps_is_a_covariance():
    shared = layout(there_and_back())
    for part in (shared.pull, shared.install, shared.drift):
        assert np.linalg.eigvalsh(part).min() >= -1e-12


@given(
    gain=st.floats(-50, 50),
    pull=st.floats(0.05, 3),
    install=st.floats(0, 3),
    bias=st.floats(-1.5, 1.5),
    install_sd=st.floats(0, 5),
    df=st.sampled_from([(None, None), (2.0, None), (4.0, 3.0), (None, 2.0)]),
)
def test_at_the_standing_pull_sd_the_interval_touches_zero(gain, pull, install, bias, install_sd, df):
    reach = Sensitivity(bias, pull, install, 0.0)
    noise = NoiseTable(install_sd=install_sd, pull_df=df[0], install_df=df[1])
    found = standing_pull_sd(gain, reach, noise)
    if found is None:
        assert needed_pull_sd(gain, reach, noise) is None or (df[1] is not None and install_sd)
    elif found == math.inf:
        assert bias * gain < 0
    elif found > 1e-6:
        at = evidence(gain, reach, noise.model_copy(update={"pull_sd": found}))
        low, high = at.interval()
        assert min(abs(low), abs(high)) == pytest.approx(0, abs=1e-6 * max(1.0, abs(gain), found))
        wider = evidence(gain, reach, noise.model_copy(update={"pull_sd": 1.01 * found})).interval()
        assert wider[0] <= 0 <= wider[1]
    if bias == 0 and df == (None, None):
        assert found == needed_pull_sd(gain, reach, noise) or found == pytest.approx(
            needed_pull_sd(gain, reach, noise), rel=1e-9, abs=1e-12
        )


def test_few_degrees_of_freedom_want_better_pulls():
    # Source: by hand, quantiles of R 4 (qt); its uniroot gives the same. Two means of three pulls: C = 2/3;
    # qt(.975, 4) = 2.776445, so 4 hp stand up to s = 4 / (2.776445 sqrt(2/3)) = 1.764479. Known exactly it would be
    # 4 / (1.959964 sqrt(2/3)) = 2.499525.
    reach = Sensitivity(0.0, 2 / 3, 0.0, 0.0)
    assert standing_pull_sd(4.0, reach, NoiseTable(pull_sd=1.0, pull_df=4)) == pytest.approx(1.764479, rel=1e-6)
    assert standing_pull_sd(-4.0, reach, NoiseTable(pull_sd=1.0)) == pytest.approx(2.499525, rel=1e-6)
    # Refit scatter of 0.5 hp on 3 df, once a side: R = 0.5. At s = 1.5: Var = 1.5 + 0.5 = 2, df = 2^2 / (1.5^2/4 +
    # 0.5^2/3) = 6.193548; qt(.975, 6.193548) = 2.428495, so a gain of 2.428495 sqrt(2) = 3.434411 just stands there.
    both = Sensitivity(0.0, 2 / 3, 2.0, 0.0)
    noise = NoiseTable(pull_sd=1.0, pull_df=4, install_sd=0.5, install_df=3)
    assert standing_pull_sd(3.434411, both, noise) == pytest.approx(1.5, rel=1e-5)


@given(gain=st.floats(0.01, 50), sd=st.floats(0.01, 20), unit=st.floats(0.1, 100))
def test_another_unit_changes_no_judgement(gain, sd, unit):
    reach = Sensitivity(0.3, 0.8, 1.0, 0.0)
    one = evidence(gain, reach, NoiseTable(pull_sd=sd, install_sd=sd / 2))
    other = evidence(gain * unit, reach, NoiseTable(pull_sd=sd * unit, install_sd=sd * unit / 2))
    assert one.p_noise == pytest.approx(other.p_noise, rel=1e-6, abs=1e-12)
    assert one.drift_to_undo * unit == pytest.approx(other.drift_to_undo, rel=1e-6, abs=1e-9)


def test_turning_a_claim_round_turns_its_sign():
    file = there_and_back(pull_sd=1.0)
    back = Claim.model_validate(claim(["b"], ["a", "a2"]))
    assert weights(file, back) == pytest.approx(-weights(file, file.claim[0]))
    assert sensitivity(file, back) == sensitivity(file, file.claim[0])


def test_neighbouring_claims_share_a_step():
    """Source: by hand, for a, b, a2 of 2, 4, 2 pulls and the claims a to b, b to a2.

    Pulls: variances 1/2 + 1/4 each, together -1/4; fittings: 2 each, together -1; drift: 1 each, together 0.
    """
    ends = ((["a"], ["b"]), (["b"], ["a2"]))
    file = there_and_back().model_copy(update={"claim": tuple(Claim.model_validate(claim(*pair)) for pair in ends)})
    for (pull, install, drift), expected in {
        (2.0, None, None): -1 / 3,
        (2.0, 3.0, None): -(4 / 4 + 9) / (4 * 3 / 4 + 9 * 2),
        (2.0, 3.0, 5.0): -(4 / 4 + 9) / (4 * 3 / 4 + 9 * 2 + 25),
    }.items():
        found = correlations(file, NoiseTable(pull_sd=pull, install_sd=install, drift_sd=drift))
        assert found == pytest.approx(np.array([[1.0, expected], [expected, 1.0]]))


def test_the_drift_that_would_undo_a_gain_by_hand():
    # Source: by hand. SE 1, no df: 5 - 1.960; adjusted by a bias of 0.4 first; nothing to undo in a gain of 1.
    reach = Sensitivity(0.4, 1.0, 0.0, 0.0)
    found = [evidence(gain, reach, NoiseTable(pull_sd=1.0)).drift_to_undo for gain in (5.4, -4.6, 1.0, 0.4)]
    assert found == pytest.approx([3.040, 3.040, 0.0, 0.0], abs=1e-3)
    assert evidence(2.36, reach, NoiseTable(pull_sd=1.0)).p_noise == pytest.approx(0.05, abs=1e-4)


def test_the_pull_sd_that_is_needed_by_hand():
    # Source: by hand. 1.96 sqrt(s^2/2 + 3/2) = 3.92 at s^2 = 5; with fittings that alone reach 3.92 none will do.
    reach = Sensitivity(0.0, 0.5, 1.5, 0.0)
    assert needed_pull_sd(3.92, reach, NoiseTable(install_sd=1.0)) == pytest.approx(math.sqrt(5), abs=1e-3)
    assert needed_pull_sd(3.92, reach, NoiseTable(install_sd=1.7)) is None
    # A walk of the engine takes its share: 1.96 sqrt(s^2/2 + 3/2 + 1/2) = 3.92 at s^2 = 4, whatever the unit.
    walking = Sensitivity(0.0, 0.5, 1.5, 0.5)
    for unit in (1.0, 0.01):
        noise = NoiseTable(install_sd=unit, drift_sd=unit)
        assert needed_pull_sd(3.92 * unit, walking, noise) == pytest.approx(2 * unit, rel=1e-3)
        assert standing_pull_sd(3.92 * unit, walking, noise) == pytest.approx(2 * unit, rel=1e-3)
        assert standing_pull_sd(3.92 * unit, walking, NoiseTable(install_sd=1.7 * unit)) is None


def test_what_cancels_is_nothing_not_a_rounding():
    """Fractions of one fitting that add up to 0 leave 1e-17, which a large SD would blow up."""
    steps = [{"name": f"s{at}", "pulls": 1, "shown": "mean", "value": 400} for at in range(10)]
    names = [step["name"] for step in steps]
    file = ClaimsFile.model_validate({"step": steps, "claim": [claim(names[:7], names[7:])]})
    w = weights(file, file.claim[0])
    assert w @ layout(file).install @ w != 0.0
    assert sensitivity(file, file.claim[0]).install == 0.0
