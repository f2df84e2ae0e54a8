"""The report of real folders: what the journal has of plans, looks and sheets, photos, one page a campaign."""

from __future__ import annotations

import base64
import io
import json
import re
import subprocess
import sys
import zlib
from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from report_days import make, make_days, make_study, page_of
from typed import typed

from doe.analysis.judging.folders import judge_day
from doe.analysis.scatter.metric_noise import DayScatter, day_scatter
from doe.analysis.scatter.noise_result import Scatter
from doe.analysis.trials.campaign import read_days
from doe.report import html
from doe.report.noise_page import text_blocks
from doe.report.sections.day_parts import day_parts
from doe.report.sections.noise_section import baseline_band, noise_rows
from doe.report.sections.photos import Photo, photos_of
from doe.report.sections.story import story
from doe.stats.power import false_gain_chance
from doe.words.report.photo_words import TOO_LARGE, UNKNOWN, UNREADABLE, too_many


@pytest.fixture(autouse=True)
def quick(monkeypatch) -> None:
    """Pages of days without pictures: test_page.py looks at those."""
    none = {"verdict_svg": "", "day_svgs": [""] * 2, "residual_svg": ""}
    monkeypatch.setattr(html, "pictures", lambda days, judgement, scatter: none)


@pytest.fixture(scope="module")
def days(tmp_path_factory) -> Path:
    place = tmp_path_factory.mktemp("days")
    make_days(place)
    assert typed("sheet", place / "late").returncode == 1  # the day is over
    return place


def words_of(page: str) -> str:
    bare = re.sub(r"(?s)<(style|svg|script).*?</\1>", " ", page)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", bare)))


def test_a_replanned_day_is_told_as_it_was(days):
    page = words_of(page_of(days / "late"))
    assert "16 of 16" not in page
    assert "under 2 plans, the later ones made during the day: 9 were asked for" not in page
    assert "The first plan's order was drawn at random with seed 5." in page
    assert "planned anew (searched anew): 4 pulls that count from here, in an order that was not drawn" in page
    assert page.count("replaced: 2 were planned") == 3  # of the morning's six sets three were made
    assert "does not count: fan was off" in page


def test_the_customers_copy_is_a_file_of_its_own_without_the_reasons(days):
    page = page_of(days / "late", "--for", "customer")
    assert "fan was off" not in page
    assert "1 pull was taken out; the reasons stand in the file copy." in page
    assert (days / "late" / "report-customer.html").exists()


def test_a_campaign_has_one_page_beside_its_last_day(days):
    page = page_of(days / "two", days / "one")
    assert (days / "two" / "campaign.html").exists()
    assert page.index("16 May 2020: one") < page.index("17 May 2020: two")
    data = json.loads(re.search(r'id="data">(.*?)</script>', page, re.DOTALL)[1])
    assert [len(day["pulls"]) for day in data["days"]] == [12, 12]


def test_each_day_of_a_campaign_has_its_own_baseline(days):
    # The second day's readings are those of the first and .3 hp more; gains and drift are common to both.
    judgement = judge_day([days / "one", days / "two"])
    bands = [baseline_band(day_parts(day, alone=False), judgement) for day in read_days([days / "one", days / "two"])]
    assert bands[1].mean - bands[0].mean == pytest.approx(0.3)
    assert (bands[0].mean + bands[1].mean) / 2 == pytest.approx(judgement.baseline_mean, abs=0.02)
    untold = tuple(replace(gain, gain=None) for gain in judgement.changes)
    (first, _) = read_days([days / "one", days / "two"])
    assert baseline_band(day_parts(first, alone=False), replace(judgement, changes=untold)) is None


def test_what_the_journal_has_of_plans_comes_in_order(days):
    (folder,) = read_days([days / "late"])
    parts = day_parts(folder, alone=True)
    assert [stage.counted for stage in parts.stages] == [12, 4]
    told = [one.what for one in story(parts)]
    assert told[0] == "Planned: 12 pulls that count."
    assert "First pull, number 1." in told


def test_the_scatter_of_a_day_is_that_of_its_pulls_within_their_fittings(days):
    # By hand: in each fitting of oil, with the vacuum's gain and a drift taken out, nothing is left but pull scatter;
    # the residuals' sum of squares over its degrees of freedom is the variance.
    found = day_scatter(read_days([days / "one"]), "mean power")
    assert found.scatter.pull_sd_low < found.scatter.pull_sd < found.scatter.pull_sd_high
    assert 0.15 < found.scatter.pull_sd < 1.0
    assert sorted(found.normal) == pytest.approx([-x for x in sorted(found.normal, reverse=True)])
    assert np.argsort(found.residuals).tolist() == np.argsort(found.normal).tolist()


def test_a_false_gain_is_half_the_normal_tail():
    # Source: the normal table; Phi(1) = 0.841345, Phi(2) = 0.977250.
    assert false_gain_chance(1.0, 5.0, 2**0.5, refit=False) == pytest.approx(1 - 0.841345, abs=1e-6)
    assert false_gain_chance(0.6, 0.8, 2 * 2**0.5, refit=True) == pytest.approx(1 - 0.977250, abs=1e-6)
    assert false_gain_chance(0.0, 0.0, 1.0, refit=True) == 0.0


def test_a_day_on_which_nothing_counts_has_a_page_that_says_why(tmp_path):
    folder = make(tmp_path / "day", pulls=1)
    assert typed("void", folder, "--why", "fan was off").returncode == 0
    done = typed("report", folder, "--final")
    assert (done.returncode, "nothing to judge" in done.stderr) == (0, True)
    page = words_of((folder / "report.html").read_text(encoding="utf-8"))
    assert "Nothing can be judged on this day. No counted pulls with 'mean power' in day: nothing to judge yet." in page
    assert str(folder) not in page and "Nothing was: no change can be judged by these pulls." in page
    assert "Pull 1 (baseline) does not count: fan was off." in page


