"""The page and pictures of an audit show the audit's own numbers, in one file, the same every time."""

import html
import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

from doe.claims.auditing import audit
from doe.claims.evidence.noise_map import NoiseMap
from doe.claims.reading.schema import NoiseTable
from doe.errors import InputError
from doe.report.audited.audit_figures import forest_picture, scatter_figure, scatter_picture
from doe.report.audited.audit_page import audit_page, write_audit_page

DEMO = Path(__file__).parents[2] / "plans_demo" / "claims"
OILS = [DEMO / f"thin_oil_{number}.toml" for number in ("one", "two", "three")]


@pytest.fixture(scope="module")
def pooled():
    return audit([*OILS, DEMO / "mixed_standards.toml"])


@pytest.fixture(scope="module")
def page(pooled):
    return audit_page(pooled)


@pytest.fixture
def ax():
    return Figure().subplots()


def words(ax):
    return [text.get_text() for text in ax.texts]


def test_it_needs_no_network_and_holds_no_script(page):
    links = re.findall(r"(?:src|href)=\"(?!#)([^\"]*)\"", page)
    assert [link for link in links if not link.startswith("data:")] == []
    assert "<script" not in page
    assert "@import" not in page


def test_it_says_every_paragraph_verdict_and_reason(page, pooled):
    text = html.unescape(page).replace("−", "-")
    for paragraph in pooled.paragraphs:
        assert paragraph in text
    for test in pooled.tests:
        for claim in test.claims:
            assert f'<td class="word">{claim.headline}</td>' in text
            for fault in claim.faults:
                assert fault.why in text
                assert fault.what in text


def test_same_files_same_page(page, pooled):
    assert audit_page(pooled) == page


def test_ids_of_its_pictures_are_unique(page):
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_names_are_text_not_markup(tmp_path):
    file = tmp_path / "a.toml"
    file.write_text((DEMO / "best_of_three.toml").read_text().replace("A spacer", "<b>A spacer & co</b>"))
    page = audit_page(audit(file))
    assert "<b>A spacer" not in page
    assert "&lt;b&gt;A spacer &amp; co&lt;/b&gt;" in page


@pytest.mark.parametrize("name", ["", "claims.toml", "nowhere/audit.html"])
def test_it_is_not_written_where_it_would_do_harm(tmp_path, pooled, name):
    (tmp_path / "claims.toml").write_text("mine")
    with pytest.raises(InputError, match="can't be written there; name a file"):
        write_audit_page(pooled, tmp_path / name)
    assert (tmp_path / "claims.toml").read_text() == "mine"


def test_the_forest_draws_every_test_and_what_they_say_together(pooled, ax):
    change = pooled.pooled[0]
    assert forest_picture(change, ax) is ax
    drawn = [tuple(map(float, line.get_xdata())) for line in ax.lines]
    for row in change.rows:
        half = 1.959964 * row.se_percent  # Source: any table of the normal, six decimals
        ends = pytest.approx((row.gain_percent - half, row.gain_percent + half), abs=1e-6)
        assert any(line == ends for line in drawn)
    assert (change.pooled.low, change.pooled.high) in drawn
    assert (change.pooled.prediction_low, change.pooled.prediction_high) in drawn
    assert any("together" in word for word in words(ax))


def test_a_test_that_is_left_out_is_drawn_with_its_reason(ax, tmp_path):
    odd = tmp_path / "odd.toml"
    odd.write_text(OILS[0].read_text().replace('changed = ["oil"]', 'changed = ["oil", "filter"]', 1))
    forest_picture(audit([*OILS[1:], odd]).pooled[0], ax)
    assert any(word == "left out: confounded" for word in words(ax))
    assert not any("together" in word for word in words(ax))


def test_long_names_are_cut_and_do_not_squeeze_the_picture(tmp_path, recwarn):
    odd = tmp_path / "odd.toml"
    odd.write_text(OILS[0].read_text().replace("Thin oil in a straight six", "A very long name of a test " * 9, 1))
    audit_page(audit([odd, OILS[1]]))
    assert [str(warning.message) for warning in recwarn] == []


def test_a_gain_without_a_stated_scatter_is_drawn_as_a_point(ax):
    change = audit([*OILS[:2], DEMO / "single_pulls_stacked.toml"]).pooled[0]
    forest_picture(change, ax)
    marks = [float(line.get_xdata()[0]) for line in ax.lines if line.get_marker() == "s"]
    assert marks == [row.gain_percent for row in change.rows]


def grid(verdicts, installs=2):
    return NoiseMap((1.0, 2.0, 3.0), tuple(map(float, range(installs))), verdicts)


def test_the_scatter_picture_names_each_verdict_and_marks_the_scatter_used(ax):
    verdicts = (("real gain", "real gain"), ("real gain", "not settled"), ("not settled", "not settled"))
    assert scatter_picture(grid(verdicts), NoiseTable(pull_sd=2.0, install_sd=0.5), "hp", ax) is ax
    assert set(words(ax)) == {"real gain", "not settled"}
    (mark,) = [line for line in ax.lines if line.get_marker() == "D"]
    assert (*mark.get_xdata(), *mark.get_ydata()) == (2.0, 0.5)
    assert ax.get_xlabel() == "pull-to-pull scatter, SD [hp]"
    assert ax.get_ylabel() == "refit scatter, SD [hp]"


def test_a_switch_has_no_refit_axis(ax):
    scatter_picture(grid((("real loss",), ("real loss",), ("not settled",)), installs=1), NoiseTable(), "", ax)
    assert ax.get_ylabel() == ""
    assert list(ax.get_yticks()) == []
    assert "real loss" in words(ax)


@pytest.mark.parametrize("word", ["real gain", "not settled", "no difference that matters"])
def test_one_verdict_everywhere_is_drawn_too(word):
    figure = scatter_figure(grid(((word,) * 2,) * 3), NoiseTable(pull_sd=1.0), "hp")
    figure.canvas.draw()
    assert words(figure.axes[0]) == [word.replace(" that", "\nthat")]


def test_the_picture_turns_where_the_claim_does():
    from doe.report.audited.audit_page import _fine_map

    (test,) = audit(DEMO / "single_pulls_stacked.toml").tests
    claim = test.claims[0]
    fine = _fine_map(test, claim)
    flat = [row[0] for row in fine.verdicts]
    turns = np.array(fine.pull_sds)[flat.index("not settled")]
    assert turns == pytest.approx(claim.needed_pull_sd, abs=fine.pull_sds[1] - fine.pull_sds[0])
