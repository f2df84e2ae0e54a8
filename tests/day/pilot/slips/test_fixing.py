"""doe fix: a stretch of pulls gets other parts, or goes to another set, in one step that can be taken back."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from at_the_bench import AtTheBench
from typed import typed

from doe.day.files.dayfile import read_day_file
from doe.day.log.journal import scan_journal
from doe.day.log.marks.fixes import FIX, fixes_of, standing_fixes
from doe.day.log.reading import read_log
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.slips.fixing import fix_pulls, undo_fix
from doe.day.storage import write_atomically
from doe.errors import InputError
from doe.words.day.fix_words import same_fitting

SETS = (("15W-50", "off", 2), ("0W-20", "off", 2), ("15W-50", "off", 2), ("15W-50", "on", 2))
#: clock, number: as planned, two throw-away pulls after each oil change
PULLS = (
    ("08:34", "431.2"), ("08:38", "431.0"), ("09:12", "434.1"), ("09:16", "434.4"), ("09:20", "434.6"),
    ("09:24", "434.3"), ("09:48", "431.1"), ("09:52", "431.9"), ("09:56", "431.2"), ("10:00", "431.0"),
)  # fmt: skip


def logged(folder: Path, day_text: str, **said: dict) -> AtTheBench:
    """The day as planned, with what was said otherwise of some pulls, by number."""
    folder.mkdir(exist_ok=True)
    bench = AtTheBench(folder, day_text)
    bench.plan(*SETS)
    for number, (clock, value) in enumerate(PULLS, start=1):
        bench.record(clock, value, **said.get(f"pull_{number}", {}))
    return bench


@pytest.fixture
def tester(tmp_path, day_text):
    return logged(tmp_path / "day", day_text)


def shown(bench: AtTheBench) -> list[tuple]:
    return [(pull.number, pull.configuration["oil"], pull.install, pull.run, pull.count) for pull in bench.log.pulls]


def test_the_oil_was_never_changed(tester):
    """Pulls 3 to 6 had the old oil: one fitting from the first pull to the last, and their steps are due again."""
    before = tester.table
    fixed = fix_pulls(tester.folder, "3-6", settings={"oil": "15W-50"})
    assert fixed.to_text().splitlines()[:3] == [
        "  pull  before                        after",
        "  3     oil 0W-20, fitting 2, step 3  oil 15W-50, fitting 1, no step",
        "  4     oil 0W-20, fitting 2, step 4  oil 15W-50, fitting 1, no step",
    ]
    assert fixed.to_text().splitlines()[-2:] == [
        f"fixed: 3-6 --set oil=15W-50 · {fixed.head.shown}",
        "take it back: doe fix --undo",
    ]
    assert [note.code for note in fixed.notes] == ["not-in-plan", "fitting-goes-on"]
    assert fixed.notes[1].text.startswith("by the log no part is changed now before pull 7: there the fitting goes on;")
    assert {pull.install for pull in tester.log.pulls} == {1}
    assert [pull.run for pull in tester.log.pulls] == [1, 2, None, None, None, None, 7, 8, 9, 10]
    assert [event.event for event in scan_journal(tester.folder).events].count(FIX) == 1
    undone = undo_fix(tester.folder)
    assert undone.to_text().splitlines()[-1] == f"undone: doe fix 3-6 --set oil=15W-50 · {undone.head.shown}"
    assert tester.table == before
    assert tester.log.warnings == ()
    with pytest.raises(InputError, match="there is nothing to undo"):
        undo_fix(tester.folder)


def test_it_is_as_if_it_had_been_said_at_once(tmp_path, day_text):
    """The same day, its thin oil 5W-30 in truth: said pull by pull, and fixed afterwards."""
    said = {f"pull_{number}": {"settings": ("oil=5W-30",)} for number in (3, 4, 5, 6)}
    at_once = logged(tmp_path / "said", day_text, **said)
    fixed = logged(tmp_path / "fixed", day_text)
    fix_pulls(fixed.folder, "3-6", settings={"oil": "5W-30"})
    assert [row[:4] for row in shown(fixed)][:6] == [row[:4] for row in shown(at_once)][:6]


def test_one_set_later(tester):
    """The tester was a set ahead: pulls 3 to 6 were made with the oil of the set after."""
    fixed = fix_pulls(tester.folder, "7-", later=1)
    assert [row[3] for row in shown(tester)][6:] == [None, None, 11, 12]  # throw-away pulls don't begin to count
    assert [pull.configuration["crankcase vacuum"] for pull in tester.log.pulls][6:] == ["on"] * 4
    assert fixed.what == "7- --later 1"
    with pytest.raises(InputError, match="there is no such set after it"):
        fix_pulls(tester.folder, "9-10", later=1)


def test_a_set_without_its_throw_away_pull_gets_one(tester):
    fix_pulls(tester.folder, "1-2", later=1)
    assert [row[3:] for row in shown(tester)][:2] == [(None, "yes"), (None, "yes")]  # its steps are taken by 3 to 6
    undo_fix(tester.folder)
    for number in (3, 4, 5, 6):
        typed("void", tester.folder, number, "--why", "made by nobody")
    fix_pulls(tester.folder, "1-2", later=1)
    assert [row[3:] for row in shown(tester)][:2] == [(3, "settling"), (4, "settling")]


def test_one_in_the_place_of_another_goes_with_it(tester):
    tester.record("10:30", "434.9", redo=5)
    fixed = fix_pulls(tester.folder, "3-6", settings={"oil": "5W-30"})
    assert [pull.number for pull in fixed.before] == [3, 4, 5, 11, 6]
    assert [pull.configuration["oil"] for pull in tester.log.pulls if pull.number in (5, 11)] == ["5W-30"] * 2
    assert [pull.redo for pull in tester.log.pulls][-1] == 5


def test_logged_again_with_another_part_no_fitting_gets_two(tester):
    # Pulls 3 to 6 are one fitting; one in its middle, or one put into the next one's, would leave two oils in it.
    before = tester.table
    for number in (4, 5, 8):
        with pytest.raises(InputError, match=rf"its fitting would hold two; .*: doe fix {number} --set oil="):
            tester.record("10:30", "434.9", redo=number, settings=("oil=15W-50" if number < 7 else "oil=0W-20",))
    assert tester.table == before
    fix_pulls(tester.folder, "4", settings={"oil": "15W-50"})
    tester.record("10:30", "434.9", redo=4)
    levels = {}
    for pull in tester.log.pulls:
        levels.setdefault(pull.install, set()).add(pull.configuration["oil"])
    assert all(len(oils) == 1 for oils in levels.values())
    assert len(levels) == 5  # thick, thin, thick for one pull, thin, thick


def test_two_fixes_are_taken_back_one_after_the_other(tester):
    before = tester.table
    fix_pulls(tester.folder, "3-6", settings={"oil": "5W-30"})
    between = tester.table
    fix_pulls(tester.folder, "5", settings={"oil": "15W-50"})
    assert [fix.what for fix in standing_fixes(scan_journal(tester.folder).events)] == [
        "3-6 --set oil=5W-30",
        "5 --set oil=15W-50",
    ]
    undo_fix(tester.folder)
    assert tester.table == between
    undo_fix(tester.folder)
    assert tester.table == before
    assert len(fixes_of(scan_journal(tester.folder).events)) == 4


def test_pulls_logged_since_keep_their_own_fitting(tester):
    fix_pulls(tester.folder, "3-6", settings={"oil": "15W-50"})
    tester.record("10:40", "433", settings=("oil=0W-20",))
    assert tester.log.pulls[-1].install == 2
    undo_fix(tester.folder)
    assert [pull.install for pull in tester.log.pulls] == [1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4]


def test_the_machine_stops_between_journal_and_table(tester, monkeypatch):
    before = tester.table

    def refuse(path, text):
        if path.name == "pulls.csv":
            raise OSError(28, "No space left on device", str(path))
        write_atomically(path, text)

    with monkeypatch.context() as patched:
        patched.setattr("doe.day.log.marks.rewriting.write_atomically", refuse)
        fixed = fix_pulls(tester.folder, "3-6", settings={"oil": "5W-30"})
    assert tester.table == before
    assert "pulls.csv" in fixed.notes[-1].text
    assert {pull.configuration["oil"] for pull in tester.log.pulls[2:6]} == {"5W-30"}
    assert not [text for text in tester.log.warnings if "edited" in text]
    checked = check_folder(tester.folder)
    assert "pulls.csv had parts and steps of before they were fixed, in 4 rows; written anew" in checked.mended
    assert "5W-30" in tester.table


def test_an_old_copy_saved_over_the_table_undoes_nothing(tester):
    before = tester.table
    fix_pulls(tester.folder, "3-6", settings={"oil": "5W-30"})
    after = tester.table
    (tester.folder / "pulls.csv").write_text(before, encoding="utf-8")
    assert {pull.configuration["oil"] for pull in tester.log.pulls[2:6]} == {"5W-30"}
    tester.record("10:40", "431.3")
    assert tester.table.startswith(after)


def test_a_value_edited_by_hand_stays_edited_and_told(tester):
    path = tester.folder / "pulls.csv"
    path.write_text(tester.table.replace("434.4", "433.4"), encoding="utf-8")
    fix_pulls(tester.folder, "3-6", settings={"oil": "5W-30"})
    pull = tester.log.pulls[3]
    assert (pull.values["mean power"], pull.configuration["oil"]) == (433.4, "5W-30")
    assert "pull 4 was edited in pulls.csv: mean power 433.4, in the journal 434.4" in tester.log.warnings[0]


def test_a_part_edited_by_hand_is_fixed_too(tester):
    path = tester.folder / "pulls.csv"
    path.write_text(tester.table.replace("0W-20,off,434.4", "15W-50,off,434.4"), encoding="utf-8")
    fix_pulls(tester.folder, "3-6", settings={"oil": "5W-30"})
    assert tester.log.pulls[3].configuration["oil"] == "5W-30"


@pytest.mark.parametrize(
    ("delimiter", "encoding", "above"), [(";", "utf-8-sig", ""), ("\t", "utf-16", ""), (",", "cp1252", "")]
)
def test_in_the_tables_own_dialect(tester, delimiter, encoding, above):
    """A spreadsheet saved the table; what a fix doesn't alter stays letter by letter."""
    path = tester.folder / "pulls.csv"
    text = above + tester.table.replace(",", delimiter).replace("\n", "\r\n")
    text = text.replace(f"431.0{delimiter}yes", f'431.0{delimiter}"yes"')
    path.write_bytes(text.encode(encoding))
    rows = text.split("\r\n")
    fix_pulls(tester.folder, "9-10", settings={"crankcase vacuum": "on"})
    found = path.read_bytes().decode("utf-16" if path.read_bytes()[:1] == b"\xff" else "utf-8-sig").split("\r\n")
    assert found[:9] == rows[:9]
    assert [row.split(delimiter)[5] for row in found[9:11]] == ["on", "on"]
    assert {pull.configuration["crankcase vacuum"] for pull in tester.log.pulls[8:]} == {"on"}


