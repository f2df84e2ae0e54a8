"""The other days of a campaign before the rest of one: whose fitting is whose."""

from __future__ import annotations

import numpy as np
from day_files import day_file, factor

from doe.day.files.dayfile import read_day_file
from doe.planning.arrays.history import Made
from doe.planning.arrays.other_days import OtherDays, fixed

BASE, THIN = {"oil": "base"}, {"oil": "thin"}


def test_no_fitting_of_one_day_is_one_of_another_and_the_days_own_pulls_come_last(tmp_path) -> None:
    (tmp_path / "day.toml").write_text(day_file(factor("oil", "base", "thin 20 20 1 1.5", refit=True)), "utf-8")
    day = read_day_file(tmp_path)
    theirs = {0: [Made(10, BASE, (1,)), Made(20, THIN, (2,))], 2: [Made(15, BASE, (1,))]}
    own = [Made(5, BASE, (1,)), Made(9, BASE, (1,)), Made(40, THIN, (2,))]
    history = OtherDays(1, theirs, ()).before(day, own, [3], [])  # refitted since, and no pull in it yet
    assert history is not None
    assert history.fittings.tolist() == [[1, 2, 3, 4, 4, 5]]
    assert history.day.tolist() == [0, 0, 2, 1, 1, 1]
    assert history.minute.tolist() == [10, 20, 15, 5, 9, 40]
    assert history.fitted_now.tolist() == [6]
    assert history.today == 1
    # Before its first pull a day counts on just what a plan for the whole of it counts on.
    fresh, whole = OtherDays(1, theirs, ()).before(day, [], [1], []), fixed(day, theirs, 1)
    assert fresh is not None and whole is not None
    for name in ("minute", "on", "off", "fittings", "day", "stint", "fitted_now"):
        np.testing.assert_array_equal(getattr(fresh, name), getattr(whole, name))
    assert fresh.stages == whole.stages
    assert OtherDays(1, {0: []}, ()).before(day, [], [1], []) is None
