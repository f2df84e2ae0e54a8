"""Several refit parts without a study: route "crossed", one refit scatter for each part."""

import json
from pathlib import Path

import numpy as np
import pytest

import doe
from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.fits import install_of
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.stats.precision import AssumedNoise, expected_precision

REFERENCE = Path(__file__).parents[2] / "reference" / "crossed_days.json"  # R: lme4, pbkrtest; made by crossed_days.R
DAYS = json.loads(REFERENCE.read_text())["days"]
CALM = {"wander_sd": 0.0}


def options_of(day):
    columns = day["columns"]
    factors = list(day["baseline"])
    return {
        "change": {factor: columns[factor] for factor in factors},
        "baseline": day["baseline"],
        "install": {f: columns[f"{f}_fitting"] for f in factors if f"{f}_fitting" in day["grouping"]},
        "minute": columns["minute"],
        "day": columns.get("day"),
        "drift": day["drift"],
    }


def judged(day, **options):
    return doe.judge_many([day["columns"]["y"]], **options_of(day), **options)


def expected(day, found, key):
    of = {(gain["factor"], gain["level"]): gain[key] for gain in day["gains"]}
    return np.array([of[question] for question in zip(found.factors, found.levels, strict=True)])


def of_route(found, *routes):
    return [route in routes for route in found.routes]


@pytest.mark.parametrize("day", [d for d in DAYS if d["days"] != "fixed"], ids=lambda day: day["name"])
def test_as_asked_agrees_with_lme4_and_pbkrtest(day):
    found = judged(day, method="kenward-roger")
    for key in ("gain", "se", "df", "low", "high"):
        assert getattr(found, key)[0] == pytest.approx(expected(day, found, key), rel=1e-6), key


@pytest.mark.parametrize("day", [d for d in DAYS if d["days"] != "random"], ids=lambda day: day["name"])
def test_the_route_crossed_agrees_with_lme4_and_pbkrtest(day):
    found = judged(day, noise=CALM)
    these = of_route(found, "crossed", "within installs")
    for key in ("gain", "se"):
        assert getattr(found, key)[0][these] == pytest.approx(expected(day, found, key)[these], rel=1e-6), key
    df = np.maximum(expected(day, found, "df"), 1.0)  # below 1 an interval would reach beyond all readings
    assert found.df[0][these] == pytest.approx(df[these], rel=1e-6)


def test_most_of_these_days_are_judged_so():
    assert sum("crossed" in judged(day, noise=CALM).routes for day in DAYS) >= 8


# --- the rule, and what is said ---------------------------------------------------------------------------------------

SPELLS = ("BCBCCBCBBCBC", "SSSLLLSSSLLL")  # the oil by turns in long spells of the headers
TURNS = ("BCCBBCCBBCCB", "SSLLSSLLSSLL")


def table_of(orders, pulls=4, sds=(0.5, 0.5), seed=1):
    """A day of two parts; a letter a stint."""
    slot = np.repeat(np.arange(len(orders[0])), pulls)
    rng = np.random.default_rng(seed)
    table = {"minute": (1 + np.arange(len(slot))) * 4.0 + slot * 25}
    y = 205 + rng.standard_normal(len(slot)) - 0.002 * table["minute"]
    for name, order, sd in zip(("oil", "headers"), orders, sds, strict=True):
        levels = np.array(list(order))
        table[name] = levels[slot]
        table[f"{name}_fit"] = np.concatenate([[0], np.cumsum(levels[1:] != levels[:-1])])[slot]
        y = y + sd * rng.standard_normal(slot[-1] + 1)[table[f"{name}_fit"]]
    return table | {"hp": y, "refit": slot}


def judge(table, install=("oil_fit", "headers_fit"), **options):
    return doe.judge(
        table, value="hp", change=["oil", "headers"], baseline=["B", "S"], install=list(install), time="minute",
        **{"smallest_gain": 2.0, "checks": False} | options,
    )  # fmt: skip


def routes(found):
    return {gain.factor: gain.route for gain in found.changes}


def test_the_route_hangs_on_the_design_and_never_on_the_readings():
    for orders, route in ((SPELLS, "crossed"), (TURNS, "shortened by crossed")):
        seen = {
            routes(judge(table_of(orders, sds=sds, seed=s)))["headers"] for sds in ((0, 0), (2, 0.1)) for s in (1, 2)
        }
        assert seen == {route}


