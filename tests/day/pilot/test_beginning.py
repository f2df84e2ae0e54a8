"""Nothing that is wrong with a file is a reason not to log a number: damaged tables, rows by hand, a wrong day.toml."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest
from typed import typed

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.log.events import events_of
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.pilot.beginning import FolderError
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.said import Said
from doe.day.pilot.unplaced import log_unplaced
from doe.day.pilot.upnext import up_next
from doe.day.pilot.voiding import void_pull
from doe.day.records import Stint
from doe.errors import InputError

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
BY_HAND = "6,,11:40,,15W-50,off,406,yes,,\n7,,11:44,,15W-50,off,?,yes,,\n"


def later(minutes: float) -> dt.datetime:
    return NOON + dt.timedelta(minutes=minutes)


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    """Four pulls, the second of them void."""
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    for at in range(4):
        record_pulls(tmp_path, [Entry(value=400.0 + at, columns={"knock": 1.0})], now=later(4 * at))
    void_pull(tmp_path, 2, "knock", now=later(17))
    return tmp_path


def numbers(folder: Path) -> dict[int, float]:
    pulls = read_log(folder, read_day_file(folder), followed_plan(folder, read_day_file(folder))).pulls
    return {pull.number: pull.values["mean power"] for pull in pulls if pull.void is None}


DAMAGES = {
    "a bad cell": lambda text: text.replace("402", "4x2"),
    "no table at all": lambda text: ";;;;\n;;;;\n",
    "a level respelled": lambda text: text.replace("15W-50", "thick", 2),
    "an impossible date": lambda text: text.replace("2026-05-16T11:04:00+02:00", "16.5.2026 25:04"),
    "a column gone": lambda text: "\n".join(line.partition(",")[2] for line in text.splitlines()).replace("oil", "x"),
    "bytes": lambda text: "\0\1" * 50,
    "a number twice": lambda text: text + text.splitlines()[1] + "\n",
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_a_damaged_table_is_set_aside_and_made_anew(folder, damage):
    path = folder / "pulls.csv"
    whole = path.read_text(encoding="utf-8")
    path.write_text(damage(whole), encoding="utf-8")
    damaged = path.read_bytes()
    assert up_next(folder, now=NOON).step is None  # it goes on, and changes nothing
    assert path.read_bytes() == damaged
    recorded = record_pulls(folder, [Entry(value=404.0, columns={"knock": 1.0})], now=later(20))
    assert recorded.pulls[0].number == 5
    (note,) = [note for note in recorded.told if note.code == "table-set-aside"]
    assert "pulls-damaged-1.csv" in note.text
    assert (folder / "pulls-damaged-1.csv").read_bytes() == damaged
    assert path.read_text(encoding="utf-8").startswith(whole)
    assert numbers(folder) == {1: 400.0, 3: 402.0, 4: 403.0, 5: 404.0}
    checked = check_folder(folder)
    assert (checked.mended, checked.remaining) == ((), ())
    assert any("pulls-damaged-1.csv" in note.text for note in checked.notes)


def test_a_damaged_list_of_voids_is_set_aside_and_keeps_what_was_written_by_hand(folder):
    path = folder / "voids.csv"
    path.write_text(path.read_text(encoding="utf-8") + "3,,by hand,\nx,,slip,\n", encoding="utf-8")
    record_pulls(folder, [Entry(value=404.0)], now=later(20))
    assert set(numbers(folder)) == {1, 4, 5}
    assert (folder / "voids-damaged-1.csv").exists()
    assert "by hand" in path.read_text(encoding="utf-8")
    assert check_folder(folder).remaining == ()


@pytest.mark.parametrize("rows", ["x,y,z\n", "4,knock,abc\n"])
def test_damaged_readings_hinder_nobody(folder, rows):
    path = folder / "readings.csv"
    path.write_text(rows if "x" in rows else path.read_text(encoding="utf-8") + rows, encoding="utf-8")
    recorded = record_pulls(folder, [Entry(value=404.0, columns={"knock": 2.0})], now=later(20))
    assert recorded.pulls[0].number == 5
    assert "readings.csv" in " ".join(note.text for note in (*recorded.told, *up_next(folder, now=NOON).notes))


@pytest.mark.parametrize("command", ["record", "void"])
def test_sound_rows_by_hand_of_a_damaged_table_join_the_log_and_unsound_ones_keep_their_numbers(folder, command):
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8") + BY_HAND, encoding="utf-8")
    if command == "void":
        void_pull(folder, 4, "knock", now=later(20))
    assert record_pulls(folder, [Entry(value=408.0)], now=later(60)).pulls[0].number == 8
    assert numbers(folder)[6] == 406.0
    (aside,) = events_of(folder, "set-aside")
    assert aside.payload["left_out"] == [7]
    assert record_pulls(folder, [Entry(value=409.0)], now=later(64)).pulls[0].number == 9


def test_a_folder_without_a_journal_is_taken_in_even_where_a_row_is_wrong(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    (tmp_path / "pulls.csv").write_text("oil,crankcase vacuum,mean power\n15W-50,off,400\nthick,off,401\n", "utf-8")
    recorded = record_pulls(tmp_path, [Entry(value=402.0)], now=NOON)
    assert recorded.pulls[0].number == 3
    assert numbers(tmp_path) == {1: 400.0, 3: 402.0}
    assert "pull 2" in " ".join(note.text for note in recorded.told)


def test_with_a_wrong_day_file_a_number_is_logged_and_placed_once_it_reads(folder):
    file, whole = folder / "day.toml", (folder / "day.toml").read_text(encoding="utf-8")
    file.write_text(whole.replace("pull_minutes = 4", 'pull_minutes = "4'), encoding="utf-8")
    with pytest.raises(InputError) as fault:
        read_day_file(folder)
    unplaced = log_unplaced(folder, Said(("404,5",), note="windy"), fault.value, now=later(20))
    log_unplaced(folder, Said(("405", "406"), settings=("oil=unheard of",)), fault.value, now=later(28))
    log_unplaced(folder, Said(("-3",)), fault.value, now=later(29))
    assert (
        unplaced.to_text().splitlines()[0]
        == f"logged 404,5, typed at 11:20, without a place yet · {unplaced.written.head.shown}"
    )
    file.write_text(whole, encoding="utf-8")
    assert "numbers-waiting" in [note.code for note in up_next(folder, now=NOON).notes]
    recorded = record_pulls(folder, [Entry(value=407.0)], now=later(32))
    assert [pull.values.get("mean power") for pull in recorded.pulls] == [404.5, 405.0, 406.0, None, 407.0]
    assert recorded.placed == 4
    assert [f"{pull.time:%H:%M}" for pull in recorded.pulls] == ["11:20", "11:24", "11:28", "11:29", "11:32"]
    assert recorded.pulls[0].note == "windy"
    assert "unheard of" in recorded.pulls[1].void
    assert "-3" in recorded.pulls[3].void
    assert set(numbers(folder)) == {1, 3, 4, 5, 9}
    assert check_folder(folder).remaining == ()
    assert record_pulls(folder, [Entry(value=408.0)], now=later(36)).pulls[0].number == 10


def test_a_check_gives_the_place_too(folder):
    log_unplaced(folder, Said(("404",)), InputError("day.toml is wrong"), now=later(20))
    assert any("placed" in line for line in check_folder(folder).mended)
    assert numbers(folder)[5] == 404.0
    assert check_folder(folder).mended == ()


def test_what_is_no_number_and_where_there_is_no_day_is_refused(folder, tmp_path_factory):
    fault = InputError("day.toml is wrong")
    for said in (Said(("4x",)), Said()):
        with pytest.raises(InputError):
            log_unplaced(folder, said, fault)
    with pytest.raises(InputError, match="is wrong"):
        log_unplaced(tmp_path_factory.mktemp("empty"), Said(("404",)), fault)


def test_a_plan_that_nobody_can_read_leaves_the_number_unplaced(folder):
    day = read_day_file(folder)
    write_plan(folder, lay_out(day, [Stint(day.baseline, 9)]), {})
    plan = (folder / "plan.csv").read_bytes()
    (folder / "plan.csv").write_text(";;;;\n", encoding="utf-8")
    with pytest.raises(FolderError):
        record_pulls(folder, [Entry(value=404.0)], now=later(20))
    (folder / "plan.csv").write_bytes(plan)


def test_the_command_says_it_and_its_advice_works(folder):
    file, whole = folder / "day.toml", (folder / "day.toml").read_text(encoding="utf-8")
    file.write_text(whole + "[nonsense]\n", encoding="utf-8")
    result = typed("record", folder, "404.5")
    assert result.returncode == 0
    assert result.stdout.startswith("logged 404.5, typed at")
    assert "nonsense" in result.stdout
    assert json.loads(typed("record", folder, "405", "--json").stdout)["unplaced"] == ["405"]
    file.write_text(whole, encoding="utf-8")
    assert "placed pull 5" in typed("record", folder, "406").stdout
    assert set(numbers(folder)) == {1, 3, 4, 5, 6, 7}
