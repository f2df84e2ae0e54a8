"""A second read from the cache: the same numbers, and never those of another content."""

import os
import time

import numpy as np
import pytest

from doe.cell.traces import cache as cache_module
from doe.cell.traces.cache import TraceCache
from doe.cell.traces.export_file import parse_all, read_columns
from doe.cell.traces.layout import Layout
from doe.errors import InputError

LAYOUT = Layout({"rpm": "n", "torque": "T"}, {"torque": "N m"})
HOUR = 3600 * 10**9


@pytest.fixture
def export(tmp_path, sweep, written):
    path = tmp_path / "pull.csv"

    def write(factor=1.0, age_ns=HOUR):
        made = sweep(hertz=5)
        path.write_bytes(written({"n": made.rpm, "T": made.torque * factor}))
        at = time.time_ns() - age_ns
        os.utime(path, ns=(at, at))
        return path

    return write


@pytest.fixture
def parsed(monkeypatch):
    """Which exports were parsed."""
    calls = []

    def count(exports, layout):
        calls.extend(file for _, file in exports)
        return parse_all(exports, layout)

    monkeypatch.setattr(cache_module, "parse_all", count)
    return calls


def same(one, other):
    assert one.units == other.units
    assert list(one.values) == list(other.values)
    for name in one.values:
        np.testing.assert_array_equal(one.values[name], other.values[name])


def test_new_known_and_changed_exports_are_told_in_their_order_and_only_the_others_are_parsed(
    tmp_path, export, parsed, monkeypatch
):
    monkeypatch.setattr(cache_module, "_MOST_WAITING", 4)
    cache, paths = TraceCache(tmp_path / "cache"), []
    for number in range(11):
        paths.append(export(1 + number / 100).rename(tmp_path / f"{number}.csv"))
    list(cache.read_each(paths[::2], LAYOUT))
    export(7.0).replace(paths[4])
    parsed.clear()
    for path, columns in zip(paths, cache.read_each(paths, LAYOUT), strict=True):
        assert columns.file == path.name
        same(columns, read_columns(path, LAYOUT))
    assert sorted(parsed) == sorted(["1.csv", "3.csv", "4.csv", "5.csv", "7.csv", "9.csv"])


def test_a_second_read_is_the_first_without_parsing(tmp_path, export, parsed):
    path, cache = export(), TraceCache(tmp_path / "cache")
    first, second = cache.read(path, LAYOUT), cache.read(path, LAYOUT)
    same(first, read_columns(path, LAYOUT))
    same(second, first)
    assert len(parsed) == 1


def test_a_new_content_is_read_anew(tmp_path, export, parsed):
    cache = TraceCache(tmp_path / "cache")
    before = cache.read(export(), LAYOUT).values["torque"].copy()
    after = cache.read(export(0.5), LAYOUT).values["torque"]
    np.testing.assert_allclose(after, before / 2, rtol=1e-5)
    assert len(parsed) == 2


def test_a_copy_of_the_same_content_is_not_parsed_again(tmp_path, export, parsed):
    cache = TraceCache(tmp_path / "cache")
    cache.read(export(), LAYOUT)
    cache.read(export(age_ns=2 * HOUR), LAYOUT)
    assert len(parsed) == 1


def test_a_fresh_file_is_trusted_by_its_hash_alone(tmp_path, export, parsed):
    # Same size and same time, other content: written within one tick of the clock.
    cache, path = TraceCache(tmp_path / "cache"), export(age_ns=0)
    before, state = cache.read(path, LAYOUT), path.stat()
    data = path.read_bytes()
    path.write_bytes(data.replace(b"400", b"300", 1))
    os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert path.stat().st_size == state.st_size
    after = cache.read(path, LAYOUT)
    assert not np.array_equal(before.values["torque"], after.values["torque"])
    assert len(parsed) == 2


def test_another_layout_is_another_entry(tmp_path, export):
    cache, path = TraceCache(tmp_path / "cache"), export()
    cache.read(path, LAYOUT)
    pounds = Layout(LAYOUT.columns, {"torque": "lb ft"})
    assert cache.read(path, pounds).units["torque"] == "lb ft"


@pytest.mark.parametrize("damage", [b"", b"{}\n", b'{"format": 1}\nxx', b"\0" * 90])
def test_a_damaged_entry_is_made_anew(tmp_path, export, damage):
    cache, path = TraceCache(tmp_path / "cache"), export()
    cache.read(path, LAYOUT)
    for entry in cache.folder.iterdir():
        entry.write_bytes(damage)
    same(cache.read(path, LAYOUT), read_columns(path, LAYOUT))


def test_a_cache_that_cannot_be_written_is_no_fault(tmp_path, export):
    (tmp_path / "cache").write_text("a file")
    path = export()
    same(TraceCache(tmp_path / "cache").read(path, LAYOUT), read_columns(path, LAYOUT))


def test_faults_are_those_of_the_reader(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        TraceCache(tmp_path / "cache").read(tmp_path / "no.csv", LAYOUT)
