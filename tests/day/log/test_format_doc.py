"""docs/format.md is enough to read and check a journal: a reader written by the page alone agrees with ours."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import zlib
from pathlib import Path

from doe.day.log.journal import scan_journal

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs" / "format.md").read_text(encoding="utf-8")
VECTORS = ROOT / "tests" / "reference" / "journal_v2.journal"


def test_the_page_shows_the_vectors():
    assert VECTORS.read_text(encoding="utf-8") in PAGE


def test_a_reader_written_by_the_page_finds_the_chain_whole():
    data, before, number = VECTORS.read_bytes(), None, 0
    table = dict(re.findall(r"^\| (\d) \| `([0-9a-f]{8})` \|", PAGE, re.MULTILINE))
    hashes = dict(re.findall(r"^\| (\d) \| `[0-9a-f]{8}` \| `([0-9a-f]{64})`", PAGE, re.MULTILINE))
    begin = 0
    for line in data.splitlines():
        checksum, _, text = line.partition(b"\t")
        content = json.loads(text)
        number += 1
        assert int(checksum, 16) == zlib.crc32(text)
        assert content["n"] == number
        assert (table[str(number)], hashes[str(number)]) == (checksum.decode(), hashlib.sha256(line).hexdigest())
        if content["v"] == 2:
            assert content["prev"] == (before or hashlib.sha256(data[:begin]).hexdigest())
            before = hashlib.sha256(line).hexdigest()
        begin += len(line) + 1
    assert number == 4
    assert f"· {before[:4]} {before[4:8]}" in PAGE


def test_ours_reads_them_as_the_page_says(tmp_path):
    shutil.copy(VECTORS, tmp_path / "pulls.journal")
    scan = scan_journal(tmp_path)
    assert (scan.faults, scan.breaks, scan.unwitnessed, scan.head.n) == ((), (), 1, 4)
    told = [(event.n, event.event, event.row["pull"], event.redo, event.by_hand) for event in scan.events]
    assert told == [
        (1, "pull", "1", None, False),
        (2, "pull", "2", None, False),
        (3, "pull", "3", 2, False),
        (3, "void", "2", None, False),
        (4, "pull", "4", None, True),
    ]
