"""A creeping baseline against scipy and numpy."""

import numpy as np
import pytest
from scipy import stats

from doe.analysis.archive.creep import DAYS_A_MONTH, creep


def some_days(seed=1, number=40, slope=0.01):
    rng = np.random.default_rng(seed)
    date = np.sort(rng.uniform(0, 400, number))
    return date, 200 + slope * date + rng.normal(0, 1, number)


def test_creep_of_days_known_alike_is_the_ordinary_line():
    # Source: scipy.stats.linregress. With equal variances below the scatter the weights are equal.
    date, level = some_days()
    line = stats.linregress(date, level)
    found = creep(level, np.full(40, 0.1), np.zeros(40, int), date)
    assert found.per_month == pytest.approx(line.slope * DAYS_A_MONTH, rel=1e-8)
    assert found.p == pytest.approx(line.pvalue, rel=1e-6)
    half = stats.t.ppf(0.975, 38) * line.stderr * DAYS_A_MONTH
    assert (found.low, found.high) == pytest.approx((found.per_month - half, found.per_month + half), rel=1e-6)
    assert found.change == pytest.approx(line.slope * np.ptp(date), rel=1e-8)


def test_set_ups_have_their_own_levels():
    # Source: numpy.linalg.lstsq with a column for each set-up.
    date, level = some_days(2)
    group = np.arange(40) % 3
    shifted = level + np.array([0.0, 150.0, -70.0])[group]
    columns = np.column_stack([date, group[:, None] == np.arange(3)])
    slope = np.linalg.lstsq(columns, shifted, rcond=None)[0][0]
    found = creep(shifted, np.full(40, 0.01), group, date)
    assert found.per_month == pytest.approx(slope * DAYS_A_MONTH, rel=1e-6)
    assert found.df == 40 - 3 - 1


@pytest.mark.parametrize(("number", "same_date"), [(2, False), (6, True)], ids=["two days", "all on one date"])
def test_no_creep_where_nothing_can_tell(number, same_date):
    date, level = some_days(5, number)
    date = date * 0 if same_date else date
    assert creep(level, np.ones(number), np.zeros(number, int), date) is None


def test_chance_creeps_at_five_percent():
    rng = np.random.default_rng(6)
    date, runs = np.linspace(0, 300, 12), 1000
    own = np.tile([0.1, 0.6, 1.2], 4)
    found = [creep(rng.normal(0, np.sqrt(own + 0.3)), own, np.zeros(12, int), date).p for _ in range(runs)]
    # At most 5 % and the binomial's 3.3 standard errors: the SE is floored, so fewer may come.
    assert np.mean(np.array(found) < 0.05) < 0.05 + 3.3 * (0.05 * 0.95 / runs) ** 0.5
