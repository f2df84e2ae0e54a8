"""What stands before the noted end of the journal is not verified again, and nothing that is wrong gets by for that."""

from __future__ import annotations

import datetime as dt
import json
import random
import shutil
from pathlib import Path

import pytest
from day_files import day_file, factor

from doe.day.log import journal
from doe.day.log.chain import HEAD, read_note
from doe.day.log.events import append_event
from doe.day.log.journal import JournalScan, scan_journal
from doe.day.log.lines import content_of, known_contents
from doe.day.pilot.adopting import adopt
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.day.pilot.voiding import unvoid_pull, void_pull

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
REFERENCE = Path(__file__).parents[2] / "reference" / "journal_v2.journal"


@pytest.fixture(scope="module")
def ready(tmp_path_factory) -> Path:
    """A day with every kind of line: pulls, several at once, redone, void, undone, adopted, of another kind, clocks."""
    folder = tmp_path_factory.mktemp("ready")
    (folder / "day.toml").write_text(
        day_file(factor("oil", "15W-50", "0W-20 30 20 - 2.0", refit=True)), encoding="utf-8"
    )
    for at in range(4):
        record_pulls(folder, [Entry(value=400.0 + at, note="größer")], now=NOON + dt.timedelta(minutes=4 * at))
    record_pulls(folder, [Entry(value=405.0), Entry(value=406.0)])
    record_pulls(folder, [Entry(value=407.0, redo=3)], now=NOON + dt.timedelta(minutes=30))
    void_pull(folder, 2, "knock", now=NOON + dt.timedelta(minutes=32))
    unvoid_pull(folder, 2, now=NOON + dt.timedelta(minutes=33))
    append_event(folder, "of-a-later-version", {"list": [1, {"two": None}]})
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("401", "401.5"), encoding="utf-8")
    adopt(folder, "read again from the sheet", now=NOON + dt.timedelta(minutes=40))
    return folder


@pytest.fixture
def folder(ready: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return Path(shutil.copytree(ready, tmp_path / "day"))


def anew(folder: Path, *, whole: bool = False) -> JournalScan:
    """The journal as a new process reads it."""
    journal._last, journal._scanner = (b"", JournalScan()), None
    return scan_journal(folder, whole=whole)


@pytest.fixture
def verified(monkeypatch) -> list[bytes]:
    """The lines that were verified one by one."""
    seen: list[bytes] = []
    monkeypatch.setattr(journal, "content_of", lambda line: seen.append(line) or content_of(line))
    return seen


def test_it_reads_the_same_as_line_by_line(folder, verified):
    assert anew(folder) == anew(folder, whole=True)
    assert len(verified) == 10, "once, for the second"


def test_the_next_commands_verify_what_was_added_since_the_note(folder, verified):
    note = (folder / HEAD).read_bytes()
    record_pulls(folder, [Entry(value=410.0)], now=NOON + dt.timedelta(minutes=50))
    (folder / HEAD).write_bytes(note)  # as after a power cut
    verified.clear()
    anew(folder)
    assert len(verified) == 1
    record_pulls(folder, [Entry(value=411.0)], now=NOON + dt.timedelta(minutes=55))
    verified.clear()
    anew(folder)
    up_next(folder)
    assert verified == []
    check_folder(folder)
    assert len(verified) == 12, "a check verifies all"


def test_a_damage_anywhere_is_seen_as_line_by_line(folder):
    chance = random.Random(7)
    path = folder / "pulls.journal"
    lines = path.read_bytes().splitlines(keepends=True)
    for _ in range(20):
        at = chance.randrange(len(lines))
        line = bytearray(lines[at])
        line[chance.randrange(len(line))] ^= 1 << chance.randrange(8)
        damages = [
            [*lines[:at], bytes(line), *lines[at + 1 :]],
            [*lines[:at], *lines[at + 1 :]],
            [*lines[:at], lines[at], *lines[at:]],
            [*lines[:at], b"\n", *lines[at:]],
            lines[:at],
            [*lines, lines[at]],
            [one.replace(b"\n", b"\r\n") for one in lines],
            chance.sample(lines, len(lines)),
        ]
        for damage in damages:
            path.write_bytes(b"".join(damage))
            assert anew(folder) == anew(folder, whole=True)


@pytest.mark.parametrize(
    "other",
    [{"size": -1}, {"size": 10**9}, {"size": True}, {"size": "7"}, {"size": 5}, {"digest": None}, {"digest": "0" * 64}],
    ids=str,
)
def test_a_note_that_does_not_fit_is_not_believed(folder, other, verified):
    told = json.loads((folder / HEAD).read_bytes())
    (folder / HEAD).write_text(json.dumps({**told, **other}))
    found = anew(folder)
    assert len(verified) == 10
    assert found == anew(folder, whole=True)


def test_nothing_is_noted_as_sound_while_something_is_wrong(folder):
    assert read_note(folder).size == (folder / "pulls.journal").stat().st_size
    path = folder / "pulls.journal"
    path.write_bytes(path.read_bytes().replace(b'"403"', b'"443"'))
    record_pulls(folder, [Entry(value=420.0)], now=NOON + dt.timedelta(hours=1))
    assert read_note(folder).size == 0
    adopt(folder, "a slip of the editor", now=NOON + dt.timedelta(hours=1))
    record_pulls(folder, [Entry(value=421.0)], now=NOON + dt.timedelta(hours=1))
    assert read_note(folder).size == 0, "a damaged line is left out however often it is read"
    assert anew(folder).faults == ()


def test_lines_of_the_first_version_are_verified_each_time(folder, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    shutil.copy(folder / "day.toml", other)
    shutil.copy(REFERENCE, other / "pulls.journal")
    append_event(other, "of-a-later-version", {})
    assert read_note(other).size == 0
    assert anew(other).unwitnessed == 1


def test_what_can_not_be_read_at_once_is_read_line_by_line():
    data = REFERENCE.read_bytes().partition(b"\n")[2]
    assert [content["n"] for content in known_contents(data)] == [2, 3, 4]
    for broken in (b"\n" + data, data.replace(b'"n":', b'"m":'), data.replace(b"{", b"", 1), b"", b"[" * 10**5 + b"\n"):
        assert not known_contents(broken)


def test_only_the_end_that_is_noted_is_noted_as_read(folder):
    before = scan_journal(folder).head
    append_event(folder, "of-a-later-version", {})
    assert journal.read_through(folder, before) == (0, "")
    assert journal.read_through(folder, scan_journal(folder).head)[0] == (folder / "pulls.journal").stat().st_size
