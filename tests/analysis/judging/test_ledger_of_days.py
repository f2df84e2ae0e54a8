"""The ledger of risk of day folders: what a verdict costs, what costs nothing and still stands, who can't fool it."""

from __future__ import annotations

import csv
import errno
import json
import shutil
from functools import partial
from pathlib import Path

import pytest
from oil_days import PAST, add_pulls, make_day
from typed import typed

from doe.analysis.archive.verdicts_of_archive import judge_archive
from doe.analysis.judging import folders
from doe.analysis.judging.ledger import keeping
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan, write_plan
from doe.day.files.seal import seal_of
from doe.day.log.journal import scan_journal
from doe.day.log.looks import Altered, read_looks
from doe.day.log.marks.ledger_names import LOOKS_CSV
from doe.day.storage import NoWritingError, UnsureWriteError
from doe.errors import DoeError, InputError
from doe.report import html
from doe.words.judgements import ledger_notes
from doe.words.judgements.judge_screen import as_shown

judge_and_log = partial(folders.judge_and_log, checks=False)
judge_day = partial(folders.judge_day, checks=False)


def levels(judgement) -> tuple:
    (gain,) = judgement.changes
    return gain.verdict_number, gain.risk


def table(folder: Path) -> list[dict[str, str]]:
    with (folder / LOOKS_CSV).open(newline="") as file:
        return list(csv.DictReader(file))


def void(folder: Path, pull: int, why: str = "throttle stuck") -> None:
    path = folder / "voids.csv"
    head = "" if path.exists() else "pull,time,why,undone\n"
    with path.open("a") as file:
        file.write(f"{head}{pull},12:00,{why},\n")


def test_each_verdict_after_a_new_pull_has_half_the_level_and_judging_again_costs_nothing(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST, gain=0.6)
    first = judge_and_log(folder)
    assert levels(first) == (1, pytest.approx(0.05))
    assert judge_and_log(folder) == first
    found = [first]
    for level in (0.025, 0.0125):
        add_pulls(folder, [200.0, 200.7])
        found.append(judge_and_log(folder))
        assert levels(found[-1]) == (len(found), pytest.approx(level))
        assert found[-1].unkept is None
    assert levels(judge_and_log(folder)) == (3, pytest.approx(0.0125))
    rows = table(folder)
    assert [(row["number"], float(row["risk"]), float(row["risk_spent"])) for row in rows] == [
        ("1", 0.05, 0.05), ("2", 0.025, 0.025), ("3", 0.0125, 0.0125)
    ]  # fmt: skip
    assert {(row["factor"], row["level"], row["final"]) for row in rows} == {("oil", "thin", "by itself")}
    assert [row["verdict"] for row in rows] == [one.changes[0].verdict for one in found]
    text = found[1].to_text(details=True)
    assert "the second verdict on this question: its bracket is a 97.5 % one" in text
    assert "On 97.5 of 100 such days" in text
    assert "97.5 % intervals" in text
    gain = found[1].changes[0]
    assert gain.high - gain.low < gain.family_high - gain.family_low  # the single limits stay at 95 %


def test_who_judges_after_every_pull_for_five_days_spends_less_than_twice_the_risk(tmp_path):
    folder = make_day(tmp_path / "d", 16, date=PAST)
    for value in range(8):
        add_pulls(folder, [200.0 + value % 3])
        judge_and_log(folder)
    spent = sum(float(row["risk_spent"]) for row in table(folder))
    assert 0.0990 < spent < 0.1


def test_a_void_costs_no_level_and_stands_in_ledger_text_and_report(tmp_path, monkeypatch):
    folder = make_day(tmp_path / "d", date=PAST, gain=0.9, seed=5)
    judge_and_log(folder)
    void(folder, 7)
    after = judge_and_log(folder)
    assert levels(after) == (1, pytest.approx(0.05))
    assert [float(row["risk_spent"]) for row in table(folder)] == [0.05, 0.0]
    (note,) = (note for note in after.notes if note.code == "altered-after-verdict")
    assert "pull 7 was voided" in note.text
    assert judge_and_log(folder) == after
    assert len(table(folder)) == 2
    nothing_drawn = {"verdict_svg": "", "day_svgs": [""], "residual_svg": ""}
    monkeypatch.setattr(html, "pictures", lambda *_: nothing_drawn)
    assert note.text in html.write_report(folder, judge_and_log(folder)).read_text(encoding="utf-8")


