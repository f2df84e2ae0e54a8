"""The answer in one sentence: it says what the verdict stands on, and never contradicts the numbers beside it."""

from __future__ import annotations

import re

import pytest

from doe.analysis.judging.judgement import Gain
from doe.analysis.judging.verdict_rule import verdict
from doe.words.report.answer_words import answer, interval_text


def gain(size: float, outer: float, inner: float, smallest: float | None = 1.5) -> Gain:
    ends = (size - outer, size + outer, size - inner, size + inner)
    return Gain(
        "oil", "thin", size, 0.5, 9.0, *ends[:2], 0.1, *ends, smallest, verdict(*ends, smallest)
    )  # fmt: skip


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (gain(3.0, 1.0, 0.8), "oil thin is worth 2.0 to 4.0 hp: real, and at least the 1.5 hp asked for."),
        (gain(2.0, 1.0, 0.8), "oil thin is worth 1.0 to 3.0 hp: real; whether it is the 1.5 hp asked for is open."),
        (gain(1.0, 0.9, 0.7), "oil thin is worth 0.1 to 1.9 hp: real; whether it is the 1.5 hp asked for is open."),
        (gain(1.0, 0.9, 0.7, None), "oil thin is worth 0.1 to 1.9 hp: real."),
        (gain(-3.0, 1.0, 0.8), "oil thin costs 2.0 to 4.0 hp: a real loss."),
        (
            gain(0.4, 1.3, 1.0),
            "oil thin makes no difference that matters: within −0.6 to +1.4 hp, and less than 1.5 hp either way is"
            " too little.",
        ),
        (
            gain(0.5, 2.0, 1.7),
            "Whether oil thin helps is not settled: −1.5 to +2.5 hp, so it may be the 1.5 hp asked for, or nothing.",
        ),
        (gain(-1.0, 1.2, 1.0), "Whether oil thin helps is not settled: −2.2 to +0.2 hp."),
    ],
)
def test_each_verdict_has_its_sentence(one, said):
    assert answer(one, 1, "hp") == said


def test_what_makes_no_difference_is_never_said_to_reach_beyond_what_would_count():
    """The 95 % interval may reach beyond it: the verdict stands on the 90 % one, and so does the sentence."""
    for size in (-1.0, -0.4, 0.0, 0.3, 0.7):
        for inner in (0.1, 0.4, 0.8):
            one = gain(size, 1.3 * inner, inner)
            if one.verdict == "no difference that matters":
                ends = re.search(r"within (\S+) to (\S+) hp", answer(one, 2, "hp").replace("−", "-"))
                assert max(abs(float(end)) for end in ends.groups()) <= 1.5


def test_limits_that_lie_far_out_are_powers_of_ten_and_none_is_no_sentence():
    assert interval_text(gain(0.0, 3e9, 2e9), 2) == "(−3e+09 to +3e+09)"
    assert answer(Gain("oil", "thin"), 1, "hp") == ""


def fuel(size: float, outer: float, inner: float) -> Gain:
    ends = (size - outer, size + outer, size - inner, size + inner)
    return Gain("oil", "thin", size, 0.5, 9.0, *ends[:2], 0.1, *ends, 1.5, verdict(*ends, 1.5, "lower"))


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (
            fuel(-3.0, 1.0, 0.8),
            "oil thin takes off 2.0 to 4.0 kg/h, and less is better: real, and at least the 1.5 kg/h asked for.",
        ),
        (fuel(3.0, 1.0, 0.8), "oil thin adds 2.0 to 4.0 kg/h, and less is better: a real loss."),
        (
            fuel(-0.5, 2.0, 1.7),
            "Whether oil thin helps is not settled: −2.5 to +1.5 kg/h, so it may be the 1.5 kg/h asked for, or"
            " nothing.",
        ),
        (fuel(1.0, 1.2, 1.0), "Whether oil thin helps is not settled: −0.2 to +2.2 kg/h."),
    ],
)
def test_where_less_is_better_a_gain_is_said_to_take_something_off(one, said):
    assert answer(one, 1, "kg/h", "lower") == said