@pytest.mark.parametrize("seed", range(3))
def test_whatever_is_fixed_can_be_taken_back(tester, seed):
    """Random stretches, parts and sets, voids and redos between: undone one by one, the log is as it was."""
    rng = random.Random(seed)
    tester.record("10:40", "434.0", redo=rng.randint(1, 10))
    typed("void", tester.folder, rng.randint(1, 11), "--why", "knock")
    day = read_day_file(tester.folder)
    before, table = read_log(tester.folder, day, None).pulls, tester.table
    done = 0
    for _ in range(4):
        first = rng.randint(1, 11)
        settings = {"oil": rng.choice(["0W-20", "5W-30", "15W-50"])} if rng.random() < 0.6 else {}
        later = 0 if settings else rng.choice([-1, 1])
        try:
            fix_pulls(tester.folder, f"{first}-{rng.randint(first, 11)}", settings=settings, later=later)
        except InputError:
            continue
        done += 1
        assert not [text for text in tester.log.warnings if "edited" in text or "changed, but install" in text]
        installs = [pull.install for pull in tester.log.pulls if pull.redo is None and pull.number < 11]
        assert installs == sorted(installs)
    for _ in range(done):
        undo_fix(tester.folder)
    assert read_log(tester.folder, day, None).pulls == before
    assert tester.table == table


