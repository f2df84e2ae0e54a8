"""Random columns: what is read of a session is true whatever its dialect, and nonsense never ends in a traceback."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doe.day.columns.day_times import day_times
from doe.day.columns.decimal_signs import NumberColumn
from doe.day.columns.table_times import read_times
from doe.errors import InputError

DAYS = "ab"
ZERO = dt.datetime(1899, 12, 30)


def serial(moment):
    return (moment - ZERO) / dt.timedelta(days=1)


DIALECTS = {  # of a moment and the session's start; most allow two readings
    "iso": lambda m, s: m.isoformat(sep=" "),
    "day first": lambda m, s: f"{m:%d/%m/%Y %H:%M}",
    "month first": lambda m, s: f"{m:%m/%d/%Y %H:%M}",
    "short year": lambda m, s: f"{m:%d.%m.%y %H:%M}",
    "clock": lambda m, s: f"{m:%H:%M}",
    "twelve hours": lambda m, s: f"{m.hour % 12 or 12}:{m:%M}",
    "half days": lambda m, s: f"{m:%I:%M %p}",
    "point": lambda m, s: f"{m.hour}.{m:%M}",
    "four digits": lambda m, s: f"{m:%H%M}",
    "three digits": lambda m, s: str(int(f"{m:%H%M}")),
    "six digits": lambda m, s: f"{m:%H%M%S}",
    "fraction": lambda m, s: repr(serial(m) % 1),
    "short fraction": lambda m, s: f"{serial(m) % 1:.5f}",
    "serial": lambda m, s: f"{serial(m):.6f}",
    "minutes": lambda m, s: f"{(m - s).total_seconds() / 60:.2f}",
    "hours": lambda m, s: f"{(m - s).total_seconds() / 3600:.4f}",
    "seconds": lambda m, s: f"{(m - s).total_seconds():.0f}",
    "since": lambda m, s: str(m - s),
}
ALWAYS_READ = {"iso", "half days", "since", "minutes", "clock", "fraction", "serial"}  # in order, nearly always


def session(rng):
    """A session of up to ten hours at any time of the day."""
    start = dt.datetime(2026, rng.randrange(1, 13), rng.randrange(1, 29), rng.randrange(24), rng.randrange(60))
    moments = [start]
    for _ in range(rng.randrange(5, 25)):
        gap = rng.randrange(3, 12) if rng.random() < 0.8 else rng.randrange(20, 50)
        moments.append(moments[-1] + dt.timedelta(minutes=gap))
    return moments


@pytest.mark.parametrize("dialect", DIALECTS)
def test_what_is_read_of_a_session_is_true(dialect):
    rng = random.Random(5)
    count = Counter()
    for _ in range(150):
        moments = session(rng)
        start, order = moments[0], rng.choice(["made", "newest first", "by level"])
        if order == "newest first":
            moments.reverse()
        if order == "by level" and dialect != "twelve hours":
            moments = moments[::2] + moments[1::2]
        cells = [DIALECTS[dialect](moment, start) for moment in moments]
        try:
            read = read_times(cells, "t", rng.choice([None, ["one"] * len(cells)]))
        except InputError:
            count[order, "refused"] += 1
            continue
        count[order, "read"] += 1
        # five digits of a day are 0.9 s
        assert read.minutes == pytest.approx([(m - start).total_seconds() / 60 for m in moments], abs=0.02), cells
    if dialect in ALWAYS_READ:
        assert count["made", "read"] > 8 * count["made", "refused"]


TEXTS = st.text("0123456789:.,-/ TZ+apmAPM\N{NO-BREAK SPACE}\N{MINUS SIGN}\N{ARABIC-INDIC DIGIT ONE}x%eE", max_size=14)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # the machine may be busy
@given(st.lists(TEXTS, min_size=1, max_size=6), st.sampled_from(["t", "minutes", "time (s)", "hours"]))
def test_nonsense_is_refused_in_words(texts, title):
    cells = [text.strip() for text in texts]
    days = [DAYS[at % 2] for at in range(len(cells))]
    for named in (None, days):
        try:
            assert len(read_times(cells, title, named).minutes) == len(cells)
        except InputError as refused:
            assert f"column '{title}'" in str(refused)
    assert len(day_times(cells, dt.date(2026, 5, 16)).moments) == len(cells)
    column = NumberColumn.of(cells)
    for cell in cells:
        try:
            column.read(cell)
        except ValueError as refused:
            assert "expected" in str(refused) or "could be" in str(refused)
