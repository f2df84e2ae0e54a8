"""Cautions follow the parts of the day; docs/safety.md says the same, word for word."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from doe.report.cautions import CAUTIONS, cautions_for

SAFETY = Path(__file__).parents[2] / "docs" / "safety.md"


def renamed(day, name, level="other"):
    factor = day.factor[0]
    change = factor.change[0].model_copy(update={"level": level})
    return day.model_copy(update={"factor": (factor.model_copy(update={"name": name, "change": (change,)}),)})


@pytest.mark.parametrize(
    ("name", "topic"),
    [
        ("oil", "Hot oil"),
        ("Fuel", "Fuel change"),
        ("crankcase vacuum", "Crankcase vacuum"),
        ("intake trumpets", "Intake, carburettor and throttle"),
    ],
)
def test_each_part_brings_its_own_caution(day, name, topic):
    topics = [caution.topic for caution in cautions_for(renamed(day, name))]
    assert topic in topics
    assert len(topics) == 5  # its own, and the four of every day


def test_words_match_whole_words_only(day):
    assert len(cautions_for(renamed(day, "foil shield"))) == 4


def test_a_level_can_bring_a_caution_too(day):
    assert "Fuel change" in [caution.topic for caution in cautions_for(renamed(day, "tank", "ethanol 20"))]


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.topic)
def test_the_safety_page_says_the_same_with_the_source(caution):
    page = SAFETY.read_text(encoding="utf-8")
    assert f"**{caution.topic}.** {caution.text}\nSource: {caution.source}." in page


def test_the_safety_page_puts_the_cells_rules_first():
    page = SAFETY.read_text(encoding="utf-8")
    first = re.search(r"\*\*The rules of the test cell and the local codes come first", page)
    assert first
    assert first.start() < page.index(CAUTIONS[0].topic)
