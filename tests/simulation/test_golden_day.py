"""The invented day plans_demo/oil-and-vacuum, judged: figures by a second route that shares no code with the judge.

Source of the second route: straight from the files with numpy and scipy. Gains: REML, its criterion written out
(Harville 1977, J. Am. Stat. Assoc. 72, 320-338) and maximised over the variances, then generalised least squares. The
vacuum is judged twice, for nobody stated a wander: its gain is that of a criterion with a third variance, its kernel
the mean of exp(-|dt|/tau) over 20, 60 and 180 minutes, less a penalty, 1/4 (log theta + s^2/theta), s a quarter of the
residual SD of least squares.
Interval of the oil: ordinary least squares on the means over the fittings and on the pulls, the longer of the two.
What has no second route here (the family's intervals, the vacuum's df) is held to the figures of the day it was made,
so that a change of them is seen; the methods behind those figures are checked against R in tests/reference.
"""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from doe.analysis.judging.folders import judge_day
from doe.day.files.dayfile import read_day_file

FOLDER = Path(__file__).parents[2] / "plans_demo" / "oil-and-vacuum"


@pytest.fixture(scope="module")
def judgement():
    return judge_day(FOLDER)


@pytest.fixture(scope="module")
def table():
    """Readings, X (one, oil, vacuum, minute) and the fitting of each counted pull, from the files as they lie there."""
    with (FOLDER / "voids.csv").open() as file:
        void = {row["pull"] for row in csv.DictReader(file) if not row["undone"]}
    with (FOLDER / "pulls.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["count"] == "yes" and row["pull"] not in void]
    begin = dt.datetime(2026, 6, 13, 8, 30)
    minute = [
        (dt.datetime.fromisoformat(row["time"]).replace(tzinfo=None) - begin).total_seconds() / 60 for row in rows
    ]
    x = np.array(
        [
            [1.0, row["oil"] == "0W-20", row["crankcase vacuum"] == "on", at]
            for row, at in zip(rows, minute, strict=True)
        ],
        dtype=float,
    )
    return np.array([float(row["mean power"]) for row in rows]), x, np.array([int(row["install"]) for row in rows])


def reml(y, x, fitting, *, insured=False):
    """The SDs and the coefficients at the maximum of the REML criterion, with the insurance's wander or without."""
    apart = np.abs(x[:, 3:] - x[:, 3])
    parts = [np.eye(len(y)), (fitting[:, None] == fitting[None, :]).astype(float)]
    prior = (0.25 * least_squares(y, x, 1)[2]) ** 2
    if insured:
        parts.append(np.mean([np.exp(-apart / tau) for tau in (20.0, 60.0, 180.0)], axis=0))

    def solved(log_sd):
        theta = np.exp(2 * np.asarray(log_sd))
        inverse = np.linalg.inv(sum(t * part for t, part in zip(theta, parts, strict=True)))
        information = x.T @ inverse @ x
        beta = np.linalg.solve(information, x.T @ inverse @ y)
        rest = y - x @ beta
        loss = -np.linalg.slogdet(inverse)[1] + np.linalg.slogdet(information)[1] + rest @ inverse @ rest
        return loss + (0.5 * (np.log(theta[2]) + prior / theta[2]) if insured else 0.0), beta

    exact = {"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000, "maxfev": 4000}
    begin = np.log([1.0, 0.7, 0.25][: len(parts)])
    best = optimize.minimize(lambda at: solved(at)[0], begin, method="Nelder-Mead", options=exact)
    return np.exp(best.x), solved(best.x)[1]


def least_squares(y, x, term):
    """Standard error of one coefficient, the degrees of freedom, and the residual SD."""
    beta, *_ = np.linalg.lstsq(x, y, rcond=None)
    df = len(y) - np.linalg.matrix_rank(x)
    sd = np.sqrt(((y - x @ beta) ** 2).sum() / df)
    return sd * np.sqrt(np.linalg.inv(x.T @ x)[term, term]), df, sd


def test_verdicts_are_right_since_the_truth_is_known(judgement):
    assert [gain.verdict for gain in judgement.changes] == ["real gain", "real gain"]
    for gain, truth in zip(judgement.changes, (3.0, 3.5), strict=True):
        assert gain.family_low < truth < gain.family_high
    assert judgement.warnings == ()
    assert judgement.sealed
    assert judgement.final


def test_gains_and_noise_by_a_second_route(judgement, table):
    (pull_sd, install_sd), beta = reml(*table)
    _, insured = reml(*table, insured=True)
    assert [gain.gain for gain in judgement.changes] == pytest.approx([beta[1], insured[2]], rel=1e-6)
    assert judgement.noise.pull_sd == pytest.approx(pull_sd, rel=1e-6)
    assert judgement.noise.install_sd == pytest.approx(install_sd, rel=1e-6)
    assert judgement.noise.drift_per_hour == pytest.approx(60 * beta[3], rel=1e-6)


def test_the_oils_interval_by_a_second_route(judgement, table):
    y, x, fitting = table
    labels = np.unique(fitting)
    means = [(y[fitting == k].mean(), x[fitting == k].mean(axis=0)) for k in labels]
    by_means = least_squares(np.array([m for m, _ in means]), np.array([row for _, row in means]), 1)
    by_pulls = least_squares(y, x, 1)
    half = max(se * stats.t.ppf(0.975, df) for se, df, _ in (by_means, by_pulls))
    oil = judgement.changes[0]
    assert oil.route == "longer of two"
    assert (oil.high - oil.low) / 2 == pytest.approx(half, rel=1e-6)


def test_figures_stay_as_they_were(judgement):
    # Regression only: as judged on the day the folder was made.
    oil, vacuum = judgement.changes
    assert (oil.family_low, oil.family_high) == pytest.approx((1.4281611, 4.1507160), rel=1e-6)
    assert (oil.inner_low, oil.inner_high) == pytest.approx((1.6623510, 3.9165261), rel=1e-6)
    assert (vacuum.se, vacuum.df) == pytest.approx((0.37046839, 28.1257653), rel=1e-6)
    assert (vacuum.family_low, vacuum.family_high) == pytest.approx((1.9355053, 3.6831960), rel=1e-6)


def test_the_day_says_that_it_is_invented():
    assert (FOLDER / "day.toml").read_text(encoding="utf-8").startswith("# INVENTED DATA")
    assert "**Invented data.**" in (FOLDER / "README.md").read_text(encoding="utf-8")
    assert "invented" in read_day_file(FOLDER).day.title
