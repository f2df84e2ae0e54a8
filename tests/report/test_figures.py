"""Every figure: no word lies on another or is cut off, whatever the names; and the files that --figures writes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from day_files import day_file, factor
from matplotlib.figure import Figure
from matplotlib.text import Text
from searches import short_searches

from doe.analysis.scatter.metric_noise import DayScatter
from doe.analysis.scatter.noise_result import Scatter
from doe.analysis.scatter.repeatability import noise
from doe.claims.auditing import audit
from doe.cli.figures import days_title
from doe.day.files.dayfile import parse_day
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.drawn.plan import plan_of
from doe.report.day_figure import BaselineBand, day_figure
from doe.report.figure_files import figures_of, write_figures
from doe.report.sections.residual_figure import residual_figure
from doe.report.style import DESK, PHONE, house_style, shortened
from doe.report.verdict_figure import verdict_figure

CLAIM = Path(__file__).parents[2] / "plans_demo" / "claims" / "there_and_back.toml"
LONG = "a very long name of a part that somebody typed in one afternoon, with its number 4711"


def words_of(figure: Figure) -> list[Text]:
    """Every text that can be seen."""
    figure.draw_without_rendering()
    seen = [text for text in figure.findobj(Text) if text.get_text().strip() and text.get_visible()]
    hidden = {
        id(label)
        for ax in figure.axes
        for axis in (ax.xaxis, ax.yaxis)
        for place, label in zip(axis.get_majorticklocs(), axis.get_ticklabels(), strict=False)
        if not min(axis.get_view_interval()) <= place <= max(axis.get_view_interval())
    }
    return [text for text in seen if id(text) not in hidden]


def collisions(figure: Figure) -> Iterator[tuple[str, str]]:
    """Words that lie on each other by more than a point."""
    boxes = [(text.get_text(), text.get_window_extent().padded(-1.0)) for text in words_of(figure)]
    for (one, box), (other, further) in combinations(boxes, 2):
        if box.width > 0 and further.width > 0 and box.overlaps(further) and one != other:
            yield one, other


def cut_off(figure: Figure) -> list[str]:
    """Words that reach beyond the figure."""
    edge = figure.bbox.padded(1.5)
    return [
        text.get_text()
        for text in words_of(figure)
        if not (edge.x0 <= text.get_window_extent().x0 and text.get_window_extent().x1 <= edge.x1)
    ]


def renamed(day: DayFile, judgement, pulls, name: str):
    """The same day with a long name in the place of "oil"."""
    raw = day.model_dump(by_alias=True)
    raw["factor"][0]["name"] = name
    long = DayFile.model_validate(raw)
    moved = [
        replace(pull, configuration={name if key == "oil" else key: level for key, level in pull.configuration.items()})
        for pull in pulls
    ]
    return long, replace(judgement, changes=(replace(judgement.changes[0], factor=name), *judgement.changes[1:])), moved


def test_words_that_lie_on_each_other_would_be_seen():
    figure = Figure(figsize=(3, 2))
    ax = figure.subplots()
    ax.text(0.2, 0.5, "one word")
    ax.text(0.25, 0.52, "another")
    ax.text(0.9, 0.9, "and one that is cut off at the edge")
    assert ("one word", "another") in list(collisions(figure))
    assert cut_off(figure) == ["and one that is cut off at the edge"]


def test_a_name_of_wide_letters_is_cut_as_early_as_they_are_wide():
    assert shortened("thin oil", 8) == "thin oil" and shortened("thinner oil", 8) == "thinner…"
    assert shortened("日本語", 6) == "日本語" and shortened("日本語の部品", 7) == "日本語…"
    assert shortened("", 3) == ""


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize("name", ["oil", LONG])
def test_no_word_of_a_days_figures_lies_on_another(day, judgement, pulls, width, name):
    long, judged, made = renamed(day, judgement, pulls, name)
    left = [0.1 * (-1) ** k * k for k in range(8)]
    scatter = DayScatter(tuple("12345678"), tuple(left), tuple(sorted(left)), Scatter(0.5, 0.4, 0.7, 6, None))
    with house_style():
        for figure in (
            verdict_figure(judged, width),
            day_figure(long, made, width, band=BaselineBand(80.0, 205.0, -0.01, 1.0), noted=(4, 7)),
            residual_figure(scatter, "hp", width),
        ):
            assert list(collisions(figure)) == []
            assert cut_off(figure) == []


@pytest.fixture(scope="module")
def results() -> dict:
    """A plan, a study and an audit."""
    text = day_file(
        factor("oil", "thick", "thin 15 15 1 2.0", refit=True),
        factor("vacuum", "off", "on 2 2 0 1.5"),
        title="An invented day",
        finish="16:00",
        breaks=[("12:00", 30)],
        warm_up=30,
        noise="pull_sd = 1.0\ninstall_sd = 0.4\ninstall_df = 5",
    )
    with pytest.MonkeyPatch.context() as patch:
        short_searches(patch)
        plan = plan_of(parse_day(text), seed=1, effort="quick")
    table = {"power": [200 + k % 3 / 5 for k in range(12)], "fitting": [k // 3 for k in range(12)]}
    return {"plan": plan, "noise": noise(table, value="power", install="fitting"), "audit": audit([CLAIM])}


@pytest.mark.parametrize("kind", ["plan", "noise", "audit"])
@pytest.mark.parametrize("about", ["Cell 3, 2026-05-16", f"{LONG}; " * 9, "W" * 90])
def test_no_word_of_a_results_figures_lies_on_another(results, kind, about):
    with house_style():
        figures = figures_of(results[kind], about)
        assert kind == "plan" or any(figure.get_suptitle().startswith(about[:9]) for figure in figures.values())
        for figure in figures.values():
            assert list(collisions(figure)) == []
            assert cut_off(figure) == []


def test_the_files_are_the_same_each_time_and_carry_a_title(results, tmp_path):
    first = write_figures(results["noise"], tmp_path / "one", "Cell 3, 2026-05-16")
    second = write_figures(results["noise"], tmp_path / "two", "Cell 3, 2026-05-16")
    assert [path.name for path in first] == ["noise.svg", "noise.png"]
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]
    with house_style():
        assert figures_of(results["plan"])["plan"].get_suptitle() == "An invented day, 2026-05-16"


def test_a_title_is_whole_where_it_fits_and_the_tests_of_a_change_name_it(results):
    with house_style():
        for words in ("Cell 3, 2026-05-16", "i" * 90, f"{LONG} and a date"):
            written = figures_of(results["noise"], words)["noise"].get_suptitle()
            assert written.replace("\n", " ") == words
        assert written.count("\n") == 1
        claims = sorted(CLAIM.parent.glob("thin_oil_*.toml"))
        figures = figures_of(audit(claims), "3 tests")
    assert {name: figure.get_suptitle() for name, figure in figures.items()} == {"claims": "3 tests", "forest": "Oil"}


def test_the_picture_of_several_days_has_their_titles_and_first_and_last_date(tmp_path):
    for number in (12, 10, 11):
        folder = tmp_path / f"{number}"
        folder.mkdir()
        text = day_file(factor("oil", "15W-50", "5W-30 20 20 0 1.0"), title="May", date=f"2026-05-{number}")
        (folder / "day.toml").write_text(text, encoding="utf-8")
    assert days_title([tmp_path / "12"]) == "May, 2026-05-12"
    assert days_title(sorted(tmp_path.iterdir())) == "May, 2026-05-10 to 2026-05-12"


def test_what_the_plan_settles_by_each_hour_stands_where_it_does(results):
    plan = results["plan"]
    (ax,) = figures_of(plan)["plan"].axes
    told = {text.get_position()[0]: text.get_text() for text in ax.texts if text.get_text().replace(".", "").isdigit()}
    assert told[plan.if_cut[-1].minute] == f"{plan.if_cut[-1].settled:.1f}"
    assert set(told) <= {cut.minute for cut in plan.if_cut}


def test_a_result_without_a_picture_and_a_file_in_the_way_are_refused(results, tmp_path):
    (tmp_path / "taken").write_text("x")
    with pytest.raises(InputError, match="this is a file"):
        write_figures(results["noise"], tmp_path / "taken")
    with pytest.raises(InputError, match="there is no picture of a str"):
        figures_of("x")
