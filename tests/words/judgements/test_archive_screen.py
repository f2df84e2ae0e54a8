"""The verdicts of an archive on a terminal."""

from __future__ import annotations

from doe.analysis.archive.verdicts_of_archive import VerdictRow
from doe.words.judgements.archive_screen import WHOLE, archive_screen
from doe.words.screen import Grid

ROWS = (
    VerdictRow("/shelf/monday", unit="hp", factor="oil", level="thin", gain=2.812, family_low=1.2, family_high=4.4,
               verdict="real gain"),
    VerdictRow("/shelf/monday", unit="hp", factor="vacuum", level="on", gain=0.2, family_low=-0.05, family_high=0.45,
               verdict="not settled"),
    VerdictRow("/shelf/tuesday", fault="pulls.csv, row 2: 'lots' is not a number"),
)  # fmt: skip


def test_a_row_a_change_a_day_named_once_and_a_fault_in_its_place():
    screen = archive_screen(ROWS)
    assert screen.first == ("2 days, each judged for itself: 1 x real gain, 1 x not settled and 1 x without a verdict.")
    table, last = screen.parts
    assert isinstance(table, Grid) and last == WHOLE
    assert [[cell.text for cell in row] for row in table.rows] == [
        ["monday", "oil thin", "+2.8 hp", "(+1.2 to +4.4)", "real gain"],
        ["", "vacuum on", "+0.20 hp", "(-0.05 to +0.45)", "not settled"],
        ["tuesday", "", "-", "-", "pulls.csv, row 2: 'lots' is not a number"],
    ]
    assert [row[-1].tone for row in table.rows] == ["good", "open", "open"]
    assert max(map(len, screen.plain(60).splitlines())) <= 60
