"""Days with a noise study in the likelihood, against R (tests/reference/study_days.R: stacked pseudo-observations)."""

import json
from pathlib import Path

import numpy as np
import pytest

import doe

DAYS = json.loads((Path(__file__).parents[2] / "reference" / "study_days.json").read_text())["days"]


def judge_reference(day, **options):
    """The reference day through `doe.judge`, one change column per factor; no wander, as in the reference."""
    columns = dict(day["columns"])
    factors = list(dict.fromkeys(c["factor"] for c in day["changes"]))
    grouping = day["grouping"]
    if len(factors) > 1 and len(grouping) == len(factors):
        install = list(grouping)
    else:
        install = grouping[0] if grouping else "each"
    return doe.judge(
        columns,
        value=day["value"],
        change=factors,
        baseline=[day["baseline"][f] for f in factors],
        install=install,
        day="day" if day["days"] == "fixed" else None,
        time="minute",
        drift=day["drift"],
        noise={"wander_sd": 0.0, **(day["study"] or {})},
        **options,
    )


@pytest.mark.parametrize("day", DAYS, ids=[day["name"] for day in DAYS])
def test_agrees_with_stacked_pseudo_observations(day):
    found = {(c.factor, c.level): c for c in judge_reference(day).changes}
    for gain in day["gains"]:
        row = found[gain["factor"], gain["level"]]
        if row.route != "study":
            pytest.skip(f"judged by the route {row.route!r}: the reference is the likelihood with the study")
        assert (row.gain, row.se, row.df) == pytest.approx((gain["gain"], gain["se"], gain["df"]), rel=1e-6)
        assert (row.low, row.high) == pytest.approx((gain["low"], gain["high"]), rel=1e-6)


def test_a_study_of_infinite_df_is_the_known_variance_z_interval():
    day = DAYS[0]
    study = {**day["study"], "pull_df": 1e9, "install_df": 1e9}
    row = judge_reference({**day, "study": study}).changes[0]
    n, z = 4, 1.959963984540054  # four pulls a fitting
    install, pull = study["install_sd"] ** 2, study["pull_sd"] ** 2
    minute = np.array(day["columns"]["minute"], float)
    on = np.array([level == "0W-20" for level in day["columns"]["oil"]], float)
    label = np.array(day["columns"]["install"])
    v = pull * np.eye(len(on)) + install * (label[:, None] == label[None, :])
    x = np.column_stack([np.ones_like(on), on, minute - minute.mean()])
    se = np.sqrt(np.linalg.inv(x.T @ np.linalg.solve(v, x))[1, 1])
    assert n * 6 == len(on)
    assert row.se == pytest.approx(se, rel=1e-6)
    assert row.high - row.low == pytest.approx(2 * z * se, rel=1e-5)


def test_a_study_of_the_only_sd_is_the_pooled_t():
    # By hand: s^2 = (RSS + nu s0^2)/(n - p + nu), exactly.
    y = [201.0, 202.5, 203.1, 205.2, 206.9, 207.0]
    table = {"y": y, "oil": ["a", "a", "a", "b", "b", "b"], "fit": ["same"] * 6}
    nu, s0 = 7, 0.9
    row = doe.judge(
        table, value="y", change="oil", baseline="a", install="fit", noise={"pull_sd": s0, "pull_df": nu}
    ).changes[0]
    groups = np.array(y).reshape(2, 3)
    rss = ((groups - groups.mean(axis=1, keepdims=True)) ** 2).sum()
    s2 = (rss + nu * s0**2) / (4 + nu)
    assert row.df == pytest.approx(4 + nu, rel=1e-10)
    assert row.se == pytest.approx(np.sqrt(s2 * 2 / 3), rel=1e-10)


def test_a_study_of_vanishing_df_is_no_study():
    day = next(d for d in DAYS if d["name"] == "unbalanced")
    faint = {key: (1e-9 if key.endswith("_df") else value) for key, value in day["study"].items()}
    with_it = judge_reference({**day, "study": faint}).changes[0]
    without = judge_reference({**day, "study": None}, method="kenward-roger").changes[0]
    assert (with_it.gain, with_it.se, with_it.df) == pytest.approx((without.gain, without.se, without.df), rel=1e-5)
