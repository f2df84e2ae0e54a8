"""Days that drive an archive's answer are named, with the answer without them; days like the others are not."""

import numpy as np
import pytest

NUMBER = 200


def scatter(rng, sd):
    """Sums of squares within and between the fittings, install SD 0.3, of days with these pull SDs."""
    sd = np.asarray(sd, float)
    return sd**2 * rng.chisquare(31, len(sd)), (5 * 0.09 + sd**2) * rng.chisquare(6, len(sd))


def loud(number, *rows, sd=4.0):
    found = np.ones(number)
    found[list(rows)] = sd
    return found


def test_one_bad_day_of_two_hundred_is_named_with_the_answer_without_it(summed):
    rng = np.random.default_rng(1)
    metric = summed(*scatter(rng, loud(NUMBER, 77)))
    (driver,) = metric.drivers
    assert (driver.days, driver.cell) == ((77,), None)
    assert "pull scatter" in driver.answers
    assert metric.pull_df < 100
    assert driver.scatter.pull_df == 199 * 31
    rest = np.delete(np.arange(NUMBER), 77)
    assert driver.scatter.pull_sd == pytest.approx(
        (metric.columns.within[rest].sum() / metric.columns.within_df[rest].sum()) ** 0.5, rel=1e-12
    )
    text = "\n".join(metric.lines())
    assert "day-00077 (2024-08-26) drives the pull scatter" in text
    assert "6,169 df" in text
    (said,) = metric.to_dict()["driven_by"]
    assert said["days"] == ["/archive/day-00077"]
    assert said["pull_df_without"] == 199 * 31


@pytest.mark.parametrize(("number", "bad"), [(200, (77, 100, 150)), (40, (3, 4)), (3, (1,))])
def test_bad_days_do_not_hide_each_other_nor_in_few(summed, number, bad):
    metric = summed(*scatter(np.random.default_rng(2), loud(number, *bad)))
    assert metric.drivers[0].days == bad


def test_days_that_are_all_unlike_are_not_blamed(summed):
    rng = np.random.default_rng(3)
    metric = summed(*scatter(rng, np.sqrt(8 / rng.chisquare(8, 100))))
    assert metric.agree_p < 1e-6
    assert metric.drivers == ()
    assert "No day, left out alone or with a few others, changes that much." in metric.lines()


def test_days_that_are_alike_are_left_in_peace(summed):
    rng = np.random.default_rng(4)
    runs = 80
    blamed = sum(bool(summed(*scatter(rng, np.ones(rng.integers(2, 30)))).drivers) for _ in range(runs))
    # Two questions at 5 % each at most, and the binomial's 3.3 standard errors.
    assert blamed / runs < 0.1 + 3.3 * (0.1 * 0.9 / runs) ** 0.5


def test_a_baseline_far_off_is_named_for_day_scatter_and_creep(summed):
    rng = np.random.default_rng(5)
    level = 100 + rng.normal(0, 0.4, 40) + 0.02 * np.arange(40)
    level[39] -= 12
    metric = summed(*scatter(rng, np.ones(40)), level=level)
    (driver,) = metric.drivers
    assert (driver.days, driver.answers) == ((39,), ("day scatter", "creep"))
    assert driver.day_sd < metric.day_sd / 2
    text = "\n".join(metric.lines())
    assert "No creep of the baseline" in text
    assert "Without it: baselines of one set-up differ" in text
    assert "The baseline has crept up by" in text


def test_a_cell_of_three_that_scatters_otherwise_is_named(summed):
    cell = ["north", "south", "west"] * 30
    metric = summed(*scatter(np.random.default_rng(6), [2.0, 1.0, 1.0] * 30), cell=cell)
    (driver,) = [one for one in metric.drivers if one.cell is not None]
    assert driver.cell == "north"
    assert driver.scatter.pull_df > 10 * metric.pull_df
    assert "cell north drives the pull scatter. Without it:" in "\n".join(metric.lines())


def test_two_days_and_days_without_scatter_drive_nothing(summed):
    assert summed([31.0, 500.0], [6.0, 6.0]).drivers == ()
    assert summed([0.0, 0.0, 0.0], [0.0, 0.0, 0.0]).drivers == ()