def test_a_void_that_settles_a_question_is_told_with_both_verdicts(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST, gain=1.5, seed=3)
    rows = (folder / "pulls.csv").read_text().splitlines(keepends=True)
    cells = rows[-2].split(",")
    assert cells[7] == "yes"
    cells[5] = "230.0"
    (folder / "pulls.csv").write_text("".join([*rows[:-2], ",".join(cells), rows[-1]]))
    assert judge_and_log(folder).changes[0].verdict == "not settled"
    void(folder, int(cells[0]))
    text = judge_and_log(folder).to_text(details=True)
    assert f"before pull {cells[0]} was voided: oil thin not settled, " in text
    assert "; after: real gain, " in text


def test_a_void_that_moves_a_bracket_is_told_although_its_word_stays(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST, gain=2.0)
    first = judge_and_log(folder)
    void(folder, 9)
    after = judge_and_log(folder)
    assert first.changes[0].verdict == after.changes[0].verdict
    shown = [f"oil thin {as_shown(one.changes[0], one)}" for one in (first, after)]
    assert shown[0] != shown[1]
    (note,) = (note for note in after.notes if note.code == "altered-after-verdict")
    assert note.text == f"before pull 9 was voided: {shown[0]}; after: {shown[1].removeprefix('oil thin ')}"


