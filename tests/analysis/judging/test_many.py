"""Many outcomes at once give what each gives by itself."""

import numpy as np
import pytest

import doe
from doe.analysis.judging import family
from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.family import family_risks, many_family_risks
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.errors import InputError

OIL = np.repeat(["a", "b", "a", "c", "b", "a", "c", "b"], 3)
FIT = np.repeat(np.arange(8), 3)
VACUUM = np.tile(["off", "on", "off"], 8)
MINUTE = np.arange(24) * 4.0 + FIT * 20
STUDY = {"pull_sd": 0.9, "pull_df": 9, "install_sd": 0.6, "install_df": 4}
DESIGN = {
    "change": {"oil": OIL, "vacuum": VACUUM},
    "baseline": {"oil": "a", "vacuum": "off"},
    "install": {"oil": FIT},
    "minute": MINUTE,
}


def outcomes(days, seed=5):
    rng = np.random.default_rng(seed)
    return 430 + rng.normal(0, 1, (days, 24)) + 0.5 * rng.normal(0, 1, (days, 8))[:, FIT]


@pytest.mark.parametrize("noise", [None, STUDY, {**STUDY, "wander_sd": 0.4}, {"pull_sd": 1.0, "pull_df": 6}])
@pytest.mark.parametrize("method", ["auto", "kenward-roger"])
def test_each_outcome_is_judged_as_by_itself(noise, method):
    y = outcomes(3)
    many = doe.judge_many(y, **DESIGN, noise=noise, method=method)
    for day, values in enumerate(y):
        table = {"y": values, "oil": OIL, "vacuum": VACUUM, "fit": FIT, "t": MINUTE}
        one = doe.judge(table, value="y", change=["oil", "vacuum"], baseline=["a", "off"], install="fit", time="t",
                        noise=noise, method=method, checks=False)  # fmt: skip
        assert many.levels == tuple(c.level for c in one.changes)
        for i, row in enumerate(one.changes):
            assert many.routes[i] == row.route
            for key in ("gain", "se", "df", "low", "high"):
                assert getattr(many, key)[day, i] == pytest.approx(getattr(row, key), rel=1e-7), key
            for key in ("family_low", "family_high", "inner_low", "inner_high"):
                assert getattr(many, key)[day, i] == pytest.approx(getattr(row, key), abs=1e-3 * row.se), key


@pytest.mark.parametrize(
    ("noise", "install"),
    [
        ({"wander_sd": 0.0}, DESIGN["install"]),
        ({**STUDY, "wander_sd": 0.0}, DESIGN["install"]),
        (None, None),
        ({**STUDY, "pull_df": np.tile([2.0, 40.0], 20)}, DESIGN["install"]),
    ],
    ids=["no study", "study", "all quick, insured", "refit and wander, insured"],
)
def test_the_quick_critical_value_is_within_a_thousandth(monkeypatch, noise, install):
    monkeypatch.setattr(family, "_MANY", 20)  # so that the table is asked where it can be
    trial = design_trial(DESIGN["change"], DESIGN["baseline"], install, DESIGN["minute"])
    found = estimate(trial, outcomes(40), KnownNoise.of(noise))
    exact, table = family_risks(found, 0.95), many_family_risks(found, 0.95)
    for a, b in zip(exact, table, strict=True):
        assert found.half_width(b) / np.nanmax(found.se, axis=2) == pytest.approx(
            found.half_width(a) / np.nanmax(found.se, axis=2), abs=1e-3
        )


@pytest.mark.parametrize("noise", [STUDY, None], ids=["insured", "longer of two"])
def test_questions_at_levels_of_their_own_take_each_from_the_family_at_its_level(monkeypatch, noise):
    """The ledger has less risk for the oil 'b', which was judged before."""
    monkeypatch.setattr(family, "_MANY", 2)
    trial = design_trial(DESIGN["change"], DESIGN["baseline"], DESIGN["install"], DESIGN["minute"])
    found = estimate(trial, outcomes(2), KnownNoise.of(noise))
    levels = np.array([0.975, 0.95, 0.95])
    for solve in (family_risks, many_family_risks):
        mixed = solve(found, levels)
        for change, level in enumerate(levels):
            for own, whole in zip(mixed, solve(found, level), strict=True):
                assert own[:, change] == pytest.approx(whole[:, change], abs=0, nan_ok=True)
    half = found.half_width(family_risks(found, levels)[0])
    assert (half >= found.half_width(family_risks(found, 0.95)[0])).all()


def test_a_study_of_its_own_for_each_outcome():
    y = outcomes(4)
    sds = np.array([0.3, 0.6, 0.9, 1.2])
    many = doe.judge_many(y, **DESIGN, noise={**STUDY, "install_sd": sds})
    for day, sd in enumerate(sds):
        one = doe.judge_many(y[day], **DESIGN, noise={**STUDY, "install_sd": sd})
        assert many.se[day] == pytest.approx(one.se[0], rel=1e-9)


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(InputError, match="24"):
        doe.judge_many(np.zeros((2, 23)), **DESIGN)
    with pytest.raises(InputError, match="'oil': no pull has the baseline 'z'"):
        doe.judge_many(outcomes(1), **{**DESIGN, "baseline": {"oil": "z", "vacuum": "off"}})


@pytest.mark.parametrize("noise", [None, STUDY, {**STUDY, "wander_sd": 0.4}])
def test_variances_of_nearly_the_same_pulls_are_a_start_and_no_more(noise):
    """What each pull's removal does is the same whether the search starts from the whole day's variances or not."""
    trial = design_trial(DESIGN["change"], DESIGN["baseline"], DESIGN["install"], DESIGN["minute"])
    known, values = KnownNoise.of(noise), outcomes(1)
    whole = estimate(trial, values, known)
    for gone in range(0, 24, 5):
        rest = np.delete(np.arange(24), gone)
        afresh, near = (estimate(trial.take(rest), values[:, rest], known, near=start) for start in (None, whole))
        assert near.gain == pytest.approx(afresh.gain, abs=1e-8 * np.nanmin(afresh.se))
        assert near.se == pytest.approx(afresh.se, rel=1e-8, nan_ok=True)
        assert near.df == pytest.approx(afresh.df, rel=1e-6, nan_ok=True)
