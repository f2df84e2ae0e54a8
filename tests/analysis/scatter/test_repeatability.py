"""The noise study against R, NIST's certified values and simulation."""

import importlib.util
import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import doe
from doe.analysis.scatter.components import install_sd_interval, sd_interval
from doe.analysis.scatter.metric_noise import study
from doe.analysis.scatter.noise_checks import lag1, residuals
from doe.analysis.scatter.repeatability import noise
from doe.analysis.trials.clash import SumsOfSquares, sums_of_squares
from doe.analysis.trials.trial import Trial
from doe.errors import DoeError, InputError

REFERENCE = Path(__file__).parents[2] / "reference"
SETS = json.loads((REFERENCE / "noise_sets.json").read_text())
PUBLISHED = json.loads((REFERENCE / "published.json").read_text())


def check(found, expected):
    """What R's analysis of variance gives, to nine digits."""
    close = {"rel": 1e-9, "abs": 1e-12}
    assert (found.pulls, found.pull_df) == (expected["n"], expected["pull_df"])
    assert found.mean == pytest.approx(expected["mean"], **close)
    assert found.pull_sd == pytest.approx(expected["pull_sd"], **close)
    assert [found.scatter.pull_sd_low, found.scatter.pull_sd_high] == pytest.approx(
        expected["pull_sd_interval"], **close
    )
    assert found.repeatability_limit == pytest.approx(expected["repeatability_limit"], rel=1e-8)
    if "install_study_sd" not in expected:
        assert found.install is None
        return
    assert found.install.variance == pytest.approx(expected["install_variance_anova"], rel=1e-8)
    assert found.install.sd == pytest.approx(expected["install_study_sd"], **close)
    assert found.install.df == pytest.approx(expected["install_study_df"], **close)
    interval = expected["install_sd_interval_generalised"]
    assert [found.install.low, found.install.high] == pytest.approx(interval, rel=1e-7)


@pytest.mark.parametrize("case", SETS["one_way"], ids=lambda case: case["name"])
def test_published_repeatability_sets(case):
    # Source: Rail (Pinheiro & Bates 2000), Dyestuff and Dyestuff2 (Davies & Goldsmith 1972; Box & Tiao 1973),
    # Michelson's speed of light, gravity: by R, tests/reference/noise_sets.R.
    check(noise({"y": case["y"], "install": case["install"]}, value="y", install="install")["y"], case)


@pytest.mark.parametrize("case", SETS["studies"], ids=lambda case: case["name"])
def test_invented_studies_with_drift_and_days(case):
    # Source: R 4.2.2 with lme4 and pbkrtest, tests/reference/noise_sets.R; invented readings, no real engine.
    columns = case["columns"]
    found = noise(columns, value="y", install="install", time="minute", day="day" if "day" in columns else None)["y"]
    check(found, case)
    drift = case["drift"]
    assert found.drift.per_hour == pytest.approx(drift["per_hour"], rel=1e-5)
    assert found.drift.se == pytest.approx(drift["se"], rel=1e-5)
    assert found.drift.df == pytest.approx(drift["df"], rel=1e-4)
    assert found.drift.p == pytest.approx(drift["p"], rel=1e-4)
    assert (found.drift.p < 0.05) == (found.drift.low * found.drift.high > 0)  # one interval, one test


def test_the_published_digits_of_rail():
    # Source: Pinheiro & Bates (2000), ch. 1, prints 24.805 and 4.0208.
    rail = next(case for case in SETS["one_way"] if case["name"] == "Rail")
    found = noise({"y": rail["y"], "rail": rail["install"]}, value="y", install="rail")["y"]
    assert (round(found.install.sd, 3), round(found.pull_sd, 4)) == (24.805, 4.0208)


@pytest.mark.parametrize("name", ["Rail", "Dyestuff", "morley", "gravity"])
def test_days_that_differ_are_reml_s_groups(name):
    # Source: REML of the same sets in R (noise_sets.json), with the group taken as the day.
    case = next(case for case in SETS["one_way"] if case["name"] == name)
    found = noise({"y": case["y"], "day": case["install"]}, value="y", day="day")["y"]
    assert found.install is None
    assert found.day_sd == pytest.approx(case["reml"]["install_sd"], rel=1e-5)


