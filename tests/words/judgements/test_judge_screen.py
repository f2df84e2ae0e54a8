"""Ten seconds with a judgement: what a reader would do by its first sentence is what its JSON says."""

from __future__ import annotations

import datetime as dt
import re
import shlex
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from oil_days import PAST, make_day
from typed import typed

from doe.analysis.judging.judgement import Gain, Judgement, NoiseEstimate
from doe.analysis.judging.verdict_rule import verdict
from doe.day.files.dayfile import read_day_file
from doe.words.judgements import gain_notes, judge_notes
from doe.words.phrases import WIDTH
from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS

DEMO = Path(__file__).parents[3] / "plans_demo" / "oil-and-vacuum"
#: how a clause of the first sentence begins -> the verdict in JSON of whom it names
BEGINS = {
    "keep ": REAL_GAIN,
    "don't keep ": REAL_LOSS,
    f"{NO_DIFFERENCE}: ": NO_DIFFERENCE,
    f"{NOT_SETTLED}: ": NOT_SETTLED,
    "not tested: ": NOT_SETTLED,
    "can't be told: ": NOT_SETTLED,
}


def judgement(*gains: Gain, **other) -> Judgement:
    noise = NoiseEstimate(pull_sd=0.5, install_sd=0.3, wander_sd=None, drift_per_hour=None)
    about = {"folders": ("my-day",), "another": "my-day-next", "final": True, "sealed": True} | other
    return Judgement(
        "mean power", "absolute", "hp", "hp", 0.95, "auto", 24, 8, noise, 204.1, 0.2, gains, **about
    )  # fmt: skip


@st.composite
def gains(draw) -> Gain:
    """A change with the verdict that the rule gives its interval; or one without interval, or without a pull."""
    name = (draw(st.sampled_from(["oil", "fuel", "spark plugs"])), f"L{draw(st.integers(1, 10**6))}")
    smallest = draw(st.sampled_from([None, 0.5, 1.5]))
    kind = draw(st.sampled_from(["judged", "judged", "judged", "no interval", "no pull", "together"]))
    if kind == "no pull":
        return Gain(*name, smallest_gain=smallest, notes=(gain_notes.no_pull(" ".join(name)),))
    if kind == "together":
        return Gain(*name, smallest_gain=smallest, notes=(gain_notes.always_together(name[1], "other", name[0]),))
    if kind == "no interval":
        notes = (gain_notes.refit_scatter_unknown(" ".join(name)),)
        return Gain(*name, gain=1.0, se=0.1, smallest_gain=smallest, notes=notes)
    gain, half = draw(st.floats(-4, 4)), draw(st.floats(0.2, 3))
    found = verdict(gain - half, gain + half, gain - 0.8 * half, gain + 0.8 * half, smallest)
    more = draw(st.sampled_from([None, 1, 12])) if found == NOT_SETTLED else None
    return Gain(
        *name, gain=gain, se=half / 2, family_low=gain - half, family_high=gain + half, smallest_gain=smallest,
        verdict=found, route="study", risk=0.05, more_pulls=more, more_minutes=more and 7.0 * more,
    )  # fmt: skip


def acted_on(first: str) -> dict[str, str]:
    """What a reader of the sentence would do: change -> verdict, by the clause that it is named in."""
    found = {}
    for clause in first.removesuffix(".").split("; "):
        clause = clause.removeprefix("So far: ").split(" (")[0]
        clause = clause[:1].lower() + clause[1:].split(" if less than ")[0]
        (begins,) = [one for one in BEGINS if clause.startswith(one)]
        for name in re.split(r", | and | or ", clause.removeprefix(begins)):
            found[name] = BEGINS[begins]
    return found


@settings(max_examples=150, deadline=None)
@given(st.lists(gains(), min_size=1, max_size=4, unique_by=lambda gain: gain.level), st.booleans())
def test_what_a_reader_would_do_is_what_the_json_says(changes, final):
    found = judgement(*changes, final=final, look=None if final else (1, 0.01))
    said = {f"{one['factor']} {one['level']}": one["verdict"] for one in found.to_dict()["changes"]}
    assert acted_on(found.screen().first) == said
    assert found.screen().first.startswith("So far: ") is not final
    text = found.to_text()
    assert "100 of 100" not in text and "(s)" not in text and " 1 more pulls" not in text
    assert all(len(line) <= WIDTH for line in text.splitlines())
    assert found.to_text(details=True).split("\n\n")[0] == text.split("\n\n")[0]


def test_a_day_of_three_questions_takes_twelve_lines():
    low = {"smallest_gain": 1.0, "route": "study", "risk": 0.05}
    found = judgement(
        Gain("oil", "5W-30", 2.4, 0.3, family_low=1.1, family_high=3.7, verdict=REAL_GAIN, **low),
        Gain("trumpets", "long", -1.6, 0.3, family_low=-2.2, family_high=-0.9, verdict=REAL_LOSS, **low),
        Gain("fuel", "blend", 0.4, 0.3, family_low=-0.2, family_high=1.0, more_pulls=36, more_minutes=248.0, **low),
    )
    lines = [line for line in found.to_text().splitlines() if line]
    assert len(lines) + 1 <= 12  # and the line that leads to the details
    assert lines[0] == "Keep oil 5W-30; don't keep trumpets long; not settled: fuel blend (36 more pulls, or leave it)."
    assert "real loss, maybe less than 1 hp" in found.to_text() and "real gain\n" in found.to_text()