def test_what_was_taken_back_is_not_told_and_what_was_done_again_once(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    path = folder / "pulls.csv"
    honest = path.read_text()
    rows = honest.splitlines(keepends=True)
    cells = rows[9].split(",")
    mended = "".join([*rows[:9], ",".join([*cells[:5], "205.1", *cells[6:]]), *rows[10:]])
    told = []
    for text in (honest, mended, honest, mended):
        path.write_text(text)
        told.append([note for note in judge_and_log(folder).notes if note.code == "altered-after-verdict"])
    assert [len(notes) for notes in told] == [0, 1, 0, 1]
    assert len(read_looks(folder)) == 4  # each stays in the ledger


def test_an_older_ledger_without_gains_is_compared_by_its_words():
    what, same = Altered("t", voided=(7,)), {"oil thin": "real gain"}
    assert ledger_notes.altered("", what, same, same, whole=False).text == (
        "pull 7 was voided after the verdicts were shown; their words came out the same, the gains of then are not kept"
    )


@pytest.mark.parametrize("what", ["noise", "edit", "undo", "row gone"])
def test_what_is_altered_after_a_verdict_costs_no_level_and_is_named(tmp_path, what):
    folder = make_day(tmp_path / "d", date=PAST)
    if what == "undo":
        void(folder, 9)
    judge_and_log(folder)
    path = folder / "pulls.csv"
    rows = path.read_text().splitlines(keepends=True)
    if what == "noise":
        day = folder / "day.toml"
        day.write_text(day.read_text().replace("pull_sd = 0.5", "pull_sd = 0.4"))
    elif what == "edit":
        cells = rows[9].split(",")
        path.write_text("".join([*rows[:9], ",".join([*cells[:5], "205.1", *cells[6:]]), *rows[10:]]))
    elif what == "undo":
        (folder / "voids.csv").unlink()
    else:
        path.write_text("".join([*rows[:9], *rows[10:]]))
    found = judge_and_log(folder)
    assert levels(found) == (1, pytest.approx(0.05))
    (note,) = (note for note in found.notes if note.code == "altered-after-verdict")
    expected = {"noise": "[noise]", "edit": "pull 9 was mended", "undo": "pull 9 was counted after all"}
    assert expected.get(what, "pull 9 was taken out of the log") in note.text
    assert float(table(folder)[-1]["risk_spent"]) == 0


def test_a_pull_in_the_place_of_a_void_one_is_a_new_pull_although_there_are_no_more(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    judge_and_log(folder)
    void(folder, 24)
    add_pulls(folder, [202.0])
    found = judge_and_log(folder)
    assert found.pulls == 24
    assert levels(found) == (2, pytest.approx(0.025))
    assert any("pull 24 was voided" in warning for warning in found.warnings)


def test_another_metric_an_archive_and_the_library_spend_nothing(tmp_path):
    folder = make_day(tmp_path / "archive" / "d", date=PAST)
    before = sorted(path.name for path in folder.iterdir())
    other = judge_and_log(folder, metric="peak power")
    assert "holds the verdicts on mean power" in other.unkept
    assert [row.verdict for day in judge_archive([tmp_path / "archive"]) for row in day.rows] == ["real gain"]
    assert "Not in the ledger" in judge_day(folder).to_text(details=True)
    assert sorted(path.name for path in folder.iterdir()) == before


def test_another_metric_shows_its_gains_only_when_the_days_own_may(tmp_path):
    folder = make_day(tmp_path / "d", 15)
    hidden = judge_and_log(folder, metric="peak power")
    assert hidden.changes[0].gain is None
    assert "when those in mean power may be" in hidden.to_text(details=True)
    with pytest.raises(InputError, match="--look is for mean power"):
        judge_and_log(folder, metric="peak power", look=True)
    judge_and_log(folder, look=True)
    assert judge_and_log(folder, metric="peak power").changes[0].gain is not None
    assert len(read_looks(folder)) == 1


def test_a_campaign_is_in_the_ledgers_of_all_its_days_and_its_number_is_the_largest_of_theirs(tmp_path):
    one, two = make_day(tmp_path / "one", date=PAST), make_day(tmp_path / "two", date="2020-05-17", seed=2)
    judge_and_log(one)
    add_pulls(one, [200.0])
    judge_and_log(one)
    both = judge_and_log([two, one])
    assert levels(both) == (3, pytest.approx(0.0125))
    assert judge_and_log([one, two]) == both
    assert [[look.told[0].number for look in read_looks(folder)] for folder in (one, two)] == [[1, 2, 3], [3]]
    assert levels(judge_and_log(one)) == (2, pytest.approx(0.025))  # the same pulls as at its second: nothing spent
    assert levels(judge_and_log(two)) == (4, pytest.approx(0.00625))  # to choose among days is to choose among results
    assert [len(read_looks(folder)) for folder in (one, two)] == [3, 2]


def test_only_final_closes_a_day(tmp_path):
    folder = make_day(tmp_path / "d")  # the plan is done
    judge_and_log(folder)
    add_pulls(folder, [200.0])
    assert judge_and_log(folder).pulls == 25
    closed = judge_and_log(folder, final=True)
    assert levels(closed) == (2, pytest.approx(0.025))
    assert [row["final"] for row in table(folder)] == ["by itself", "by itself", "yes"]
    assert [float(row["risk_spent"]) for row in table(folder)] == [0.05, 0.025, 0]
    add_pulls(folder, [200.0])
    void(folder, 3)
    late = judge_and_log(folder)
    assert late.pulls == 24  # neither the new one nor, in the place of the void one, another
    assert levels(late) == (2, pytest.approx(0.025))
    assert any("after the final judgement" in warning for warning in late.warnings)


def test_without_a_plan_and_before_the_finish_no_gain_is_shown(tmp_path):
    folder = make_day(tmp_path / "d")
    for name in ("plan.csv", "plan.json"):
        (folder / name).unlink()
    found = judge_and_log(folder)
    assert found.withheld
    assert found.noise.pull_sd is not None
    assert "no plan, and not yet" in found.to_text(details=True)
    with pytest.raises(InputError, match="without a plan nobody knows"):
        judge_and_log(folder, look=True)
    assert judge_and_log(folder, final=True).changes[0].gain is not None


def test_before_a_look_the_text_says_what_it_leaves_and_advises_against_one_that_leaves_nothing(tmp_path):
    folder = make_day(tmp_path / "d", 15)
    assert " % of risk, of 5 % in all, and leaves " in judge_and_log(folder).to_text(details=True)
    late = make_day(tmp_path / "late", 23)
    assert "better wait for the end" in judge_and_log(late).to_text(details=True)
    told = []
    judge_and_log(late, look=True, agreed=lambda text: told.append(text) is None)
    assert "too little to settle much" in told[0]
    judge_and_log(folder, look=True, agreed=lambda text: pytest.fail(text))


def test_a_verdict_that_halves_the_level_says_so_first_and_a_no_shows_and_spends_nothing(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    judge_and_log(folder, agreed=lambda text: pytest.fail(text))
    add_pulls(folder, [200.0])
    told = []
    with pytest.raises(DoeError, match="nothing was shown, and nothing spent"):
        judge_and_log(folder, agreed=lambda text: told.append(text) is not None)
    assert told == [
        "This is the second verdict on oil thin: it has 2.5 % of risk in place of the first one's, and leaves 1.25 % to"
        " the next."
    ]
    assert len(table(folder)) == 1


def test_a_folder_that_cant_be_written_in_is_judged_at_its_level_and_says_so(tmp_path, monkeypatch):
    folder = make_day(tmp_path / "d", date=PAST)
    judge_and_log(folder)
    add_pulls(folder, [200.0])

    def refused(*_):
        raise NoWritingError(f"{folder}: can't be written in (Read-only file system), so nothing was written")

    monkeypatch.setattr("doe.analysis.judging.ledger.keeping.only_writer", refused)
    found = judge_and_log(folder)
    assert levels(found) == (2, pytest.approx(0.025))
    assert "NOT IN THE LEDGER of risk" in found.to_text(details=True)
    assert "Read-only file system" in found.to_dict()["not_in_ledger"]
    assert len(table(folder)) == 1


def test_a_verdict_of_which_nobody_can_tell_whether_it_is_kept_says_so(tmp_path, monkeypatch):
    folder = make_day(tmp_path / "d", date=PAST)

    def unsure(path, data):
        error = UnsureWriteError(errno.EIO, "Input/output error")
        error.written = len(data)
        raise error

    monkeypatch.setattr("doe.day.log.journal.append_synced", unsure)
    found = judge_and_log(folder)
    assert found.to_dict()["not_in_ledger"].startswith("NOT SURE whether it is in the ledger of risk: ")
    assert "Input/output error" in found.to_dict()["not_in_ledger"]


def test_a_verdict_that_came_in_between_is_seen_and_this_one_is_the_next(tmp_path, monkeypatch):
    folder = make_day(tmp_path / "d", date=PAST)
    real, calls = folders.keep, []

    def slower(new, read):
        calls.append(len(read[folder]))
        if len(calls) == 1:
            monkeypatch.setattr(folders, "keep", real)
            judge_and_log(folder)
            monkeypatch.setattr(folders, "keep", slower)
        return real(new, read)

    monkeypatch.setattr(folders, "keep", slower)
    assert levels(judge_and_log(folder)) == (1, pytest.approx(0.05))
    assert calls == [0]  # the second try found the same pulls judged: nothing to write
    assert len(table(folder)) == 1


def test_a_lost_table_comes_back_from_the_journal_and_a_lost_journal_is_made_up_for_by_the_table(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    judge_and_log(folder)
    (folder / LOOKS_CSV).unlink()
    add_pulls(folder, [200.0])
    assert levels(judge_and_log(folder)) == (2, pytest.approx(0.025))
    assert len(table(folder)) == 2
    (folder / "pulls.journal").unlink()
    (folder / ".pulls.head").unlink()
    assert levels(judge_and_log(folder)) == (2, pytest.approx(0.025))
    add_pulls(folder, [200.0])
    assert levels(judge_and_log(folder)) == (3, pytest.approx(0.0125))
    assert [event.event for event in scan_journal(folder).events] == ["verdict"]


def test_a_ledger_of_the_first_version_is_read_and_gone_on_with(tmp_path):
    folder = make_day(tmp_path / "d", 15)
    (folder / LOOKS_CSV).write_text(
        "look,time,pulls,installs,information,risk_spent,final\n"
        "1,2099-05-16T12:00:00+00:00,12,4,0.5,0.0056,\n"
        "2,2099-05-16T13:00:00+00:00,15,5,1.0,0.0444,yes\n"
    )
    closed = judge_and_log(folder)
    assert closed.look == (2, pytest.approx(0.0444))
    assert levels(closed) == (1, pytest.approx(0.0444))
    shutil.copy(make_day(tmp_path / "full") / "pulls.csv", folder / "pulls.csv")
    assert judge_and_log(folder).pulls == 15
    assert len(read_looks(folder)) == 2
    other = make_day(tmp_path / "other", date=PAST, seed=2)
    assert levels(judge_and_log([folder, other])) == (2, pytest.approx(0.025))
    assert [row["factor"] for row in table(folder)] == ["", "", "oil"]


def test_the_command_keeps_the_ledger_and_json_has_number_and_risk(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    assert json.loads(typed("judge", folder, "--json").stdout)["not_in_ledger"] is None
    add_pulls(folder, [200.0])
    done = typed("judge", folder, "--json")
    (change,) = json.loads(done.stdout)["changes"]
    assert (change["verdict_number"], change["risk"]) == (2, 0.025)
    assert "This is the second verdict on oil thin" in done.stderr
    assert change["high"] - change["low"] < change["family_high"] - change["family_low"]


def test_another_metric_in_day_toml_is_another_question_and_what_was_shown_before_stands(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    first = judge_and_log(folder).changes[0].verdict
    path = folder / "day.toml"
    path.write_text(
        path.read_text().replace('name = "mean power"', 'name = "peak power"').replace('["peak power"]', "[]")
    )
    found = judge_and_log(folder)
    assert levels(found) == (1, pytest.approx(0.05))
    (note,) = (note for note in found.notes if note.code == "metric-changed")
    assert "day.toml was about mean power [hp] before" in note.text
    assert f"oil thin {first}" in note.text
    assert [row["look"] for row in table(folder)] == ["1", "2"]
    assert found.sealed is False


def test_the_same_readings_in_a_unit_of_another_name_are_no_new_question(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    judge_and_log(folder)
    path = folder / "day.toml"
    path.write_text(path.read_text().replace('unit = "hp"', 'unit = "PS"'))
    again = judge_and_log(folder)
    assert levels(again) == (1, pytest.approx(0.05))  # no pull is new: the same verdict again
    assert "metric-changed" in {note.code for note in again.notes} and again.sealed is False
    add_pulls(folder, [200.0, 200.7])
    assert levels(judge_and_log(folder)) == (2, pytest.approx(0.025))
    path.write_text(path.read_text().replace('unit = "PS"', 'unit = "bhp"'))
    add_pulls(folder, [200.0, 200.7])
    assert levels(judge_and_log(folder)) == (3, pytest.approx(0.0125))


def test_another_method_after_a_verdict_costs_nothing_and_stands(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    judge_and_log(folder)
    found = judge_and_log(folder, method="install-means")
    assert levels(found) == (1, pytest.approx(0.05))
    assert any("or the method was changed" in warning for warning in found.warnings)


def test_the_fortieth_verdict_is_still_a_verdict_and_its_bracket_is_never_called_certain(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    judge_and_log(folder)
    ledger = (folder / LOOKS_CSV).read_text().splitlines()
    row = ledger[1].split(",")
    (folder / LOOKS_CSV).write_text(
        "\n".join([ledger[0], *(",".join([str(n), *row[1:9], str(n), *row[10:]]) for n in range(1, 40))])
    )
    (folder / "pulls.journal").unlink()
    (folder / ".pulls.head").unlink()
    add_pulls(folder, [200.0])
    found = judge_and_log(folder)
    assert levels(found) == (40, 1e-9)
    assert "the 40th verdict on this question: its bracket is a 99.9999999 % one" in found.to_text(details=True)
    assert "100 of 100" not in found.to_text(details=True)


def test_a_plan_that_grows_after_the_verdict_shows_it_again_and_a_look_is_of_the_second_stage(tmp_path):
    folder = make_day(tmp_path / "d", 18)
    whole = [path.read_bytes() for path in (folder / "plan.csv", folder / "plan.json")]
    day = read_day_file(folder)
    write_plan(folder, read_plan(folder, day).runs[:18], {"seal": seal_of(day)})
    first = judge_and_log(folder)
    assert levels(first) == (1, pytest.approx(0.05))
    for path, content in zip((folder / "plan.csv", folder / "plan.json"), whole, strict=True):
        path.write_bytes(content)
    assert judge_and_log(folder).changes[0].gain == first.changes[0].gain
    full = make_day(tmp_path / "full")
    rows = (full / "pulls.csv").read_text().splitlines(keepends=True)
    (folder / "pulls.csv").write_text("".join(rows[:22]))
    assert judge_and_log(folder).withheld
    look = judge_and_log(folder, look=True)
    number, risk = levels(look)
    assert number == 2 and 0 < risk < 0.025
    (folder / "pulls.csv").write_text("".join(rows))
    last = judge_and_log(folder)
    assert levels(last) == (2, pytest.approx(0.025 - risk))
    assert last.look == (2, pytest.approx(0.025 - risk))


def test_who_judges_a_days_log_as_a_table_goes_past_its_ledger_and_is_told(tmp_path):
    folder = make_day(tmp_path / "d", 15)
    words = ("--value", "mean power", "--change", "oil", "--baseline", "thick", "--install", "install", "--json")
    inside = json.loads(typed("judge", folder / "pulls.csv", *words).stdout)
    elsewhere = json.loads(typed("judge", shutil.copy(folder / "pulls.csv", tmp_path), *words).stdout)
    assert inside["not_in_ledger"] == elsewhere["not_in_ledger"] == ledger_notes.TABLE
    codes = [[note["code"] for note in found["notes"]] for found in (inside, elsewhere)]
    assert ["past-the-ledger" in own for own in codes] == [True, False]
    assert not (folder / LOOKS_CSV).exists()


def test_of_a_campaign_the_days_that_can_be_written_in_have_it_in_their_ledgers(tmp_path, monkeypatch):
    one, two = make_day(tmp_path / "one", date=PAST), make_day(tmp_path / "two", date="2020-05-17", seed=2)
    real, order = keeping.only_writer, []

    def only_some(folder):
        order.append(folder)
        if folder == one:
            raise NoWritingError(f"{folder}: can't be written in (Read-only file system), so nothing was written")
        return real(folder)

    monkeypatch.setattr(keeping, "only_writer", only_some)
    found = judge_and_log([two, one])
    assert order == [one, two]  # locks in the order of the paths
    assert f"NOT IN THE LEDGER of risk: {one}: can't be written in" in found.unkept
    assert [len(read_looks(folder)) for folder in (one, two)] == [0, 1]
    monkeypatch.setattr(keeping, "only_writer", real)
    assert levels(judge_and_log([one, two])) == (2, pytest.approx(0.025))  # what was shown was shown


def test_with_another_confidence_its_risk_is_halved(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    path = folder / "day.toml"
    path.write_text(path.read_text() + "\n[analysis]\nconfidence = 0.9\n")
    assert levels(judge_and_log(folder)) == (1, 0.1)
    add_pulls(folder, [200.0])
    found = judge_and_log(folder)
    assert levels(found) == (2, 0.05)
    assert "its bracket is a 95 % one" in found.to_text(details=True)


def test_before_the_first_change_there_is_nothing_to_look_at(tmp_path):
    folder = make_day(tmp_path / "d", 3)
    found = judge_and_log(folder)
    assert found.withheld
    with pytest.raises(DoeError, match="no change to judge"):
        judge_and_log(folder, look=True)
    assert "3 of 24 counted pulls): no change has a counted pull yet" in found.to_text(details=True)
    assert read_looks(folder) == []
