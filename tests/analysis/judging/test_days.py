"""Day folders judged: progress, early looks, the last word, campaigns, other metrics, the seal."""

import shutil

import pytest
from oil_days import PAST, make_day

import doe
from doe.analysis.judging.folders import judge_and_log, judge_day
from doe.day.log.looks import read_looks
from doe.errors import DoeError, InputError


def test_an_unfinished_plan_shows_noise_and_progress_and_no_gain(tmp_path):
    found = judge_day(make_day(tmp_path / "d", 15))
    assert found.final is False
    assert found.changes[0].gain is None
    assert found.changes[0].verdict == "not settled"
    assert found.noise.pull_sd is not None
    assert "15 of 24 counted pulls" in found.to_text(details=True)
    assert "hp  (" not in found.to_text(details=True)


def test_a_finished_plan_and_a_day_that_is_over_are_final(tmp_path):
    assert judge_day(make_day(tmp_path / "done")).changes[0].verdict == "real gain"
    over = judge_day(make_day(tmp_path / "over", 15, date=PAST))
    assert over.final is True
    assert over.changes[0].gain is not None


def test_a_look_spends_and_without_a_new_pull_it_is_the_same_look(tmp_path):
    folder = make_day(tmp_path / "d", 15)
    assert judge_day(folder, look=True).look is not None
    assert read_looks(folder) == []  # the library never writes
    first = judge_and_log(folder, look=True)
    again = judge_and_log(folder, look=True)
    assert first == again
    assert first.look[0] == 1
    (look,) = read_looks(folder)
    assert (look.pulls, look.installs, look.final) == (15, 5, False)
    assert 0.3 < look.information < 0.9
    assert 0 < look.risk_spent < 0.05
    wide = first.changes[0]
    assert wide.family_high - wide.family_low > wide.high - wide.low  # the single limits stay at 95 %


def test_the_last_look_takes_all_that_is_left_and_later_pulls_are_left_out(tmp_path):
    folder = make_day(tmp_path / "d", 15)
    judge_and_log(folder, look=True)
    last = judge_and_log(folder, final=True)
    looks = read_looks(folder)
    assert [x.final for x in looks] == [False, True]
    assert sum(x.risk_spent for x in looks) == pytest.approx(0.05)
    assert last.final is True
    shutil.copy(make_day(tmp_path / "full") / "pulls.csv", folder / "pulls.csv")  # nine more pulls are logged
    later = judge_day(folder)
    assert later.pulls == 15
    assert later.changes[0].gain == pytest.approx(last.changes[0].gain)
    assert any("after the final judgement" in w for w in later.warnings)


def test_two_looks_never_spend_more_than_the_risk(tmp_path):
    full = make_day(tmp_path / "full")
    folder = make_day(tmp_path / "d", 12)
    judge_and_log(folder, look=True)
    rows = (full / "pulls.csv").read_text().splitlines(keepends=True)
    (folder / "pulls.csv").write_text("".join(rows[:20]))
    second = judge_and_log(folder, look=True)
    assert second.look[0] == 2
    (folder / "pulls.csv").write_text("".join(rows))
    final = judge_and_log(folder)  # the plan is done: final by itself
    assert final.final is True
    spent = [x.risk_spent for x in read_looks(folder)]
    assert final.look[1] == pytest.approx(0.05 - sum(spent[:2]))


def test_days_with_other_questions_are_no_campaign(tmp_path):
    one, two = make_day(tmp_path / "one", date=PAST), make_day(tmp_path / "two", date=PAST)
    text = (
        (two / "day.toml")
        .read_text()
        .replace('baseline = "thick"', 'baseline = "thin"')
        .replace('level = "thin"', 'level = "thick"')
    )
    (two / "day.toml").write_text(text)
    with pytest.raises(InputError, match="baseline differs"):
        judge_day([one, two])