def test_of_two_levels_of_one_part_only_one_can_be_kept_and_many_are_not_all_named():
    same = {"gain": 3.0, "se": 0.3, "family_low": 2.0, "family_high": 4.0, "verdict": REAL_GAIN, "route": "study"}
    two = judgement(Gain("oil", "A", **same), Gain("oil", "B", **same), Gain("fuel", "C", **same))
    assert two.screen().first == "Keep oil A or oil B and fuel C."
    many = judgement(*(Gain("oil", str(n), **same) for n in range(30)))
    assert many.screen().first == "Keep oil 0 or oil 1 or oil 2 or oil 3 and 26 more."
    assert many.to_text().count("real gain") == 30


def test_no_difference_whose_bracket_reaches_beyond_says_which_one_it_goes_by():
    found = {"gain": 0.1, "se": 0.5, "smallest_gain": 1.2, "verdict": NO_DIFFERENCE, "route": "study", "risk": 0.025}
    wide = Gain("oil", "A", **found, family_low=-1.28, family_high=1.31, inner_low=-1.03, inner_high=1.06)
    narrow = Gain("fuel", "B", **found, family_low=-0.9, family_high=1.1, inner_low=-0.8, inner_high=0.9)
    said = " ".join(judgement(wide, narrow).to_text().split())
    assert f"'{NO_DIFFERENCE}' goes by the 95 % bracket: oil A (-1.03 to +1.06), inside 1.2 hp." in said
    assert said.count("goes by the") == 1


def test_a_final_verdict_says_what_each_question_had_left_of_the_risk():
    same = {"gain": 3.0, "se": 0.3, "family_low": 2.0, "family_high": 4.0, "verdict": REAL_GAIN, "route": "study"}
    two = judgement(Gain("oil", "A", **same, risk=0.0325), Gain("new", "B", **same, risk=0.05), look=(2, 0.05))
    assert "Final, after 1 early look: 3.25 % to 5 % of the risk was left for it." in two.to_text()
    spent = judgement(Gain("oil", "A", **same, risk=0.05), final=False, look=(1, 4.7e-7), look_leaves=0.05)
    assert "it spends less than 0.001 % of the risk and leaves 5 % for the end" in spent.to_text()


def test_open_questions_with_one_remedy_share_a_line():
    open_ = {"gain": 0.1, "se": 0.3, "family_low": -0.5, "family_high": 0.7, "route": "study", "smallest_gain": 0.4}
    found = judgement(*(Gain("oil", level, **open_, more_pulls=12) for level in "ABC"), folders=())
    assert found.screen().first == "Not settled: oil A, oil B and oil C."
    assert "oil A, oil B and oil C, each: 12 more pulls, back to back, would probably settle it: add" in found.to_text()
    short = judgement(
        Gain("oil", "A", **open_, more_pulls=12), Gain("fuel", "B", **open_, more_pulls=4, more_installs=2)
    )
    said = " ".join(short.to_text().split())
    assert "would probably settle it; fuel B: 4 more pulls in 1 return to baseline: 'doe plan my-day-next" in said


def test_at_a_look_the_rest_of_the_next_day_is_planned_and_pulled_not_that_of_a_day_that_is_done():
    open_ = {"gain": 0.1, "se": 0.3, "family_low": -0.5, "family_high": 0.7, "route": "study", "smallest_gain": 0.4}
    gains = Gain("oil", "A", **open_, conditional_power=0.01), Gain("fuel", "B", **open_, conditional_power=0.6)
    found = judgement(*gains, folders=("monday",), next_day="tuesday", final=False, look=(1, 0.005))
    text = " ".join(found.to_text().split())
    assert "'doe plan tuesday --from-now --drop oil=A' gives its time to the others" in text
    assert "fuel B: open as yet: go on with 'doe next tuesday'" in text
    over = judgement(*gains, folders=("monday",), together="doe judge monday tuesday", final=False, look=(1, 0.005))
    assert "oil A and fuel B: open as yet: 'doe judge monday tuesday' judges all of them together." in over.to_text()
    assert "doe next" not in over.to_text()
    assert "monday" not in text


def test_what_changes_what_a_reader_does_stays_and_the_rest_waits():
    serious, minor = judge_notes.no_times(), judge_notes.equal_times(2)
    found = judgement(notes=(serious, minor))
    assert serious.text in found.to_text() and minor.text not in found.to_text()
    assert minor.text in found.to_text(details=True)


@pytest.mark.parametrize("day", ["my day", "day"])
def test_the_command_that_would_settle_it_works(tmp_path, day, searches_are_short):
    folder = make_day(tmp_path / day, 9, date=PAST, gain=0.6)
    text = " ".join(typed("judge", folder.name, cwd=tmp_path).stdout.split())
    (command,) = re.findall(r"'doe (plan [^']* --after [^']*)'", text)
    done = typed(*shlex.split(command), "--effort", "quick", cwd=tmp_path)
    new = tmp_path / f"{day}-next"
    assert done.returncode == 0 and (new / "plan.csv").exists(), done.stderr
    assert "started " in done.stderr
    before, after = (read_day_file(one) for one in (folder, new))
    assert after.day.date == max(dt.date.today(), before.day.date + dt.timedelta(days=1))
    assert after.model_copy(update={"day": before.day}) == before  # nothing else of it is another


def test_an_unfinished_day_says_go_on(tmp_path):
    folder = make_day(tmp_path / "day", 15)
    lines = typed("judge", "day", cwd=tmp_path).stdout.splitlines()
    assert lines[0].startswith("Go on pulling: the plan is not finished (15 of 24 counted pulls)")
    assert "'doe next day' says what comes" in lines[0] + lines[1]
    assert sum("15 of 24" in line for line in lines) == 1 and any(
        line.startswith("'doe judge day --look' shows") for line in lines
    )
    assert typed("next", folder.name, cwd=tmp_path).returncode == 0
    so_far = typed("judge", "day", "--look", cwd=tmp_path).stdout
    assert so_far.startswith("So far: ") and "not the last word" in so_far