def test_days_that_differ_in_scatter_are_said():
    # Source: Bartlett's test of boot::gravity in R (noise_sets.json): p = 3.4e-9, SDs from 19.2 down to 3.4. Ours has
    # the statistic's exact moments where R has its correction to first order: 4 % of p on these 7 to 12 df.
    case = next(case for case in SETS["one_way"] if case["name"] == "gravity")
    found = noise({"y": case["y"], "day": case["install"]}, value="y", day="day")
    apart = found["y"].days_apart
    assert apart.p == pytest.approx(case["bartlett_p"], rel=0.05)
    assert [day.pull_sd for day in apart.days] == pytest.approx(case["series_sd"], rel=1e-9)
    assert any("the days differ in their pull scatter" in warning for warning in found.warnings)
    same = noise({"y": [1.0, 2.0, 4.0, 2.0, 3.0, 5.0], "day": [1, 1, 1, 2, 2, 2]}, value="y", day="day")
    assert same["y"].days_apart.p == pytest.approx(1.0)
    assert not any("differ in their pull scatter" in warning for warning in same.warnings)


def test_lawson_s_gauge_study_has_no_negative_scatter():
    # Source: Lawson (2015), gauge study, 10 parts x 3 operators x 2: the operators' variance is estimated below 0.
    gauge = next(case for case in SETS["crossed"] if case["name"] == "gauge")
    values = np.array(gauge["y"])
    part, operator = np.array(gauge["part"]), np.array(gauge["operator"])
    n = len(values)
    both = part * 10 + operator
    parts = (part[:, None] == np.unique(part)[None, 1:]).astype(float)
    inner = Trial(("part",) * 9, tuple("bcdefghij"), parts, {"cell": both}, both, None, np.zeros(n, int), "none")
    assert study(inner, values).pull_sd ** 2 == pytest.approx(gauge["ms"]["error"], rel=1e-9)
    # parts taken out as fixed effects; operators between the rest
    outer = Trial(("part",) * 9, tuple("bcdefghij"), parts, {"op": operator}, operator, None, np.zeros(n, int), "none")
    found = study(outer, values)
    between = gauge["ms"]["operator"]
    within = (18 * gauge["ms"]["part_operator"] + 30 * gauge["ms"]["error"]) / 48
    assert found.install.variance == pytest.approx((between - within) / 20, rel=1e-8)
    negative = {"y": values, "op": [f"{o}" for o in operator]}
    assert noise(negative, value="y", install="op")["y"].install.variance < 0
    assert noise(negative, value="y", install="op")["y"].install.sd > 0


def nist_file(name):
    """Readings and groups of a file of NIST's one-way collection, as it ships with scipy."""
    folder = Path(importlib.util.find_spec("scipy").origin).parent / "stats/tests/data/nist_anova"
    if not (folder / name).exists():
        pytest.skip("this scipy is installed without its test data")
    rows = np.loadtxt(folder / name, skiprows=60)
    return rows[:, 0].astype(int), rows[:, 1]


def one_way(groups):
    """Groups without changes, drift or days."""
    return Trial((), (), np.zeros((len(groups), 0)), {"g": groups}, groups, None, groups * 0, "none")


@pytest.mark.parametrize(
    ("name", "rel"),
    [("SiRstv", 1e-9), ("AtmWtAg", 1e-7), ("SmLs01", 1e-9), ("SmLs02", 1e-9), ("SmLs04", 1e-7), ("SmLs05", 1e-7)],
)
def test_nist_certified_one_way_analyses(name, rel):
    # Source: NIST Statistical Reference Datasets, ANOVA, certified mean squares (published.json). AtmWtAg, SmLs04 and
    # SmLs05 have 6 or 7 constant leading digits, which cost the stored readings as many.
    certified = PUBLISHED["nist_anova"]["files"][f"{name}.dat"]
    groups, values = nist_file(f"{name}.dat")
    found = study(one_way(groups), values)
    within, between = float(certified["MS_within"]), float(certified["MS_between"])
    assert found.pull_df == certified["df_within"]
    assert found.pull_sd**2 == pytest.approx(within, rel=rel)
    assert found.install.variance == pytest.approx((between - within) / np.bincount(groups)[1], rel=rel)


@pytest.mark.parametrize(("name", "rel"), [("SmLs03", 1e-9), ("SmLs06", 1e-7)])
def test_nist_certified_files_of_eighteen_thousand_readings(name, rel):
    # Source: as above; 9 treatments of 2,001 readings with 1 and 7 constant leading digits.
    certified = PUBLISHED["nist_anova"]["files"][f"{name}.dat"]
    groups, values = nist_file(f"{name}.dat")
    found = sums_of_squares(one_way(groups), values - values[0])
    assert found.within_df == certified["df_within"]
    assert found.within == pytest.approx(float(certified["SS_within"]), rel=rel)
    assert found.between == pytest.approx(float(certified["SS_between"]), rel=rel)