def test_a_study_and_a_single_refit_part_keep_their_routes():
    study = {"pull_sd": 1.0, "pull_df": 15, "install_sd": 0.5, "install_df": 5}
    assert set(routes(judge(table_of(SPELLS), noise=study)).values()) == {"study"}
    table = table_of(SPELLS)
    alone = doe.judge(table, value="hp", change="oil", baseline="B", install="oil_fit", time="minute", checks=False)
    assert routes(alone) == {"oil": "longer of two"}
    assert alone.noise.install_sds is None and alone.noise.install_sd is not None


def test_each_part_has_its_own_scatter_in_json_and_text():
    found = judge(table_of(SPELLS, sds=(3.0, 0.2)))
    noise = found.to_dict()["noise"]
    assert noise["install_sd"] is None and list(noise["install_sds"]) == ["oil", "headers"]
    assert noise["install_sds"]["oil"] > 1.0 > noise["install_sds"]["headers"]
    assert (
        f"refit scatter {noise['install_sds']['oil']:.2g} (oil), {noise['install_sds']['headers']:.2g} (headers)"
        in found.to_text(details=True)
    )
    assert "crossed (fittings of every part random, a refit scatter for each, REML and Kenward-Roger)" in found.to_text(
        details=True
    )


def test_a_part_fitted_once_has_no_scatter_to_show():
    table = table_of(("BCBCBCBCBCBC", "SSSSSSLLLLLL"))
    assert judge(table).noise.install_sds["headers"] is None
    assert "not seen (headers)" in judge(table).to_text(details=True)


def test_what_other_software_prints_with_one_grouping_for_each_part():
    lumped = judge(table_of(TURNS), install=["refit"], method="kenward-roger")
    each = judge(table_of(TURNS), method="kenward-roger")
    for one, other in zip(lumped.changes, each.changes, strict=True):  # the column counts both parts' refits
        assert (one.gain, one.se, one.df) == pytest.approx((other.gain, other.se, other.df), rel=1e-9)
    assert [note.code for note in lumped.notes if note.where == "refit"] == ["column-lumps-parts"]
    for text in (lumped.to_text(), lumped.to_text(details=True)):  # on the first screen, too
        assert "'refit' counts the refits of oil and headers together" in " ".join(text.split())
    assert not [note for note in each.notes if note.code == "column-lumps-parts"]


def test_two_parts_with_the_same_column_share_a_scatter_and_it_is_said():
    table = table_of(TURNS)
    found = judge(table, install=("refit", "refit"), method="kenward-roger")
    assert found.noise.install_sds is None and found.noise.install_sd is not None
    assert [note.code for note in found.notes if note.where == "refit"] == ["parts-share-column"]


def test_a_limit_beyond_all_readings_is_a_power_of_ten():
    table = table_of(("BCBCBCBC", "SSSSLLLL"))
    found = judge(table, method="kenward-roger")
    assert all(len(line) < 300 for line in found.to_text(details=True).splitlines())


def test_a_scatter_of_0_is_told_where_the_longer_of_two_takes_it_and_crossed_ones_hold():
    found = judge(table_of(SPELLS, sds=(0, 0), seed=4), noise=CALM, checks=True)
    notes = {gain.route: [note.code for note in gain.notes] for gain in found.changes}
    assert found.noise.install_sds == {"oil": 0.0, "headers": 0.0}
    assert "refit-scatter-zero" in notes["shortened by crossed"] and "refit-scatter-zero" not in notes["crossed"]


def test_the_insurance_against_wander_lengthens_and_never_shortens():
    table = table_of(SPELLS, seed=4)
    calm, insured = judge(table, noise=CALM), judge(table)
    assert calm.noise.wander_vouched and insured.noise.wander_insured
    for one, other in zip(calm.changes, insured.changes, strict=True):
        assert other.high - other.low >= (one.high - one.low) * (1 - 1e-9)


def trial_of(orders, pulls=4):
    table = table_of(orders, pulls)
    keys = ("oil", "headers")
    return design_trial(
        {k: table[k] for k in keys}, {"oil": "B", "headers": "S"}, {k: table[f"{k}_fit"] for k in keys}, table["minute"]
    )


