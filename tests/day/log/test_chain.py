"""The chain of the journal: whatever is lost, edited or moved is told, stops nothing, and is closed by one event."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
import zlib
from pathlib import Path

import pytest

from doe.day.files.dayfile import read_day_file
from doe.day.log.chain import HEAD, read_note
from doe.day.log.journal import append_events, scan_journal
from doe.day.log.reading import read_log
from doe.day.pilot.adopting import adopt
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import unvoid_pull, void_pull
from doe.day.records import Event
from doe.errors import InputError

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    """Five events, four pulls, with notes so that lines differ."""
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    for at in range(4):
        record_pulls(tmp_path, [Entry(value=400.0 + at)], now=NOON + dt.timedelta(minutes=4 * at))
    void_pull(tmp_path, 2, "knock", now=NOON + dt.timedelta(minutes=20))
    return tmp_path


def lines_of(folder: Path) -> list[bytes]:
    return (folder / "pulls.journal").read_bytes().splitlines(keepends=True)


def rewrite(folder: Path, lines: list[bytes]) -> None:
    (folder / "pulls.journal").write_bytes(b"".join(lines))


def forged(line: bytes, old: bytes, new: bytes) -> bytes:
    """A line edited by somebody who knows of the checksum."""
    text = line.partition(b"\t")[2].rstrip(b"\n")
    assert old in text
    text = text.replace(old, new)
    return b"%08x\t%s\n" % (zlib.crc32(text), text)


def test_each_line_names_the_one_before_and_the_head_the_last(folder):
    lines = [line.rstrip(b"\n") for line in lines_of(folder)]
    told = [json.loads(line.partition(b"\t")[2]) for line in lines]
    assert [content["n"] for content in told] == [1, 2, 3, 4, 5]
    hashes = [hashlib.sha256(line).hexdigest() for line in lines]
    assert [content["prev"] for content in told] == [hashlib.sha256(b"").hexdigest(), *hashes[:-1]]
    note = read_note(folder)
    noted, tables = note.head, note.tables
    assert (noted.n, noted.hash) == (5, hashes[-1])
    assert tables["pulls.csv"] == hashlib.sha256((folder / "pulls.csv").read_bytes()).hexdigest()
    assert scan_journal(folder).head == noted


def test_the_acknowledgement_shows_the_head(folder):
    for answer in (record_pulls(folder, [Entry(value=1.0)]), unvoid_pull(folder, 2), void_pull(folder, 1, "x")):
        head = scan_journal(folder).head if answer.head.n == 8 else answer.head
        assert answer.to_text().splitlines()[0].endswith(f" · {head.hash[:4]} {head.hash[4:8]}")
        assert answer.to_dict()["head"] == head.hash


def test_one_command_is_one_line(folder):
    record_pulls(folder, [Entry(value=410.0), Entry(value=411.0), Entry(value=412.0)])
    record_pulls(folder, [Entry(spoiled="missed the gear")])
    record_pulls(folder, [Entry(value=409.0, redo=3)])
    assert len(lines_of(folder)) == 8
    changes = json.loads(lines_of(folder)[-1].partition(b"\t")[2])["changes"]
    assert [change.get("redo") for change in changes if change["event"] == "pull"] == [3]
    pulls = read_log(folder, read_day_file(folder), None).pulls
    assert [pull.number for pull in pulls if pull.void] == [2, 3, 8]


DAMAGES = {
    "a line is lost": (lambda lines: [*lines[:2], *lines[3:]], "event 3 is missing before event 4 (line 3)"),
    "two are lost": (lambda lines: [*lines[:1], *lines[3:]], "events 2 to 3 are missing before event 4 (line 2)"),
    "the first is lost": (lambda lines: lines[1:], "event 1 is missing before event 2 (line 1)"),
    "a value is edited": (
        lambda lines: [lines[0], forged(lines[1], b'"401"', b'"441"'), *lines[2:]],
        "what stands before event 3 was changed (line 3)",
    ),
    "two are moved": (lambda lines: [lines[0], lines[2], lines[1], *lines[3:]], "event 2 is missing before event 3"),
    "one stands there twice": (
        lambda lines: [*lines[:2], lines[1], *lines[2:]],
        "what stands before event 2 was changed",
    ),
    "the end is lost": (lambda lines: lines[:-1], "event 5 is gone that .pulls.head tells of"),
    "the last is edited": (
        lambda lines: [*lines[:-1], forged(lines[-1], b"knock", b"hands")],
        "event 5 is gone that .pulls.head tells of",
    ),
    "all is lost": (lambda lines: [], "events 1 to 5 are gone that .pulls.head tells of"),
}


@pytest.mark.parametrize("name", DAMAGES)
def test_damage_is_told_by_every_command_stops_nothing_and_is_closed_by_an_event(folder, name):
    damage, told = DAMAGES[name]
    rewrite(folder, damage(lines_of(folder)))
    day = read_day_file(folder)
    log = read_log(folder, day, None)
    assert [pull.number for pull in log.pulls] == [1, 2, 3, 4]
    assert [line for line in log.warnings if told in line and "doe check --adopt --why" in line]
    recorded = record_pulls(folder, [Entry(value=450.0)], now=NOON + dt.timedelta(hours=1))
    assert recorded.pulls[0].number == 5, "the number of a pull is never given twice"
    assert any(told in note.text for note in recorded.notes)
    assert any(told in note.text for note in void_pull(folder, 5, "only a test").notes), "it stays told"
    remaining = check_folder(folder).remaining
    assert len(remaining) == 1
    assert told in remaining[0]
    adopted = adopt(folder, "the stick was pulled")
    assert adopted.remaining == ()
    assert any(told in line for line in adopted.mended)
    last = json.loads(lines_of(folder)[-1].partition(b"\t")[2])
    assert (last["event"], last["why"], len(last["closes"]) > 0) == ("adopt", "the stick was pulled", True)
    assert not any("broken" in note.code for note in read_log(folder, day, None).notes)
    record_pulls(folder, [Entry(value=451.0)], now=NOON + dt.timedelta(hours=2))
    assert check_folder(folder).remaining == ()


def test_rows_by_hand_are_taken_in_first_so_that_numbers_never_collide(folder):
    with (folder / "pulls.csv").open("a", encoding="utf-8") as file:
        file.write("7,,13:00,,15W-50,off,404.5,yes,,by hand\n")
    recorded = record_pulls(folder, [Entry(value=405.0)], now=NOON + dt.timedelta(hours=3))
    assert recorded.pulls[0].number == 8
    assert any("taken into the log as it stands: pull 7" in note.text for note in recorded.notes)
    assert check_folder(folder).notes == ()
    pulls = read_log(folder, read_day_file(folder), None).pulls
    (folder / "pulls.csv").unlink()
    log = read_log(folder, read_day_file(folder), None)
    assert log.pulls == pulls
    assert log.pulls[4].note == "by hand"


def test_an_edited_value_counts_and_is_marked_until_it_is_adopted(folder):
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",402,", ",402.5,"), encoding="utf-8")
    (folder / "voids.csv").open("a", encoding="utf-8").write("4,,wheel slip,\n")
    log = read_log(folder, read_day_file(folder), None)
    assert log.pulls[2].values["mean power"] == 402.5
    assert [line for line in log.warnings if line.endswith("(not witnessed by the log)")]
    adopt(folder, "misread the screen")
    log = read_log(folder, read_day_file(folder), None)
    assert (log.pulls[2].values["mean power"], log.pulls[3].void, log.warnings) == (402.5, "wheel slip", ())
    path.unlink()
    (folder / "voids.csv").unlink()
    assert read_log(folder, read_day_file(folder), None).pulls == log.pulls
    with pytest.raises(InputError, match="nothing to adopt"):
        adopt(folder, "again") if check_folder(folder) else None
    with pytest.raises(InputError, match="say what happened"):
        adopt(folder, "  ")


def test_a_reason_that_sounds_like_a_redo_is_none(folder):
    void_pull(folder, 1, "logged again as pull 4")
    pulls = read_log(folder, read_day_file(folder), None).pulls
    assert [pull.redo for pull in pulls] == [None] * 4


def test_a_journal_of_version_1_reads_goes_on_and_is_hashed_whole(folder):
    old = [
        b'{"v":1,"n":%d,"event":"pull","key":"k","at":"2026-05-16T10:0%d:00+02:00","row":{"pull":"%d","time":'
        b'"2026-05-16T10:0%d:00+02:00","install":"1","oil":"15W-50","crankcase vacuum":"off","mean power":"400",'
        b'"count":"yes"}}' % (n, n, n, n)
        for n in (1, 2)
    ]
    void = (
        b'{"v":1,"n":3,"event":"void","key":"k","at":"2026-05-16T10:02:00+02:00","row":{"pull":"1","time":'
        b'"2026-05-16T10:02:00+02:00","why":"logged again as pull 2"}}'
    )
    for path in folder.iterdir():
        path.name == "day.toml" or path.unlink()
    data = b"".join(b"%08x\t%s\n" % (zlib.crc32(text), text) for text in (*old, void))
    (folder / "pulls.journal").write_bytes(data)
    pulls = read_log(folder, read_day_file(folder), None).pulls
    assert [(pull.void, pull.redo) for pull in pulls] == [("logged again as pull 2", None), (None, 1)]
    record_pulls(folder, [Entry(value=401.0)], now=NOON)
    first = json.loads(lines_of(folder)[-1].partition(b"\t")[2])
    assert (first["v"], first["n"], first["prev"]) == (2, 4, hashlib.sha256(data).hexdigest())
    checked = check_folder(folder)
    assert checked.remaining == ()
    assert any("does not witness 3 lines of pulls.journal" in note.text for note in checked.notes)
    rewrite(folder, [forged(lines_of(folder)[0], b'"400"', b'"500"'), *lines_of(folder)[1:]])
    assert "what stands before event 4 was changed" in check_folder(folder).remaining[0]


@pytest.mark.parametrize("text", ["", "{}", "[]", "nonsense", '{"n":"5","hash":1,"tables":[]}', "\0" * 50])
def test_a_head_that_cannot_be_read_is_made_anew_by_the_next_event(folder, text):
    (folder / HEAD).write_text(text)
    assert read_log(folder, read_day_file(folder), None).warnings == ()
    assert "head-made-anew" in [note.code for note in check_folder(folder).notes]
    assert read_note(folder).head == scan_journal(folder).head


def test_a_head_that_lags_is_no_break(folder):
    before = (folder / HEAD).read_bytes()
    record_pulls(folder, [Entry(value=405.0)], now=NOON + dt.timedelta(minutes=30))
    (folder / HEAD).write_bytes(before)
    assert not scan_journal(folder).breaks
    assert check_folder(folder).notes == ()
    assert read_note(folder).head.n == 6


def test_a_table_that_something_else_changed_is_told_by_its_digest(folder):
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",", ";"), encoding="utf-8")
    (note,) = check_folder(folder).notes
    assert (note.code, note.where) == ("changed-outside", "pulls.csv")


@pytest.mark.parametrize("kept", ["begun", "finished", "noise-study", "replanned"])
def test_a_folder_of_the_first_version_is_sound_and_goes_on(kept, tmp_path):
    source = Path(__file__).parents[2] / "kept_folders" / "first_version" / kept
    folder = tmp_path / kept
    shutil.copytree(source, folder)
    day = read_day_file(folder)
    before = read_log(folder, day, None)
    assert not scan_journal(folder).breaks
    recorded = record_pulls(folder, [Entry(value=before.pulls[-1].values.get(day.metric.name, 400.0))])
    after = read_log(folder, day, None)
    assert after.pulls[: len(before.pulls)] == before.pulls
    assert after.pulls[-1].number == recorded.pulls[0].number
    assert check_folder(folder).remaining == ()


def test_an_event_that_is_not_known_yet_is_of_the_chain(tmp_path):
    head = append_events(tmp_path, [Event(0, "void", "k", "2026-05-16T10:00:00+02:00", {"pull": "1"})])
    text = json.dumps({"v": 2, "n": 2, "prev": head.hash, "event": "close", "key": "k", "at": "", "hours": 8}).encode()
    with (tmp_path / "pulls.journal").open("ab") as file:
        file.write(b"%08x\t%s\n" % (zlib.crc32(text), text))
    scan = scan_journal(tmp_path)
    assert (scan.faults, scan.breaks, scan.head.n, len(scan.events)) == ((), (), 2, 1)


def test_the_log_names_its_end_for_the_report(folder):
    assert read_log(folder, read_day_file(folder), None).head == scan_journal(folder).head.shown


def test_behind_a_damaged_line_the_chain_is_followed_again(folder):
    lines = lines_of(folder)
    lines[1] = lines[1].replace(b"\t", b" \t", 1)  # no line of ours any more
    lines[3] = forged(lines[3], b"403", b"413")
    rewrite(folder, lines)
    scan = scan_journal(folder)
    assert len(scan.faults) == 1
    assert "event 5 was changed" in scan.broken, "the line behind the forged one names another before it"


def test_line_ends_that_something_made_windows_own_break_no_chain(folder):
    rewrite(folder, [line.removesuffix(b"\n") + b"\r\n" for line in lines_of(folder)])
    scan = scan_journal(folder)
    assert (scan.faults, scan.breaks, len(scan.events)) == ((), (), 5)
