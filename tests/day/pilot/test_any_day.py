"""Any mixture of logging, logging again, spoiling, voiding and undoing: what was answered is what the log says."""

from __future__ import annotations

import datetime as dt
import os
import tempfile
from pathlib import Path
from unittest import mock

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan, write_plan
from doe.day.files.seal import seal_of
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls, standing_of
from doe.day.pilot.voiding import unvoid_pull, void_pull
from doe.day.records import Stint
from doe.errors import InputError

START = dt.datetime(2026, 5, 16, 8, 34, tzinfo=dt.timezone(dt.timedelta(hours=2)))
LEVELS = {"oil": ("15W-50", "0W-20", "5W-30"), "crankcase vacuum": ("off", "on")}

values = st.floats(100, 300, allow_nan=False).map(lambda value: round(value, 2))
parts = st.dictionaries(st.sampled_from(sorted(LEVELS)), st.integers(0, 1), max_size=2).map(
    lambda chosen: {name: LEVELS[name][at] for name, at in chosen.items()}
)
logged = st.builds(
    Entry,
    value=values,
    settings=parts,
    columns=st.dictionaries(st.sampled_from(["knock", "lambda"]), values, max_size=1),
    note=st.sampled_from(["", 'a "b", c;d', "größer"]),
    fresh=st.sampled_from([None, None, None, "oil"]),
    count=st.sampled_from([None, None, None, "settling"]),
)
again = st.builds(Entry, value=values, settings=parts, redo=st.integers(1, 6))
spoiled = st.builds(Entry, spoiled=st.just("missed the gear"))
steps = st.one_of(
    st.tuples(st.just("record"), st.one_of(logged, logged, again, spoiled)),
    st.tuples(st.sampled_from(["void", "unvoid"]), st.integers(1, 6)),
)


def do(folder: Path, what: str, with_: Entry | int, minute: int) -> None:
    """One step; what is refused changes nothing."""
    now = START + dt.timedelta(minutes=4 * minute)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    day = read_day_file(folder)
    try:
        if isinstance(with_, int):
            (void_pull(folder, with_, "why", now=now) if what == "void" else unvoid_pull(folder, with_, now=now))
            return
        (pull,) = record_pulls(folder, [with_], now=now).pulls
    except InputError:
        assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
        return
    read = read_log(folder, day, read_plan(folder, day)).pulls[-1]
    assert read.number == pull.number
    for name in ("run", "time", "minute", "install", "configuration", "values", "count", "void", "note"):
        assert getattr(read, name) == getattr(pull, name), name


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(made=st.lists(steps, min_size=1, max_size=9), planned=st.booleans())
def test_what_was_answered_is_what_the_log_says(day_text, made, planned):
    with tempfile.TemporaryDirectory() as name, mock.patch.object(os, "fsync"):
        folder = Path(name)
        (folder / "day.toml").write_text(day_text, encoding="utf-8")
        day = read_day_file(folder)
        if planned:
            stints = [Stint(day.baseline, 2), Stint({**day.baseline, "oil": "0W-20"}, 1), Stint(day.baseline, 1, "oil")]
            write_plan(folder, lay_out(day, stints), {"seal": seal_of(day)})
        for minute, (what, with_) in enumerate(made):
            do(folder, what, with_, minute)
        checked = check_folder(folder)
        assert (checked.mended, checked.remaining) == ((), ())
        standing = standing_of(folder, day)
        numbers = [pull.number for pull in standing.pulls]
        assert numbers == list(range(1, len(numbers) + 1))
        live = {pull.number for pull in standing.pulls if pull.void is None}
        assert live <= {pull.number for pull in standing.made}
        due = [run.run for run in standing.due]
        assert due == sorted(due)
        assert not set(due) & standing.fulfilled