def test_what_is_typed_wrong_is_said(tester):
    for words, what in (
        (("20", "--set", "oil=0W"), "there is no pull 20; the log has pulls 1 to 10"),
        (("3-6", "--set", "oil=0W"), "these pulls are logged so already"),
        (("3-6",), "say which pulls, and what was on"),
        (("3-6", "--set", "oil=17W"), "oil"),
        (("3", "--set", "oil=5W", "--later", "1"), "--set and --later: one at a time"),
        (("3", "--undo"), "leave the pulls out"),
        (("3-4", "--keep"), "expected one pull"),
        (("6-3", "--later", "1"), "there is no pull"),
        (("elsewhere", "3"), "neither a folder nor the numbers of pulls"),
    ):
        done = typed("fix", *words, cwd=tester.folder)
        assert done.returncode != 0 and what in done.stderr, done.stderr
    assert fixes_of(scan_journal(tester.folder).events) == []


def test_without_a_plan_there_are_no_sets(tmp_path, day_text):
    bench = AtTheBench(tmp_path, day_text)
    bench.record("09:00", "431")
    with pytest.raises(InputError, match="there is no plan here"):
        fix_pulls(tmp_path, "1", later=1)
    fix_pulls(tmp_path, "1", settings={"oil": "0W-20"})
    assert bench.log.pulls[0].configuration["oil"] == "0W-20"


def test_a_fitting_that_goes_on_is_told_in_a_sentence_however_many_pulls_there_are():
    sentences = [same_fitting(pulls).text.partition(":")[0] for pulls in ((5,), (5, 4), tuple(range(3, 10)))]
    assert sentences == [
        "by the log no part is changed now before pull 5",
        "by the log no part is changed now before pull 5 and pull 4",
        "by the log no part is changed now before pull 3, pull 4, pull 5, pull 6, pull 7 and 2 more",
    ]