def test_coverage_and_length_of_a_crossed_day():
    trial, rng = trial_of(SPELLS), np.random.default_rng(8)
    y = rng.standard_normal((1500, trial.pulls))
    for name, sd in (("oil", 1.0), ("headers", 0.3)):
        labels = trial.fittings[name]
        y += sd * rng.standard_normal((1500, labels.max() + 1))[:, labels]
    table = table_of(SPELLS)
    found = doe.judge_many(
        y, change={k: table[k] for k in ("oil", "headers")}, baseline={"oil": "B", "headers": "S"},
        install=trial.fittings, minute=table["minute"], noise=CALM,
    )  # fmt: skip
    covered = ((found.low <= 0) & (found.high >= 0)).mean(axis=0)
    assert (covered > 0.94 - 3 * (0.06 * 0.94 / 1500) ** 0.5).all()


def test_the_planner_promises_by_the_same_rule():
    for orders in (SPELLS, TURNS):
        trial = trial_of(orders)
        noise = AssumedNoise(1.0, 0.5)
        fittings = list(trial.fittings.values())
        promised = expected_precision(trial.minute, trial.changes, fittings, [0, 1], noise, 1)
        for change, crossed in enumerate(trial.crossed):
            left = trial.left_between[trial.factors[change]]
            assert (promised.df[change] == left) is not bool(crossed)


# --- crossed fittings shorten what the means leave long ------------------------------------------------------------


def several_days(trial, sds, days, seed=5):
    rng = np.random.default_rng(seed)
    y = rng.standard_normal((days, trial.pulls)) - 0.002 * trial.minute
    for name, labels in trial.fittings.items():
        y += sds[name] * rng.standard_normal((days, labels.max() + 1))[:, labels]
    return y


@pytest.mark.parametrize("known", [KnownNoise(), KnownNoise(wander_unstated=True)], ids=["calm", "insured"])
def test_a_shortened_interval_is_never_longer_than_the_longer_of_two_and_none_where_its_scatter_is_0(known):
    trial = trial_of(TURNS)
    found = estimate(trial, several_days(trial, {"oil": 0.5, "headers": 0.5}, 400), known)
    assert found.routes == ("shortened by crossed",) * 2
    two = np.nanmax(found.rivals(0.05)[..., :2], axis=-1)
    half = found.half_width(0.05)
    assert (half <= two * (1 + 1e-12)).all() and (half < 0.9 * two).mean() > 0.1
    at_zero = np.stack([found.variances[install_of(name)] == 0 for name in ("oil", "headers")], axis=1)
    assert at_zero.any() and (half == two)[at_zero].all()
    assert (half >= found.rivals(0.05)[..., 1] * (1 - 1e-12)).all()  # never below the one on pulls


@pytest.mark.parametrize("risk", [0.05, 0.01])
def test_p_and_interval_of_a_shortened_change_say_the_same(risk):
    trial = trial_of(TURNS)
    found = estimate(trial, several_days(trial, {"oil": 1.0, "headers": 0.5}, 400), KnownNoise())
    off_0 = np.abs(found.gain) > found.half_width(risk)
    assert ((found.p_value(risk) < risk) == off_0).all()


def test_a_shortened_interval_covers():
    trial, days = trial_of(TURNS), 2000
    for sds in ({"oil": 2.0, "headers": 2.0}, {"oil": 2.0, "headers": 0.2}):
        found = estimate(trial, several_days(trial, sds, days), KnownNoise())
        covered = (np.abs(found.gain) <= found.half_width(0.05)).mean(axis=0)
        least = 0.94 if len(set(sds.values())) == 1 else 0.93
        assert (covered >= least - 2.5 * (0.06 * 0.94 / days) ** 0.5).all()


def test_the_screen_says_that_crossed_fittings_shorten():
    text = " ".join(judge(table_of(TURNS), noise=CALM).to_text(details=True).split())
    assert "the means' is shortened to that of crossed fittings, a refit scatter for each part" in text


def test_install_means_are_asked_for_and_taken_beside_a_change_that_has_no_interval():
    table = table_of(("BCBCBCBC", "SSSSLLLL"), pulls=3)
    oil, headers = judge(table, method="install-means").changes
    assert (oil.route, headers.route) == ("install-means", "none")
    rows = [np.flatnonzero(table["oil_fit"] == fitting) for fitting in np.unique(table["oil_fit"])]
    columns = np.column_stack([np.ones(24), table["oil"] == "C", table["headers"] == "L", table["minute"]]).astype(
        float
    )
    means = np.array([columns[row].mean(axis=0) for row in rows])
    gains = np.linalg.lstsq(means, np.array([table["hp"][row].mean() for row in rows]), rcond=None)[0]
    assert oil.gain == pytest.approx(gains[1], rel=1e-9)
