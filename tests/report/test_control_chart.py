"""The control charts: what is drawn is what the study holds."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from doe.analysis.archive.noise_of_archive import noise_of_archive
from doe.report.control_chart import control_figure, level_picture, scatter_picture
from doe.report.style import PURPLE, house_style


@pytest.fixture(scope="module")
def metric(made, tmp_path_factory):
    """30 invented days, far apart in scatter."""
    folder = tmp_path_factory.mktemp("chart")
    made.make_archive(folder, 30, truth=made.Truth(between_df=4), plans=False)
    return noise_of_archive([folder]).metrics[0]


def drawn(draw, metric):
    ax = draw(metric, Figure().subplots())
    points = [line.get_ydata() for line in ax.lines if line.get_marker() not in ("None", "")]
    return ax, [np.sort(np.asarray(y, float)) for y in points]


def test_every_day_is_a_point_inside_or_outside(metric):
    outside = metric.chart.pull_sd_outside
    assert outside.any()
    for draw, values, out in (
        (scatter_picture, metric.chart.pull_sd, outside),
        (level_picture, metric.chart.level, metric.chart.level_outside),
    ):
        ax, (inside_drawn, outside_drawn) = drawn(draw, metric)
        assert inside_drawn == pytest.approx(np.sort(values[~out]))
        assert outside_drawn == pytest.approx(np.sort(values[out]))
        assert "[hp]" in ax.get_ylabel()


def test_the_key_says_how_many_chance_would_put_outside(metric):
    with house_style():
        figure = control_figure(metric)
    words = " ".join(text.get_text() for text in figure.legends[0].get_texts())
    assert f"{int(metric.chart.pull_sd_outside.sum())} by pull SD" in words
    assert "by chance far under 1. A chart, not a verdict" in words


def test_the_farthest_days_outside_carry_their_dates(metric):
    ax, _ = drawn(scatter_picture, metric)
    dates = {text.get_text() for text in ax.texts}
    rows = np.flatnonzero(metric.chart.pull_sd_outside)
    assert dates <= {metric.columns.date_of(row).isoformat() for row in rows}
    assert len(dates) == min(len(rows), 8)
    loudest = int(metric.chart.pull_sd.argmax())
    assert metric.columns.date_of(loudest).isoformat() in dates


def test_the_creep_of_the_text_is_drawn(made, tmp_path):
    made.make_archive(tmp_path, 40, truth=made.Truth(creep_a_month=-0.5), plans=False)
    found = noise_of_archive([tmp_path])
    (metric,) = found.metrics
    ax, _ = drawn(level_picture, metric)
    (line,) = [line for line in ax.lines if line.get_color() == PURPLE]
    low, high = line.get_ydata()
    assert high - low == pytest.approx(metric.creep.change, rel=1e-9)
    with house_style():
        figure = control_figure(metric)
    words = " ".join(text.get_text() for text in figure.legends[0].get_texts())
    assert f"creep {metric.creep.per_month:.2f} hp a month" in words
    assert figure.axes[0].get_title() == "mean power [hp]: 40 days"


def test_a_metric_without_a_unit_says_so(metric):
    ax, _ = drawn(scatter_picture, replace(metric, unit=""))
    assert ax.get_ylabel() == "pull SD [unit not stated]"


def test_one_day_can_be_drawn(made, tmp_path):
    made.make_archive(tmp_path, 1, plans=False)
    with house_style():
        control_figure(noise_of_archive([tmp_path]).metrics[0]).savefig(tmp_path / "one.svg")
    assert (tmp_path / "one.svg").stat().st_size > 1000