def test_photos_are_small_turned_and_without_what_a_camera_hides(tmp_path):
    folder = make(tmp_path / "day")
    (folder / "photos").mkdir()
    noise = np.random.default_rng(1).integers(0, 255, (900, 1600, 3), dtype=np.uint8)
    exif = Image.Exif()
    exif[0x0112], exif[0x010E] = 6, "the cell at home"  # turned by a quarter; a description
    Image.fromarray(noise).save(folder / "photos" / "a <b> filling.JPG", "JPEG", exif=exif)
    (folder / "photos" / "broken.png").write_bytes(b"no picture")
    page = page_of(folder)
    assert "Photo: a &lt;b&gt; filling" in page
    assert "The photo broken isn't shown: it can't be read as a JPEG or PNG" in unescape(page)
    found = re.search(r"data:image/jpeg;base64,([^\"]+)", page)
    assert len(found[0]) <= 100_000
    data = base64.b64decode(found[1])
    assert b"the cell at home" not in data
    with Image.open(io.BytesIO(data)) as small:
        assert small.height > small.width


def seen(photo: Photo) -> Image.Image:
    return Image.open(io.BytesIO(base64.b64decode(photo.data.partition(",")[2])))


def test_where_a_photo_is_transparent_the_paper_shows_and_grey_stays_grey(tmp_path):
    place = tmp_path / "photos"
    place.mkdir()
    Image.new("RGBA", (40, 40)).save(place / "a clear.png")
    Image.new("P", (40, 40)).save(place / "b palette.png", transparency=0)
    Image.new("I;16", (40, 40), 32768).save(place / "c deep grey.png")
    corners = [seen(photo).getpixel((20, 20)) for photo in photos_of(tmp_path)]
    assert corners == [(255, 255, 255), (255, 255, 255), (128, 128, 128)]


def test_each_photo_that_is_not_shown_says_why(tmp_path, recwarn):
    place = tmp_path / "photos"
    place.mkdir()
    Image.new("RGB", (40, 40)).save(place / "._a mac's companion.jpg")  # hidden
    (place / "a broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
    Image.new("RGB", (40, 40)).save(place / "b other.gif")
    (place / "b program.png").write_text("%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n%%EOF\n")
    size = (20_000).to_bytes(4, "big") * 2 + b"\x08\x02\0\0\0"  # 400 million pixels, by its header
    Image.new("RGB", (9, 9)).save(place / "c vast.png")
    data = (place / "c vast.png").read_bytes()
    header = b"IHDR" + size
    (place / "c vast.png").write_bytes(data[:12] + header + zlib.crc32(header).to_bytes(4, "big") + data[33:])
    for number in range(25):
        Image.new("RGB", (4, 4)).save(place / f"d {number:02}.png")
    photos = photos_of(tmp_path)
    assert [(photo.name, photo.why) for photo in photos if not photo.data] == [
        ("a broken", UNREADABLE), ("b other.gif", UNKNOWN), ("b program", UNREADABLE), ("c vast", TOO_LARGE),
        ("d 24", too_many(24)),
    ]  # fmt: skip
    assert not recwarn.list


def test_a_noise_study_and_an_archive_have_pages_of_their_own(days, tmp_path):
    page = page_of(make_study(tmp_path / "study"))
    assert "Two pulls with nothing touched between them differ by less than" in page
    assert "±0." in page and "+-" not in page.partition("<script")[0]
    archive = page_of(days)
    assert archive.count("<svg") == 2
    for answered in (page, archive):  # the answer first
        lead, _, rest = answered.partition('<p class="lead">Trust differences above ')[2].partition("</p>")
        assert lead and "<svg" in rest
    assert (days / "archive.html").exists()


def test_the_words_of_a_result_become_paragraphs_and_tables():
    text = "First.\n  It goes on.\n\n  a    1\n  b    2\nLast:\n  x"
    assert list(text_blocks(text)) == [
        ("p", "First.\nIt goes on."), ("table", [[], ["a", "1"], ["b", "2"]]), ("p", "Last:\nx")
    ]  # fmt: skip


def test_only_lines_that_were_wrapped_flow_together():
    long = "x" * 81
    text = f"First {long}\n  goes on {long}\n  to its end\nBy day:\n  one {long}\n  two {long}\n  a  b\n  c"
    assert list(text_blocks(text)) == [
        ("p", f"First {long} goes on {long} to its end"),
        ("p", f"By day:\none {long}\ntwo {long}"),
        ("pre", "  a  b"),
        ("p", "c"),
    ]


def test_the_report_does_not_load_seaborn():
    code = "import sys, doe.report.html, doe.report.noise_page; print('seaborn' in sys.modules)"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "False"


def test_each_refit_part_has_the_interval_of_its_own_scatter(judgement):
    noise = replace(judgement.noise, install_sd=None, install_sds={"oil": 0.4, "spark plugs": 0.1})
    own = Scatter(0.5, 0.4, 0.7, 12, None)
    scatter = DayScatter((), (), (), own, {"oil": (0.2, 0.9), "spark plugs": (0.0, 0.46)})
    rows = {row["name"]: row["known"] for row in noise_rows(replace(judgement, noise=noise), scatter)}
    assert rows["Refit scatter of the oil"] == "between 0.2 and 0.9 hp, 19 times in 20"
    assert rows["Refit scatter of the spark plugs"] == "between 0 and 0.46 hp, 19 times in 20"
    percent = replace(judgement, noise=noise, scale="percent")  # the day's own scatter is in the metric's unit
    assert {row["known"] for row in noise_rows(percent, scatter)} == {""}
