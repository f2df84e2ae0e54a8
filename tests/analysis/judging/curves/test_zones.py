"""What a band says where, and the words for it."""

from types import SimpleNamespace

import pytest

from doe.analysis.judging.curves.curve_result import Curves, GainCurve
from doe.analysis.judging.curves.zones import Zone, said_at, zones
from doe.words.judgements import curve_notes
from doe.words.judgements.curve_words import joined, where_in_range


@pytest.mark.parametrize(
    ("low", "high", "smallest", "says"),
    [
        (2.0, 4.0, 2.0, "worth_having"),
        (1.0, 4.0, 2.0, "gain"),
        (1.0, 1.9, 2.0, "small_gain"),
        (0.1, 9.0, None, "gain"),
        (-1.0, 1.9, 2.0, "no_difference"),
        (-1.0, 2.0, 2.0, "open"),
        (0.0, 9.0, 2.0, "open"),
        (-9.0, -0.1, None, "loss"),
        (-1.9, -0.1, 2.0, "small_loss"),
        (-4.0, -1.0, 2.0, "loss"),
        (-4.0, -2.0, 2.0, "bad_loss"),
    ],
)
def test_what_a_band_says_at_one_rpm(low, high, smallest, says):
    assert said_at(low, high, smallest) == says


def test_zones_are_stretches_of_neighbours_and_a_gap_parts_them():
    rpm = [4000.0, 4100.0, 4200.0, 4500.0, 4600.0]
    found = zones(rpm, [-1, 1, 1, 1, 3], [2, 4, 4, 4, 4], 2.0, 100.0)
    assert found == (
        Zone(4000, 4000, "open"),
        Zone(4100, 4200, "gain", follows=True),
        Zone(4500, 4500, "gain"),
        Zone(4600, 4600, "worth_having", follows=True),
    )
    assert joined(found, ("gain", "worth_having")) == [(4100, 4200), (4500, 4600)]


def test_where_less_is_better_a_gain_is_a_decrease():
    (zone,) = zones([1000.0], [-4.0], [-3.0], 2.0, 100.0, "lower")
    assert zone.says == "worth_having"


def words(low, high, smallest=2.0, notes=()):
    rpm = tuple(4000.0 + 100 * place for place in range(len(low)))
    gain = tuple((a + b) / 2 for a, b in zip(low, high, strict=True))
    curve = GainCurve(
        "oil", "thin", "study", gain, gain, tuple(low), tuple(high), smallest_gain=smallest,
        zones=zones(rpm, low, high, smallest, 100.0), notes=notes,
    )  # fmt: skip
    return where_in_range(curve, Curves("power", "hp", "hp", 100.0, rpm=rpm))


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (
            [-1, -1, -1, 1, 2.1, 2.2, 1],
            [3] * 7,
            "worth 2 hp or more from 4,400 to 4,500 rpm; a gain from 4,300 rpm up; up to 4,200 rpm a loss can't be"
            " ruled out",
        ),
        ([2.5] * 3, [5] * 3, "worth 2 hp or more at all rpm"),
        ([-3] * 3, [3] * 3, "at all rpm neither a gain nor a loss can be ruled out"),
        ([-1] * 3, [1] * 3, "less than 2 hp either way at all rpm"),
        ([0.5] * 3, [1] * 3, "a gain at all rpm; less than 2 hp either way at all rpm"),
        (
            [-3, 1, -3, 1],
            [3, 3, 3, 3],
            "a gain at 4,100 rpm and at 4,300 rpm; elsewhere a loss can't be ruled out",
        ),
        (
            [-9, -9, -1],
            [-3, -1, 5],
            "a loss of 2 hp or more at 4,000 rpm; a loss up to 4,100 rpm; at 4,200 rpm a gain can't be ruled out",
        ),
        (
            [1, -3, -3],
            [3, 3, -1],
            "a gain at 4,000 rpm; a loss at 4,200 rpm; at 4,100 rpm neither a gain nor a loss can be ruled out",
        ),
    ],
)
def test_zones_in_words(low, high, said):
    assert words(low, high) == said


def test_without_a_smallest_gain_nothing_is_called_worth_having():
    assert words([1, -1], [2, 1], None) == "a gain at 4,000 rpm; at 4,100 rpm a loss can't be ruled out"


def test_a_note_is_said_behind():
    said = words([3], [4], notes=(curve_notes.widened("oil thin", 1.31),))
    assert said == "worth 2 hp or more at all rpm; the band is made 1.3 times wider, as the verdict's interval is"


def test_every_zone_is_said_somewhere():
    """Whatever the band, each zone is part of a claim that is true there."""
    kinds = ("worth_having", "gain", "small_gain", "no_difference", "open", "small_loss",
             "loss", "bad_loss")  # fmt: skip
    for says in kinds:
        curve = SimpleNamespace(
            notes=(), smallest_gain=2.0, zones=(Zone(4000, 4000, says), Zone(4100, 4100, "worth_having", follows=True))
        )
        assert "4,000" in where_in_range(curve, Curves("power", "hp", "hp", 100.0, rpm=(4000.0, 4100.0))).replace(
            "at all rpm", "4,000"
        )