@pytest.mark.parametrize("name", ["SmLs07", "SmLs08"])
def test_nist_one_way_analyses_with_thirteen_constant_digits(name):
    # Source: as above; the stored readings are 1.2e-4 apart, so the certified values hold to about 1e-4 only. What the
    # stored readings say exactly follows by rational arithmetic.
    groups, values = nist_file(f"{name}.dat")
    found = study(one_way(groups), values)
    within, variance = exact_one_way(groups, values)
    assert found.pull_sd**2 == pytest.approx(within, rel=1e-9)
    assert found.install.variance == pytest.approx(variance, rel=1e-9)
    certified = PUBLISHED["nist_anova"]["files"][f"{name}.dat"]
    assert found.pull_sd**2 == pytest.approx(float(certified["MS_within"]), rel=1e-4)


def test_eighteen_thousand_readings_with_thirteen_constant_digits():
    # Source: rational arithmetic on the readings as they are stored; the certified within mean square to 1e-4.
    groups, values = nist_file("SmLs09.dat")
    found = sums_of_squares(one_way(groups), values - values[0])
    within, variance = exact_one_way(groups, values)
    assert found.within / found.within_df == pytest.approx(within, rel=1e-9)
    assert (found.between / found.between_df - within) / found.pulls_a_fitting == pytest.approx(variance, rel=1e-9)
    certified = PUBLISHED["nist_anova"]["files"]["SmLs09.dat"]
    assert within == pytest.approx(float(certified["MS_within"]), rel=1e-4)


def exact_one_way(groups, values):
    """Mean square within and variance between equal groups, in rational numbers."""
    rows = [[Fraction(v) for v in values[groups == g]] for g in np.unique(groups)]
    size, many = len(rows[0]), len(rows)
    means = [sum(row) / size for row in rows]
    grand = sum(means) / many
    within = sum((v - m) ** 2 for row, m in zip(rows, means, strict=True) for v in row) / (many * (size - 1))
    between = size * sum((m - grand) ** 2 for m in means) / (many - 1)
    return float(within), float((between - within) / size)


def test_the_intervals_cover_what_they_say():
    rng = np.random.default_rng(20)
    installs, pulls, days, sd = 5, 4, 2000, 0.7
    within = rng.normal(0, sd, (days, installs, pulls)).var(axis=2, ddof=1).mean(axis=1)
    limits = np.array([sd_interval(v, installs * (pulls - 1)) for v in within])
    covered = ((limits[:, 0] < sd) & (sd < limits[:, 1])).mean()
    assert abs(covered - 0.95) < 3.3 * (0.95 * 0.05 / days) ** 0.5  # binomial, 3.3 standard errors


@pytest.mark.parametrize("install_sd", [0.3, 1.0])
def test_the_install_interval_covers_what_it_says(install_sd):
    rng = np.random.default_rng(21)
    installs, pulls, days = 5, 4, 1500
    between = (pulls * install_sd**2 + 1) * rng.chisquare(installs - 1, days)
    within = rng.chisquare(installs * (pulls - 1), days)
    limits = np.array(
        [
            install_sd_interval(SumsOfSquares(b, installs - 1, w, installs * (pulls - 1), pulls))
            for b, w in zip(between, within, strict=True)
        ]
    )
    covered = ((limits[:, 0] <= install_sd) & (install_sd <= limits[:, 1])).mean()
    assert abs(covered - 0.95) < 3.3 * (0.95 * 0.05 / days) ** 0.5  # binomial, 3.3 standard errors


def test_the_pull_sd_is_covered_with_drift_days_and_changes():
    rng = np.random.default_rng(8)
    days, hits = 1000, 0
    minute = np.tile(np.arange(16) * 5.0, 2)
    install, day = np.arange(32) // 4, np.arange(32) // 16
    change = (install % 2).astype(float)[:, None]
    trial = Trial(("oil",), ("thin",), change, {"oil": install}, install, minute, day, "linear")
    for _ in range(days):
        values = 200 + rng.normal(0, 0.5, 32) + rng.normal(0, 0.4, 8)[install] + 3 * change[:, 0] - 0.01 * minute
        squares = sums_of_squares(trial, values + 2 * day)
        low, high = sd_interval(squares.within / squares.within_df, squares.within_df)
        hits += low < 0.5 < high
    assert abs(hits / days - 0.95) < 3.3 * (0.95 * 0.05 / days) ** 0.5


