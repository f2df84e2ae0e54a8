"""The verdict picture draws the judgement's own numbers and says each verdict in words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from doe.report.style import VERDICT_LOOKS, house_style
from doe.report.verdict_figure import verdict_figure, verdict_picture


@pytest.fixture
def ax():
    return Figure().subplots()


def words(ax):
    return [text.get_text() for text in ax.texts]


def test_gives_back_the_axes_it_was_given(judgement, ax):
    assert verdict_picture(judgement, ax) is ax


def test_draws_both_intervals_and_the_gain_of_every_change(judgement, ax):
    verdict_picture(judgement, ax)
    drawn = {(row, *x) for line in ax.lines for row, *x in [(line.get_ydata()[0], *map(float, line.get_xdata()))]}
    for row, gain in enumerate(judgement.changes):
        if gain.se is not None:
            assert (row, gain.family_low, gain.family_high) in drawn
            assert (row, gain.inner_low, gain.inner_high) in drawn
            assert (row, gain.gain) in drawn


def test_the_wider_interval_is_the_thinner_line(judgement, ax):
    verdict_picture(judgement, ax)
    first = sorted(
        (line for line in ax.lines if list(line.get_ydata()) == [0, 0] and len(line.get_xdata()) == 2),
        key=lambda line: line.get_xdata()[1] - line.get_xdata()[0],
    )
    assert first[0].get_linewidth() > first[1].get_linewidth()


def test_says_each_verdict_with_its_gain_in_its_colour(judgement, ax):
    verdict_picture(judgement, ax)
    assert words(ax)[:4] == ["oil: 5W-30", "real gain, +1.70 hp", "crankcase vacuum: on", "real loss, −2.00 hp"]
    assert words(ax)[-1] == "not settled (not tested)"
    colours = {text.get_text().split(",")[0]: text.get_color() for text in ax.texts[1::2]}
    assert colours["no difference that matters"] == VERDICT_LOOKS["no difference that matters"][0]


def test_a_gain_without_an_interval_says_so(judgement, ax):
    bare = replace(judgement.changes[0], family_low=None, family_high=None, inner_low=None, inner_high=None)
    verdict_picture(replace(judgement, changes=(replace(bare, verdict="not settled"),)), ax)
    assert words(ax) == ["oil: 5W-30", "not settled (no interval)"]
    assert len([line for line in ax.lines if len(line.get_xdata()) == 2]) == 1  # only the line at 0


def test_shades_each_smallest_gain_and_keeps_it_in_sight(judgement, ax):
    verdict_picture(judgement, ax)
    shades = [(box.get_x(), box.get_x() + box.get_width()) for box in ax.patches]
    assert shades == [(-g.smallest_gain, g.smallest_gain) for g in judgement.changes]
    low, high = ax.get_xlim()
    assert low < -1.5
    assert high > 1.5


def test_without_a_smallest_gain_nothing_is_shaded(judgement, ax):
    verdict_picture(replace(judgement, changes=(replace(judgement.changes[0], smallest_gain=None),)), ax)
    assert not ax.patches


def test_the_key_names_both_confidences(judgement):
    key = [text.get_text() for text in verdict_figure(replace(judgement, confidence=0.9)).legends[0].get_texts()]
    assert "90 %" in key[0]
    assert "80 %" in key[2]


def test_at_an_early_look_the_key_names_what_the_look_spends(judgement):
    looked = replace(judgement, changes=tuple(replace(gain, risk=0.0069) for gain in judgement.changes))
    key = [text.get_text() for text in verdict_figure(looked).legends[0].get_texts()]
    assert "99.3 %" in key[0]
    assert "98.6 %" in key[2]


def test_the_key_names_both_levels_where_some_questions_were_judged_before(judgement):
    first, *others = judgement.changes
    mixed = replace(judgement, changes=(replace(first, risk=0.025), *(replace(g, risk=0.05) for g in others)))
    key = [text.get_text() for text in verdict_figure(mixed).legends[0].get_texts()]
    assert "95 to 97.5 %" in key[0]
    assert "90 to 95 %" in key[2]


def test_verdicts_differ_in_shape_and_in_grey():
    assert len({marker for _, marker in VERDICT_LOOKS.values()}) == 4
    colours = {to_hex(colour) for colour, _ in VERDICT_LOOKS.values()}
    assert len(colours) == 4


def test_the_readers_own_style_is_left_alone(judgement):
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    with house_style():
        verdict_figure(judgement)
    assert dict(mpl.rcParams) == before


def test_where_less_is_better_a_real_gain_points_to_the_left_and_the_axis_says_why(judgement, ax):
    gain = replace(judgement.changes[0], gain=-1.7, verdict="real gain")
    verdict_picture(replace(judgement, changes=(gain,), better="lower"), ax)
    assert "<" in {line.get_marker() for line in ax.lines}
    assert ax.get_xlabel().endswith("; lower is better")
