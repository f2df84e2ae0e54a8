"""Numbers for people."""

from __future__ import annotations

import pytest

from doe.report.wording import share, signed, with_unit


@pytest.mark.parametrize(
    ("value", "decimals", "unit", "text"),
    [
        (1.75, 1, "hp", "+1.8 hp"),
        (-0.349, 2, "%", "−0.35 %"),
        (0.04, 1, "hp", "0.0 hp"),
        (-0.04, 1, "", "0.0"),
        (-12.0, 0, "lb-ft", "−12 lb-ft"),
    ],
)
def test_signed(value, decimals, unit, text):
    assert signed(value, decimals, unit) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0 %"), (0.001, "under 1 %"), (0.804, "80 %"), (0.999, "over 99 %"), (1.0, "100 %"), (None, "unknown")],
)
def test_share_is_certain_only_when_it_is(value, text):
    assert share(value) == text


def test_a_number_without_unit_stands_alone():
    assert with_unit("3", "") == "3"
