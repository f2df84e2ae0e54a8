"""Pictures of gain curves: what is drawn is what the result says, in words that can be read. All invented."""

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

import doe
from doe.analysis.judging.curves.curve_result import Curves, GainCurve, PullCurve
from doe.analysis.judging.curves.zones import zones
from doe.errors import InputError
from doe.report import html
from doe.report.figure_files import figures_of
from doe.report.inline_svg import inline_svg
from doe.report.sections.curve_figure import curve_figure, gain_picture, pulls_picture
from doe.report.sections.day_parts import DayParts
from doe.report.sections.pictures import pictures
from doe.report.style import DESK, PHONE, house_style
from doe.words.judgements import curve_notes

RPM = tuple(float(rpm) for rpm in range(3200, 7001, 100) if not 4900 < rpm < 5300)  # a gap in it
LONG = "a very long name of a part that somebody typed in one afternoon, with its number 4711"


def change(factor, level, height, smallest=1.0, band=True):
    gain = tuple(height + 0.5 * np.sin(np.array(RPM) / 500))
    if not band:
        return GainCurve(factor, level, "none", gain, notes=(curve_notes.no_band(f"{factor} {level}"),))
    low, high, near, far = (tuple(np.array(gain) + by) for by in (-1.0, 1.0, -0.5, 0.5))
    return GainCurve(
        factor, level, "study", gain, low, low, high, near, far, 0.95, 12.0, 3.1, 9.0, 4.0, 1.0, smallest,
        zones(RPM, low, high, smallest, 100.0),
    )  # fmt: skip


PULLS = tuple(
    PullCurve(str(number), (), tuple(200 - 1e-5 * (np.array(RPM) - 6500) ** 2 + number)) for number in range(1, 4)
)
CURVES = Curves(
    "power", "hp", "hp", 100.0, width_rpm=300.0, rpm=RPM, pulls=PULLS,
    changes=(change("oil", "5W-30", 2.0), change("fuel", "blend", -3.0), change("plugs", "fine", 0.1, band=False)),
)  # fmt: skip


def collides(figure):
    """Whether any two words lie on each other, or one is cut off."""
    figure.draw_without_rendering()
    boxes = [
        text.get_window_extent().padded(-1.0)
        for ax in figure.axes
        for text in (*ax.texts, ax.yaxis.label, ax.xaxis.label)
        if text.get_text()
    ]
    outside = any(box.x0 < 0 or box.x1 > figure.bbox.x1 for box in boxes)
    return outside or any(one.overlaps(other) for at, one in enumerate(boxes) for other in boxes[:at])


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize("name", ["oil", LONG])
def test_words_are_apart_and_inside(width, name):
    long = replace(CURVES, changes=(replace(CURVES.changes[0], factor=name), *CURVES.changes[1:]))
    with house_style():
        figure = curve_figure(long, width)
        assert len(figure.axes) == 4
        assert not collides(figure)


def test_what_is_drawn_is_what_the_result_says_and_no_line_crosses_a_gap():
    with house_style():
        ax = gain_picture(CURVES, CURVES.changes[0], Figure().subplots())
    solid = [line for line in ax.lines if line.get_linewidth() == 2.0]
    assert [len(line.get_xdata()) for line in solid] == [18, 18]
    drawn = np.concatenate([line.get_ydata() for line in solid])
    np.testing.assert_array_equal(drawn, CURVES.changes[0].gain)
    vertices = np.concatenate([path.vertices for one in ax.collections for path in one.get_paths()])
    assert vertices[:, 1].min() == min(CURVES.changes[0].low)
    assert vertices[:, 1].max() == max(CURVES.changes[0].high)
    assert ax.get_ylabel() == "gain [hp]"
    assert [text.get_text() for text in ax.texts] == ["oil 5W-30"]


def test_every_pull_is_drawn_and_its_line_crosses_no_gap_either():
    with house_style():
        ax = pulls_picture(CURVES, Figure().subplots())
    (lines,) = [one.get_segments() for one in ax.collections]
    assert [len(line) for line in lines] == [18, 18] * len(CURVES.pulls)
    drawn = np.concatenate([line[:, 1] for line in lines])
    np.testing.assert_array_equal(drawn, np.concatenate([pull.values for pull in CURVES.pulls]))
    low, high = ax.get_ylim()
    assert low < drawn.min() and drawn.max() < high


def test_a_figure_is_drawn_once_and_as_saving_would_draw_it(monkeypatch):
    times, once = [], Figure.draw
    with house_style():
        saved = io.StringIO()
        curve_figure(CURVES).savefig(saved, format="svg", metadata={"Date": None})
        monkeypatch.setattr(Figure, "draw", lambda figure, renderer: times.append(once(figure, renderer)))
        svg = inline_svg(curve_figure(CURVES), "one", "")
    assert len(times) == 1
    said = re.findall(r'<use [^>]* x="([\d.]+)" y="([\d.]+)"', saved.getvalue())  # where marks and letters stand
    assert said and re.findall(r'<use [^>]* x="([\d.]+)" y="([\d.]+)"', svg) == said


def test_one_change_of_curves_is_plotted_by_its_name():
    ax = doe.plot(CURVES.only("fuel"))
    assert ax.texts[0].get_text() == "fuel blend"
    with pytest.raises(InputError, match="no change gearbox; there are: oil 5W-30, fuel blend, plugs fine"):
        CURVES.only("gearbox")
    with pytest.raises(InputError, match="no gain curves"):
        doe.plot(Curves("power", "hp", "hp", 100.0, notes=(curve_notes.no_traces(3),)))


def test_files_of_pictures_have_the_curves_where_there_are_any(judgement):
    assert set(figures_of(replace(judgement, curves=CURVES))) == {"verdicts", "curves"}
    assert set(figures_of(replace(judgement, curves=replace(CURVES, changes=())))) == {"verdicts"}


def test_the_page_says_where_in_the_range(judgement, day, pulls, monkeypatch):
    drawn = {"verdict_svg": "", "day_svgs": [""], "residual_svg": "", "curve_svg": "drawn"}
    monkeypatch.setattr(html, "pictures", lambda days, judgement, scatter: drawn)
    parts = DayParts(day, None, pulls)
    page = html.report_page([parts], replace(judgement, curves=CURVES))
    assert "<h2>Where in the range</h2>" in page
    assert "<strong>oil: 5W-30.</strong> Worth 1 hp or more" in page
    assert "<figure>drawn</figure>" in page
    assert "No band, as the pulls with traces" in page
    assert "<h2>Where in the range</h2>" not in html.report_page([parts], judgement)


def test_the_pages_picture_says_in_words_what_it_shows(judgement):
    svg = pictures([], replace(judgement, changes=(), curves=CURVES), None)["curve_svg"]
    assert svg.count('aria-label="The gain of each change over rpm') == 2
    assert "fuel blend: a loss of 1 hp or more" in svg
    assert 'id="curves-phone-figure_1"' in svg


def test_a_path_is_drawn_to_a_hundredth_of_a_point():
    with house_style():
        svg = inline_svg(curve_figure(CURVES), "one", "text of 1.23456")
    assert "text of 1.23456" in svg
    assert ' d="M ' in svg
    assert not any(len(part.split(".")[-1]) > 2 for part in svg.split(' d="')[1].split('"')[0].split() if "." in part)
