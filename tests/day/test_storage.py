"""Writing: all or nothing, one at a time, and words where a disk can't promise it."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from doe.day import storage
from doe.day.log.journal import append_events, mend_journal, scan_journal
from doe.day.records import Event
from doe.day.storage import (
    LOCK,
    append_synced,
    on_network,
    only_writer,
    take_unfinished,
    write_atomically,
    written_atomically,
)
from doe.errors import DoeError, InputError


def test_a_new_file_gets_the_usual_permissions_and_a_replaced_one_keeps_its_own(tmp_path):
    plain, new = tmp_path / "plain", tmp_path / "new"
    plain.touch()
    write_atomically(new, "a")
    assert stat.S_IMODE(new.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)
    new.chmod(0o600)
    write_atomically(new, "b")
    assert stat.S_IMODE(new.stat().st_mode) == 0o600
    assert sorted(path.name for path in tmp_path.iterdir()) == ["new", "plain"]


def test_what_a_stopped_holder_left_is_taken_away_and_who_holds_nothing_writes_on(tmp_path):
    with only_writer(tmp_path), written_atomically(tmp_path / "looks.csv"):
        (part,) = tmp_path.glob(".looks.csv.*")
    part.touch()  # as if the machine had stopped in between
    with written_atomically(tmp_path / "mine.csv") as file:
        with only_writer(tmp_path):
            take_unfinished(tmp_path)
        file.write("a")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["looks.csv", "mine.csv"]


def test_a_full_disk_leaves_nothing_of_what_was_added(tmp_path, monkeypatch):
    path = tmp_path / "log"
    path.write_bytes(b"old\n")
    write = os.write

    def full(handle: int, data: bytes) -> int:
        if len(data) < 6:
            raise OSError(28, "No space left on device")
        return write(handle, data[:3])

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(OSError, match="No space left"):
        append_synced(path, b"new line\n")
    assert path.read_bytes() == b"old\n"


def test_a_second_writer_waits_until_the_first_is_done(tmp_path, monkeypatch):
    """No race is hoped for: the first stays until the second has been seen to wait, or to come in all the same."""
    seen, met, story = threading.Event(), threading.Event(), []
    sleep = time.sleep
    monkeypatch.setattr(storage.time, "sleep", lambda seconds: seen.set() or sleep(seconds))

    def second() -> None:
        met.wait()
        with only_writer(tmp_path):
            story.append("second in")
            seen.set()

    other = threading.Thread(target=second)
    other.start()
    with only_writer(tmp_path):
        story.append("first in")
        met.set()
        seen.wait()
        story.append("first out")
    other.join()
    assert story == ["first in", "first out", "second in"]
    assert list(tmp_path.iterdir()) == []


def test_the_lock_holds_against_another_process_and_goes_with_it(tmp_path):
    code = (
        "import os, sys; from pathlib import Path; from doe.errors import DoeError\n"
        "from doe.day.storage import only_writer\n"
        "try:\n"
        "    with only_writer(Path(sys.argv[1]), 0.0):\n"
        "        print('in', flush=True); sys.stdin.readline(); os._exit(1)\n"
        "except DoeError: print('told', flush=True)\n"
    )

    def start() -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    with only_writer(tmp_path), start() as other:
        assert other.communicate("\n")[0] == "told\n"
    with start() as other:
        assert other.stdout.readline() == "in\n"
        with pytest.raises(DoeError, match="another doe has been writing here"), only_writer(tmp_path, 0.0):
            pytest.fail("two writers at once")
        other.communicate("\n")  # it ends without a word, as a machine that is switched off: its lock file stays
    assert [path.name for path in tmp_path.iterdir()] == [LOCK]
    with only_writer(tmp_path, 0.0):
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_held_is_told_in_words(tmp_path):
    def second() -> None:
        with only_writer(tmp_path, patience_seconds=0.05):
            pytest.fail("two writers at once")

    with (
        only_writer(tmp_path),
        ThreadPoolExecutor(1) as pool,
        pytest.raises(DoeError, match=r"another doe has been writing here for 0\.05 s, so nothing"),
    ):
        pool.submit(second).result()


def test_who_holds_a_folder_may_hold_it_again_and_gives_it_back_once(tmp_path):
    (tmp_path / "x").mkdir()
    with only_writer(tmp_path):
        with only_writer(tmp_path / "x" / ".."):
            pass
        assert (tmp_path / LOCK).is_file()
    assert not (tmp_path / LOCK).exists()


def test_a_folder_that_cannot_be_written_in_is_told_in_words(tmp_path):
    (tmp_path / LOCK).mkdir()
    with pytest.raises(DoeError, match="can't be written in"), only_writer(tmp_path):
        pytest.fail("no lock, no writing")


@pytest.mark.parametrize(
    ("kind", "network"), [("ext4", False), ("cifs", True), ("nfs4", True), ("fuse.sshfs", True), ("overlay", False)]
)
def test_a_network_share_is_seen(tmp_path, monkeypatch, kind, network):
    share = str(tmp_path / "the share").replace(" ", "\\040")
    monkeypatch.setattr(storage.sys, "platform", "linux")
    monkeypatch.setattr(
        Path, "read_text", lambda *args, **more: f"disk / ext4 rw 0 0\nserver:/x {share} {kind} rw 0 0\n"
    )
    assert on_network(tmp_path / "the share" / "my-day") is network
    assert on_network(tmp_path) is False


def event(n: int) -> Event:
    return Event(n, "pull", f"key-{n}", "2026-05-16T09:00:00+02:00", {"pull": str(n), "note": "größer"})


def test_events_come_back_as_they_were_written(tmp_path):
    append_events(tmp_path, [event(1)])
    append_events(tmp_path, [event(2)])
    append_events(tmp_path, [event(3)])
    assert list(scan_journal(tmp_path).events) == [event(1), event(2), event(3)]


@pytest.mark.parametrize("cut", [1, 5, 9, 40])
def test_a_torn_last_line_is_tolerated_and_taken_away_at_the_next_writing(tmp_path, cut):
    append_events(tmp_path, [event(1)])
    append_events(tmp_path, [event(2)])
    path = tmp_path / "pulls.journal"
    first = path.read_bytes().index(b"\n") + 1
    path.write_bytes(path.read_bytes()[: first + cut])
    assert list(scan_journal(tmp_path).events) == [event(1)]
    append_events(tmp_path, [event(2)])
    assert list(scan_journal(tmp_path).events) == [event(1), event(2)]
    assert scan_journal(tmp_path).faults == ()


def test_a_last_line_that_lacks_only_its_end_is_whole(tmp_path):
    append_events(tmp_path, [event(1)])
    path = tmp_path / "pulls.journal"
    path.write_bytes(path.read_bytes().removesuffix(b"\n"))
    assert list(scan_journal(tmp_path).events) == [event(1)]
    assert mend_journal(tmp_path) == []
    append_events(tmp_path, [event(2)])
    assert list(scan_journal(tmp_path).events) == [event(1), event(2)]


def test_a_bad_checksum_is_reported_with_its_line(tmp_path):
    for n in (1, 2, 3):
        append_events(tmp_path, [event(n)])
    path = tmp_path / "pulls.journal"
    path.write_bytes(path.read_bytes().replace(b"key-2", b"key-x"))
    assert list(scan_journal(tmp_path).events) == [event(1), event(3)]
    assert scan_journal(tmp_path).faults == (
        "pulls.journal, line 2: the checksum is wrong; the line is damaged and left out",
    )


def test_a_journal_of_a_newer_program_is_refused(tmp_path, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.lines.VERSION", 3)
        append_events(tmp_path, [event(1)])
    with pytest.raises(InputError, match="a newer program wrote it"):
        scan_journal(tmp_path)


@pytest.mark.skipif(os.name == "nt", reason="an open file can't be taken away there")
def test_a_lock_on_a_file_that_was_taken_away_meanwhile_is_no_lock(tmp_path, monkeypatch):
    """Who held it before takes the file with it: who waited with it would hold what nobody else sees."""
    real, tried = storage._try_lock, []

    def late(handle):
        if not tried:
            (tmp_path / storage.LOCK).unlink()
        tried.append(handle)
        return real(handle)

    monkeypatch.setattr(storage, "_try_lock", late)
    with storage.only_writer(tmp_path):
        assert (tmp_path / storage.LOCK).is_file()
    assert len(tried) == 2


def test_a_rename_is_synced_when_it_is_done(tmp_path, monkeypatch):
    seen = []
    monkeypatch.setattr(storage, "sync_folder", lambda folder: seen.append((folder, (tmp_path / "a").read_text())))
    storage.write_atomically(tmp_path / "a", "new")
    assert seen == [(tmp_path, "new")]
