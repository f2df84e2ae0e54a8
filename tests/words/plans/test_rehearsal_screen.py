"""A rehearsal in ten seconds: what the sentence says of each question is what its JSON says."""

from __future__ import annotations

import pytest

from doe.simulation.rehearsal import Broken, ChangeShares, Rehearsal, Scenario
from doe.words.phrases import WIDTH
from doe.words.screen import filled


def change(name: str, gain: float, none: float) -> ChangeShares:
    rest = 1 - gain - none
    return ChangeShares(
        factor=name, level="new", true_gain=0.0, real_gain=gain, real_loss=0.0, no_difference=none, not_settled=rest,
        coverage=0.95, before_and_after=0.21,
    )  # fmt: skip


def rehearsal(*found: float, broken=()) -> Rehearsal:
    names = [f"part {at}" for at in range(len(found))]
    nothing = Scenario("nothing works", tuple(change(name, 0.01, 0.7) for name in names), 0.97, 0.03)
    smallest = Scenario("smallest gain", tuple(map(change, names, found, [0.0] * len(found))), 0.98, 0.02)
    return Rehearsal(1000, 1, (nothing, smallest), "hp", broken)


@pytest.mark.parametrize("shares", [(0.9,), (0.3, 0.85, 0.79), (0.1, 0.2)])
def test_each_question_is_found_or_may_stay_open_by_its_share(shares):
    found = rehearsal(*shares)
    first = found.screen().first
    for one in found.to_dict()["scenarios"][1]["changes"]:
        name = f"{one['factor']} {one['level']}"
        clause = next(clause for clause in first.split("; ") if name in clause)
        assert ("ay stay open: " in clause) is (one["real_gain"] < 0.8)
    assert first.endswith("a verdict was wrong on 3.0% of 1000 simulated days.")
    lines = found.to_text().splitlines()
    assert len(lines) <= 12 and all(len(line) <= WIDTH for line in lines)
    assert "If nothing works" in found.to_text(details=True)


def test_what_would_break_it_is_shown_where_it_was_asked_for():
    broken = (Broken("as planned", 1.7, 0.03, 0.97), Broken("wander 0.5 hp", 1.1, 0.12, None))
    text = rehearsal(0.9, 0.9, broken=broken).to_text()
    assert "wander 0.5 hp" in text and "12.0%" in text and "settled: half for each" in text
    assert "wander" not in rehearsal(0.9, 0.9).to_text()


def test_a_wrong_verdict_on_no_day_is_not_said_in_percent():
    none = (Scenario("nothing works", (change("oil", 0.0, 0.9),), 0.97, 0.0),
            Scenario("smallest gain", (change("oil", 0.9, 0.0),), 0.97, 0.0))  # fmt: skip
    assert Rehearsal(20, 1, none, "hp", ()).screen().first.endswith("; no verdict was wrong on 20 simulated days.")


@pytest.mark.parametrize("width", [60, 80, 100])
def test_no_table_of_the_details_is_wider_than_the_terminal_and_nothing_is_cut(width):
    broken = (Broken("as planned", 1.7, 0.03, 0.97), Broken("wander 0.5 hp", 1.1, 0.12, None))
    text = rehearsal(0.3, 0.85, 0.79, broken=broken).to_text(details=True, width=width)
    lines = filled(text, width).splitlines()
    assert max(map(len, lines)) <= width
    assert sum(line.endswith("'gain' on 21%") for line in lines) == 6 and "12.0%" in text
