"""A further day has the same questions and a date of its own; nothing that is there is touched."""

from __future__ import annotations

import datetime as dt

import pytest
from day_files import day_file, factor

from doe.day.files.dayfile import read_day_file
from doe.day.files.next_day import start_next_day
from doe.errors import InputError


@pytest.mark.parametrize("date", ["2020-05-16", "2099-05-16"])
def test_everything_but_the_date_is_that_of_the_day_before(tmp_path, date):
    earlier, new = tmp_path / "monday", tmp_path / "tuesday"
    earlier.mkdir()
    text = day_file(factor("oil", "thick", "thin 10 10 0 1.0", refit=True), date=date, noise="pull_sd = 0.5  # ours")
    (earlier / "day.toml").write_text(text, encoding="utf-8")
    found = start_next_day(new, earlier)
    assert found == max(dt.date.today(), dt.date.fromisoformat(date) + dt.timedelta(days=1))
    assert (new / "day.toml").read_text(encoding="utf-8") == text.replace(date, f"{found}")  # comments and all
    assert read_day_file(new).day.date == found
    with pytest.raises(InputError, match="left alone"):
        start_next_day(new, earlier)
    with pytest.raises(InputError):
        start_next_day(tmp_path / "other", tmp_path / "nowhere")
    assert not (tmp_path / "other").exists()