def test_gains_days_and_level_don_t_move_the_scatter():
    rng = np.random.default_rng(3)
    columns = {
        "install": np.repeat(np.arange(6), 3), "day": np.repeat([1, 1, 1, 2, 2, 2], 3),
        "oil": np.repeat(list("ababab"), 3), "minute": np.tile(np.arange(9) * 7.0, 2),
    }  # fmt: skip
    y = rng.normal(size=18)
    words = {"value": "y", "change": "oil", "baseline": "a", "install": "install", "day": "day", "time": "minute"}
    plain = noise({**columns, "y": y}, **words)["y"]
    moved = y + 1e6 + 7 * (columns["oil"] == "b") + 50 * (columns["day"] == 2) + 0.2 * columns["minute"]
    shifted = noise({**columns, "y": moved}, **words)["y"]
    assert shifted.pull_sd == pytest.approx(plain.pull_sd, rel=1e-6)
    assert shifted.install.sd == pytest.approx(plain.install.sd, rel=1e-6)
    assert shifted.lag1 == pytest.approx(plain.lag1, abs=1e-5)


def test_neighbours_are_uncorrelated_without_wander_and_correlated_with_it():
    rng = np.random.default_rng(5)
    install = np.arange(20) // 4
    trial = Trial((), (), np.zeros((20, 0)), {"oil": install}, install, np.arange(20) * 4.0, install * 0, "linear")
    white = rng.normal(size=(400, 20))
    kernel = np.exp(-np.abs(np.subtract.outer(np.arange(20), np.arange(20))) / 5)
    wandering = white @ np.linalg.cholesky(kernel).T
    still = np.array([lag1(trial, residuals(trial, y)) for y in white])
    assert abs(still.mean()) < 3.3 * still.std() / 20  # unbiased: 3.3 standard errors
    assert np.mean([lag1(trial, residuals(trial, y)) for y in wandering]) > 3.3 * still.std() / 20


def test_an_outlier_is_named_and_still_counts():
    rng = np.random.default_rng(2)
    y = 205 + rng.normal(0, 0.5, 20)
    y[7] -= 5
    found = doe.noise({"y": y, "fit": np.arange(20) // 4}, value="y", install="fit")
    assert found["y"].outlier_names == (9,)  # the eighth reading stands in row 9 of the sheet
    assert found["y"].pulls == 20
    assert "Row 9 lies" in found.to_text(details=True)
    assert found.to_dict()["metrics"]["y"]["outliers"] == [9]


def test_few_fittings_and_none_are_said():
    y = [1.0, 1.2, 1.1, 1.4, 0.9, 1.3]
    few = noise({"y": y, "fit": [1, 1, 2, 2, 3, 3]}, value="y", install="fit")
    assert any("only 3 fittings" in warning for warning in few.warnings)
    none = noise({"y": y}, value="y")
    assert none["y"].install is None
    assert any("nothing is known of the refit scatter" in warning for warning in none.warnings)
    assert none.to_dict()["metrics"]["y"]["install_sd"] is None


def test_what_can_t_be_studied_is_refused_in_words():
    with pytest.raises(DoeError, match="two or three more pulls in one fitting"):
        noise({"y": [1.0, 2.0], "fit": [1, 2]}, value="y", install="fit")
    assert noise({"y": [1.0, 2.0, 1.5, 1.2], "fit": [1, 2, 1, 2]}, value="y", install="fit")["y"].pull_df == 2
    with pytest.raises(InputError, match="every row fitted on its own"):
        noise({"y": [1.0, 2.0, 3.0]}, value="y", install="each")
    with pytest.raises(InputError, match="no column 'z'"):
        noise({"y": [1.0, 2.0]}, value="z")


def test_fittings_that_differ_without_any_scatter_inside_them():
    found = noise({"y": [0.1, 0.1, 0.3, 0.3, 0.2, 0.2], "fit": [1, 1, 2, 2, 3, 3]}, value="y", install="fit")
    # Source: by hand. No scatter within; the three means 0.1, 0.3, 0.2 have SD 0.1 on 2 df.
    assert (found["y"].pull_sd, found["y"].install.df) == (0, 2)
    assert found["y"].install.sd == pytest.approx(0.1, rel=1e-12)
    assert "What n pulls" not in found.to_text(details=True)


def test_three_pulls_say_nothing_of_their_shape():
    found = noise({"y": [205.0, 206.0, 205.4], "t": [1, 5, 9]}, value="y", time="t")["y"]
    assert (found.pull_df, found.normal_p, found.lag1) == (1, None, None)


def test_readings_without_any_scatter_are_said():
    found = noise({"y": [205.0] * 8, "fit": [1, 1, 2, 2, 3, 3, 4, 4]}, value="y", install="fit")
    assert found["y"].pull_sd == 0
    assert any("agree to the last digit" in warning for warning in found.warnings)
    assert found.to_text(details=True)
