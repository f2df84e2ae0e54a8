"""Wander of many days: the score of a day has the mean and the variance that it says, and the sum bounds the truth."""

import numpy as np
import pytest

from doe.analysis.archive.stacked_days import numbers_of_days
from doe.analysis.scatter.saving import save_study
from doe.day.files.dayfile import read_day_file
from doe.stats.wander import wander_kernel

DAYS = 400


def scores(rng, trial, wander, days=1500):
    """Score and information of days with refit scatter and a pull SD of their own."""
    fitting = trial.install
    root = np.linalg.cholesky(wander_kernel(trial.minute) + 1e-12 * np.eye(trial.pulls))
    made = (
        rng.standard_normal(trial.pulls)
        + 0.5 * rng.standard_normal(fitting.max() + 1)[fitting]
        + wander * root @ rng.standard_normal(trial.pulls)
        for _ in range(days)
    )
    days = numbers_of_days([(trial, values) for values in made])
    return np.array([(day.wander_score, day.wander_information) for day in days]).T


@pytest.fixture(scope="module")
def trial():
    """A day of 8 fittings of 5 pulls, 4 minutes apart, 20 more at a refit; one oil against another."""
    from doe.analysis.trials.trial import Trial

    fitting = np.repeat(np.arange(8), 5)
    minute = 4.0 * np.arange(40) + 20.0 * fitting
    return Trial(("oil",), ("thin",), (fitting % 2)[:, None] * 1.0, {"oil": fitting}, fitting, minute, fitting * 0)


@pytest.mark.parametrize("wander", [0.0, 1.0])
def test_the_score_has_the_mean_and_variance_that_it_says(trial, wander):
    score, information = scores(np.random.default_rng(1), trial, wander)
    error = score.std() / len(score) ** 0.5
    assert abs(score.mean() - wander**2 * information[0]) < 3.3 * error
    if not wander:
        # Variance of a chi-square-like mean of many: 2 times the information, to three standard errors of a variance.
        assert score.var() == pytest.approx(2 * information[0], rel=3.3 * (8 / len(score)) ** 0.5)


def test_many_days_without_wander_bound_it_and_the_bound_is_saved(trial, summed, made, tmp_path):
    rng = np.random.default_rng(2)
    score, information = scores(rng, trial, 0.0, DAYS)
    metric = summed(rng.chisquare(31, DAYS), rng.chisquare(6, DAYS), wander=score * 0.4 / information)
    assert metric.known_wander.seen is None
    assert 0.2 < metric.wander_at_most < 0.6
    assert metric.to_dict()["wander_at_most"] == metric.wander_at_most
    assert metric.to_dict()["wander_sd"] is None
    text = "\n".join(metric.lines())
    assert "--save-to writes that bound" in text
    (day,) = made.make_archive(tmp_path, 1, plans=False)
    (day / "pulls.csv").unlink()
    save_study(_study(metric), day)
    noise = read_day_file(day).noise
    assert (noise.wander_sd, noise.wander_df) == (pytest.approx(0.42 * metric.wander_at_most, rel=0.01), 4)
    assert "could not be excluded, stated as that bound" in (day / "day.toml").read_text()


def test_wander_of_many_days_is_seen(trial, summed):
    rng = np.random.default_rng(3)
    score, information = scores(rng, trial, 1.0, DAYS)
    metric = summed(rng.chisquare(31, DAYS), rng.chisquare(6, DAYS), wander=score * 0.4 / information)
    assert metric.stated_wander.sd == pytest.approx(1.0, rel=0.15)
    assert "The engine or the cell wanders" in "\n".join(metric.lines())


def test_days_without_times_know_nothing(summed):
    metric = summed([31.0, 30.0], [6.0, 5.0])
    assert metric.known_wander is None
    assert not any("ander" in line for line in metric.lines())


def _study(metric):
    from doe.analysis.archive.archive_result import NoiseArchive

    return NoiseArchive(metrics=(metric,), source="noise of 400 days", folders=DAYS, left_out={}, broken=())
