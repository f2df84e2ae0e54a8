"""`usual` in [cell] of a day.toml that a person has commented."""

from __future__ import annotations

from day_files import day_file, factor

from doe.day.files.dayfile import read_day_file
from doe.day.files.seal import seal_of
from doe.day.pilot.settings.usual_key import save_usual


def test_it_is_written_and_nothing_else_changes(tmp_path):
    text = day_file(factor("vacuum", "off", "on 2 2 0 1.5")).replace("[cell]", "[cell]  # of the old dyno")
    (tmp_path / "day.toml").write_text(text, encoding="utf-8")
    before = read_day_file(tmp_path)
    save_usual(tmp_path, 203.56789, 206.0)
    save_usual(tmp_path, 203.61234, 206.0)
    after = read_day_file(tmp_path)
    assert after.cell.usual == (203.61, 206.0)
    assert after.model_copy(update={"cell": before.cell}) == before
    assert seal_of(after) == seal_of(before)
    assert "# of the old dyno" in (tmp_path / "day.toml").read_text(encoding="utf-8")
