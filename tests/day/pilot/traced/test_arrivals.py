"""The dyno's folder under watch: each content is told once, never before it is at rest, whoever's clock it carries."""

from __future__ import annotations

import datetime as dt
import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doe.day.pilot.traced.arrivals import LOOKS_AT_REST, Arrivals

NOON = dt.datetime(2026, 5, 16, 12, tzinfo=dt.UTC)


class Clock:
    """A clock that goes on by a second at each look at it."""

    def __init__(self):
        self.now = NOON

    def __call__(self):
        self.now += dt.timedelta(seconds=1)
        return self.now


def write(path: Path, text: str, at: float) -> Path:
    path.write_text(text)
    os.utime(path, (at, at))
    return path


def looked(arrivals: Arrivals, times: int = LOOKS_AT_REST) -> list[str]:
    return [arrival.path.name for _ in range(times) for arrival in arrivals.look()]


def watched(place: Path, *logged: Path, largest: int = 1000) -> Arrivals:
    return Arrivals(place, logged, largest, Clock())


def test_what_was_there_is_left_alone_and_a_new_file_is_told_once(tmp_path):
    write(tmp_path / "old.csv", "old", 1e9)
    arrivals = watched(tmp_path)
    assert (arrivals.left_alone, looked(arrivals, 5)) == (1, [])
    write(tmp_path / "new.csv", "new", 1e8)  # another machine's clock, years behind
    assert looked(arrivals, LOOKS_AT_REST - 1) == []
    assert looked(arrivals, 1) == ["new.csv"]
    assert looked(arrivals, 5) == []


def test_it_is_told_when_it_was_first_seen_and_not_while_it_grows(tmp_path):
    arrivals = watched(tmp_path)
    for size in range(6):
        write(tmp_path / "slow.csv", "x" * size, 1e9 + size)
        assert looked(arrivals, LOOKS_AT_REST - 1) == []
    (arrival,) = [one for _ in range(3) for one in arrivals.look()]
    assert arrival.seen == NOON + dt.timedelta(seconds=1), "the first look that saw it"


def test_an_empty_file_is_none_yet(tmp_path):
    arrivals = watched(tmp_path)
    write(tmp_path / "a.csv", "", 1e9)
    assert looked(arrivals, 9) == []
    write(tmp_path / "a.csv", "1", 1e9)
    assert looked(arrivals, 9) == ["a.csv"]


def test_the_same_content_under_another_name_is_not_told_and_another_under_the_same_name_is(tmp_path):
    arrivals = watched(tmp_path)
    write(tmp_path / "last.csv", "pull 1", 1e9)
    assert looked(arrivals) == ["last.csv"]
    (tmp_path / "last.csv").rename(tmp_path / "kept.csv")
    write(tmp_path / "copy.csv", "pull 1", 1e9 + 5)
    assert looked(arrivals, 9) == []
    write(tmp_path / "last.csv", "pull 2", 1e9 + 9)
    assert looked(arrivals, 9) == ["last.csv"]
    write(tmp_path / "last.csv", "pull 3", 1e9 + 20)
    assert looked(arrivals, 9) == ["last.csv"]


def test_after_a_break_of_the_watching_only_what_came_after_the_last_that_was_logged_is_told(tmp_path):
    kept = write(tmp_path / "kept copy", "two", 5)
    place = tmp_path / "exports"
    place.mkdir()
    for number, text in enumerate(("one", "two", "three", "four")):
        write(place / f"{number}.csv", text, 1e9 + number)
    arrivals = watched(place, kept)
    assert arrivals.left_alone == 2
    found = [arrival for _ in range(4) for arrival in arrivals.look()]
    assert [(arrival.path.name, arrival.seen) for arrival in found] == [("2.csv", None), ("3.csv", None)]


def test_hidden_and_office_files_folders_and_what_is_gone_are_no_exports(tmp_path):
    arrivals = watched(tmp_path)
    for name in (".part", "~$lock.csv"):
        write(tmp_path / name, "x", 1e9)
    (tmp_path / "folder").mkdir()
    gone = write(tmp_path / "gone.csv", "y", 1e9)
    assert looked(arrivals, 2) == []
    gone.unlink()
    assert looked(arrivals, 5) == []


def test_a_file_too_large_to_be_a_pull_is_told_without_being_read(tmp_path, monkeypatch):
    arrivals = watched(tmp_path, largest=10)
    write(tmp_path / "huge.csv", "x" * 11, 1e9)
    monkeypatch.setattr(Path, "read_bytes", lambda path: pytest.fail("read"))
    assert looked(arrivals) == ["huge.csv"]


def test_a_folder_that_goes_and_comes_back_is_said_and_nothing_is_told_twice(tmp_path):
    place = tmp_path / "share"
    place.mkdir()
    arrivals = watched(place)
    write(place / "a.csv", "a", 1e9)
    assert looked(arrivals) == ["a.csv"]
    place.rename(tmp_path / "away")
    assert looked(arrivals) == []
    assert arrivals.fault
    (tmp_path / "away").rename(place)
    write(place / "b.csv", "b", 1e9)
    assert looked(arrivals, 5) == ["b.csv"]
    assert arrivals.fault is None


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.tuples(st.sampled_from("abc"), st.integers(1, 4)),  # a file gets a content
            st.tuples(st.sampled_from("abc"), st.just(0)),  # a file is taken away
            st.none(),  # a look
        ),
        max_size=40,
    )
)
def test_whatever_is_written_each_content_is_told_once_and_only_at_rest(steps):
    """Compared with a plain account of what lay how long in the folder."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        arrivals = watched(place)
        rest: dict[str, int] = {}
        content: dict[str, int] = {}
        told: list[int] = []
        for tick, step in enumerate([*steps, *[None] * LOOKS_AT_REST]):
            if step is None:
                found = arrivals.look()
                rest = {file: looks + 1 for file, looks in rest.items()}
                for arrival in found:
                    assert rest[arrival.path.name] >= LOOKS_AT_REST
                    told.append(content[arrival.path.name])
            elif step[1]:
                write(place / step[0], str(step[1]), 1e9 + tick)
                rest[step[0]], content[step[0]] = 0, step[1]
            elif step[0] in rest:
                (place / step[0]).unlink()
                del rest[step[0]], content[step[0]]
        assert len(told) == len(set(told))
        assert set(content.values()) <= set(told), "what lies there at the end was told"