def test_another_metric_has_no_study_and_no_smallest_gain(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    found = judge_day(folder, metric="peak power")
    assert found.metric == "peak power"
    assert found.changes[0].route == "longer of two"
    assert found.changes[0].smallest_gain is None
    assert "nothing is known of its noise beforehand" in found.to_text(details=True)
    assert found.to_text().startswith("By peak power, which decides nothing: keep oil thin.")
    with pytest.raises(DoeError, match="mean torque"):
        judge_day(folder, metric="mean torque")


def test_another_metric_takes_the_noise_that_was_studied_of_it(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    before = judge_day(folder)
    text = (folder / "day.toml").read_text()
    study = '[noise.metric."peak power"]\npull_sd = 0.9\npull_df = 11\ninstall_sd = 0.4\ninstall_df = 6\n'
    (folder / "day.toml").write_text(text.replace("[log]", f"{study}[log]"))
    found = judge_day(folder, metric="peak power")
    assert found.changes[0].route == "study"
    assert '[noise.metric."peak power"]' in found.to_text()
    after = judge_day(folder)
    assert (after.sealed, after.changes[0]) == (True, before.changes[0]), "the day's own verdict is untouched"


def test_a_broken_seal_and_a_missing_plan_are_said(tmp_path):
    folder = make_day(tmp_path / "d", date=PAST)
    assert judge_day(folder).sealed is True
    text = (folder / "day.toml").read_text()
    (folder / "day.toml").write_text(text.replace("smallest_gain = 1.0", "smallest_gain = 0.5"))
    found = judge_day(folder)
    assert found.sealed is False
    assert "NOT as sealed" in found.to_text(details=True)
    for name in ("plan.csv", "plan.json"):
        (folder / name).unlink()
    assert any("nothing was sealed" in w for w in judge_day(folder).warnings)


def test_the_python_interface_takes_a_folder_as_text(tmp_path):
    assert doe.judge_day(str(make_day(tmp_path / "d"))).pulls == 24


def test_an_open_question_at_a_look_hears_what_the_rest_of_the_plan_can_still_show(tmp_path):
    hopeless = judge_day(make_day(tmp_path / "loss", 15, gain=-0.5), look=True).changes[0]
    hopeful = judge_day(make_day(tmp_path / "gain", 15, gain=0.6), look=True).changes[0]
    assert hopeless.verdict == hopeful.verdict == "not settled"
    assert hopeless.conditional_power < 0.2 < hopeful.conditional_power
    assert "little hope: if it gives 1 hp" in judge_day(tmp_path / "loss", look=True).to_text(details=True)
    assert "little hope" not in judge_day(tmp_path / "gain", look=True).to_text(details=True)
    assert judge_day(make_day(tmp_path / "done")).changes[0].conditional_power is None


def test_a_campaign_is_judged_when_every_day_is_over(tmp_path):
    done, half = make_day(tmp_path / "one"), make_day(tmp_path / "two", 15, seed=2)
    assert judge_day([done, half]).final is False
    for option in ({"look": True}, {"final": True}):
        with pytest.raises(InputError, match=f"doe judge {half} --final"):
            judge_day([done, half], **option)
    judge_and_log(half, final=True)
    both = judge_day([done, half])
    assert both.final is True
    assert both.pulls == 24 + 15


def test_a_campaign_has_the_risk_that_early_looks_left(tmp_path):
    done, half = make_day(tmp_path / "one"), make_day(tmp_path / "two", 15, seed=2)
    judge_and_log(half, look=True)
    spent = read_looks(half)[0].risk_spent
    shutil.copy(make_day(tmp_path / "full", seed=2) / "pulls.csv", half / "pulls.csv")
    both = judge_day([done, half])
    assert both.look == (2, pytest.approx(0.05 - spent))
    assert both.changes[0].risk == pytest.approx(0.05 - spent)


def test_a_closed_day_brings_no_late_pulls_into_its_campaign_which_is_the_second_verdict(tmp_path):
    done, half = make_day(tmp_path / "one"), make_day(tmp_path / "two", 15, seed=2)
    judge_and_log(half, look=True)
    judge_and_log(half, final=True)
    shutil.copy(make_day(tmp_path / "full", seed=2) / "pulls.csv", half / "pulls.csv")
    both = judge_day([done, half])
    assert both.pulls == 24 + 15
    assert (both.changes[0].verdict_number, both.changes[0].risk) == (2, 0.025)
    assert any(w.startswith("two: 9 counted pulls came after") for w in both.warnings)


def with_oil_temperatures(folder, hot):
    """The same day with limits, and an oil temperature beside each pull: 99 with those that are named, else 90."""
    text = (folder / "day.toml").read_text()
    (folder / "day.toml").write_text(text.replace("[log]", "[limits]\noil_temp_c = [85, 95]\n[log]"))
    rows = [f"{pull},oil_temp_c,{99 if pull in hot else 90}" for pull in range(1, 25)]
    (folder / "readings.csv").write_text("\n".join(["pull,name,value", *rows, ""]))
    return folder


@pytest.mark.parametrize(
    ("hot", "gain"), [((4, 5), 2.0), ((4, 5, 10, 11, 17, 18, 19, 23, 24), 1.0), (range(1, 25), 2.0)]
)
def test_marked_pulls_count_and_it_is_said_how_the_verdicts_read_without_them(tmp_path, hot, gain):
    folder = with_oil_temperatures(make_day(tmp_path / "d", date=PAST, gain=gain), hot)
    found = judge_day(folder)
    assert found.pulls == 24, "a marked pull counts"
    (note,) = [note for note in found.notes if note.code == "without-marked"]
    rows = [f"{pull},2020-05-16T18:00:00+00:00,too hot," for pull in hot]
    (folder / "voids.csv").write_text("\n".join(["pull,time,why,undone", *rows, ""]))
    if len(hot) == 24:
        assert note.text.endswith("and 18 more, all that count, are outside [limits]: nothing is left to compare with")
        return
    without = judge_day(folder).changes[0].verdict
    if len(hot) == 2:
        assert without == found.changes[0].verdict
        assert note.text.endswith("are outside [limits] and count; without them, every verdict stays")
    else:
        assert f"without them, oil thin would read '{without}'" in note.text


def test_a_day_inside_its_limits_is_quiet_about_them(tmp_path):
    found = judge_day(with_oil_temperatures(make_day(tmp_path / "d", date=PAST), ()))
    assert not [note for note in found.notes if "limit" in note.code or note.code == "without-marked"]
