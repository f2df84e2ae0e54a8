"""Lines of the journal whose checksum is right and whose shape is wrong: told in words, left out, and nothing stops."""

from __future__ import annotations

import json
import zlib
from pathlib import Path

import pytest
from typed import typed

from doe.day.files.dayfile import read_day_file
from doe.day.log.chain import digest
from doe.day.log.journal import scan_journal
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import void_pull
from doe.errors import DoeError, InputError

EVENT = {
    "v": 1,
    "n": 2,
    "event": "pull",
    "key": "k",
    "at": "2026-05-16T10:00:00+02:00",
    "row": {"pull": "2", "time": "2026-05-16T10:00:00+02:00", "oil": "15W-50", "mean power": "300", "count": "yes"},
}
ROW = EVENT["row"]
SHAPES = [
    b"",
    b"[]",
    b"null",
    b"1",
    b'"pull"',
    b"{}",
    b"{",
    b"\xff\xfe",
    b"[" * 100_000,
    b'{"v":1,"n":' + b"9" * 5000 + b"}",
    b'{"v":NaN}',
    *(json.dumps({k: v for k, v in EVENT.items() if k != left_out}).encode() for left_out in EVENT),
    *(
        json.dumps({**EVENT, key: value}).encode()
        for key in EVENT
        for value in (None, [], {}, "x", -1, 1.5, True, 10**30, 1e300, [[]])
        if not (key in ("key", "at") and value == "x") and not (key == "v" and value in (True, 10**30, 1e300))
        and not (key == "n" and value is True)
    ),
    *(
        json.dumps({**EVENT, "row": {**ROW, "pull": pull}}).encode()
        for pull in ("", "0", "-1", "x", "²", "1.5", "9" * 5000, None, 2)
    ),
    json.dumps({**EVENT, "row": {**ROW, "mean power": 300}}).encode(),
    json.dumps({**EVENT, "row": {**ROW, "note": None}}).encode(),
]  # fmt: skip
# Readable as an event; what its row says can't be used.
ROWS = [
    {**ROW, "mean power": "1e999"},
    {**ROW, "time": "0001-01-01T00:00:00+14:00"},
    {**ROW, "time": "9999-12-31T23:59:59-14:00"},
    {**ROW, "oil": "no such oil"},
    {**ROW, "install": "9" * 5000},
    {"pull": "2"},
]


def journal_line(content: bytes) -> bytes:
    return b"%08x\t%s\n" % (zlib.crc32(content), content)


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    record_pulls(tmp_path, [Entry(value=200.0)])
    return tmp_path


def add(folder: Path, content: bytes) -> None:
    with (folder / "pulls.journal").open("ab") as file:
        file.write(journal_line(content))


def test_every_wrong_shape_is_a_damaged_line(folder):
    for content in SHAPES:
        add(folder, content)
    scan = scan_journal(folder)
    assert (len(scan.events), len(scan.faults)) == (1, len(SHAPES))
    assert sum("it holds no event" in fault for fault in scan.faults) == len(SHAPES) - 1  # but the empty one
    record_pulls(folder, [Entry(value=201.0)])
    void_pull(folder, 1, "knock")
    assert [pull.void for pull in read_log(folder, read_day_file(folder), None).pulls] == ["knock", None]
    assert len(check_folder(folder).remaining) == len(SHAPES)


@pytest.mark.parametrize("version", [3, 10**30])
def test_a_newer_version_is_told(folder, version):
    add(folder, json.dumps({**EVENT, "v": version}).encode())
    with pytest.raises(InputError, match="a newer program wrote it"):
        scan_journal(folder)


@pytest.mark.parametrize("number", [2, "two"])
def test_a_number_typed_behind_a_line_of_a_newer_program_is_taken(folder, number):
    head = scan_journal(folder).head
    add(folder, json.dumps({"v": 3, "n": number, "prev": head.hash, "as it": "likes"}).encode())
    for _ in range(2):
        done = typed("record", folder, "402.5", "--note", "größer")
        assert (done.returncode, done.stdout.splitlines()[0].split(", typed at")[0]) == (0, "logged 402.5")
        assert "a newer program wrote it: use that one" in done.stdout
    for command in ("next", "check", "judge", "sheet", "void"):
        done = typed(command, folder, *["--why", "x"] * (command == "void"))
        assert (done.returncode, "a newer program wrote it" in done.stderr) == (2, True)
    lines = (folder / "pulls.journal").read_bytes().splitlines()
    told = [json.loads(line.partition(b"\t")[2]) for line in lines]
    assert [content["event"] for content in told[2:]] == ["unplaced", "unplaced"]
    assert [content["n"] for content in told[2:]] == [3, 4], "nothing is lost in the chain that the newer one reads"
    assert [content["prev"] for content in told[2:]] == [digest(line) for line in lines[1:3]]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: next(iter({**row}.items() - ROW.items()), ("pull", ""))[0])
def test_a_row_that_cannot_be_used_is_told_and_the_lock_is_free(folder, row):
    add(folder, json.dumps({**EVENT, "row": row}).encode())
    for command in (
        lambda: record_pulls(folder, [Entry(value=201.0)]),
        lambda: void_pull(folder, 1, "knock"),
        lambda: check_folder(folder),
    ):
        try:
            command()
        except DoeError as error:
            assert "pulls.journal" in str(error) or "pulls.csv" in str(error), error
        assert not (folder / ".pulls.lock").exists()
