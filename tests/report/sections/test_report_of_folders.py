"""The report of real folders: what the journal has of plans, looks and sheets, photos, one page a campaign."""

from __future__ import annotations

import base64
import datetime as dt
import io
import json
import re
import subprocess
import sys
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from day_files import day_file, factor
from PIL import Image
from typed import typed

from doe.analysis.scatter.metric_noise import day_scatter
from doe.analysis.trials.campaign import read_days
from doe.day.clock import Position, lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.files.seal import seal_entries
from doe.day.log.planned.plan_writing import log_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.records import Stint
from doe.day.storage import only_writer
from doe.report import html
from doe.report.noise_page import text_blocks
from doe.report.sections.day_parts import day_parts
from doe.report.sections.story import story
from doe.stats.power import false_gain_chance

DAY = day_file(
    factor("oil", "thick", "thin 5 5 0 1.0", refit=True),
    factor("vacuum", "off", "on 2 2 0 0.8"),
    date="2020-05-16",
    finish="12:00",
    noise="pull_sd = 0.5\npull_df = 12\ninstall_sd = 0.3\ninstall_df = 5",
)
SETS = [("thick", "off"), ("thin", "off"), ("thick", "on"), ("thin", "on"), ("thick", "off"), ("thin", "off")]
ZONE = dt.timezone(dt.timedelta(hours=2))


def stints(sets) -> list[Stint]:
    return [Stint({"oil": oil, "vacuum": vacuum}, 2) for oil, vacuum in sets]


def make(folder: Path, date: str = "2020-05-16", pulls: int = 12, shift: float = 0.0) -> Path:
    folder.mkdir()
    (folder / "day.toml").write_text(DAY.replace("2020-05-16", date), encoding="utf-8")
    day = read_day_file(folder)
    runs = lay_out(day, stints(SETS))
    questions = [
        {"factor": f.name, "level": c.level, "smallest_gain": c.smallest_gain, "detectable_gain": 1.0,
         "family_power": 0.8, "no_difference_power": 0.8, "dropped": False}
        for f, c in day.questions
    ]  # fmt: skip
    with only_writer(folder):
        log_plan(
            folder, day, PlanFile(tuple(runs), {**seal_entries(day), "seed": 5, "questions": questions}), rest=False
        )
    record(folder, runs[:pulls], shift)
    return folder


def record(folder: Path, runs, shift: float = 0.0) -> None:
    day = read_day_file(folder)
    start = dt.datetime.combine(day.day.date, day.day.start, ZONE)
    random = np.random.default_rng(4)
    for run in runs:
        gain = 2.5 * (run.configuration["oil"] == "thin") + 0.1 * (run.configuration["vacuum"] == "on")
        moment = start + dt.timedelta(minutes=run.minute)
        value = round(200 + shift + gain + random.normal(0, 0.4), 2)
        record_pulls(folder, [Entry(value=value, run=run.run, time=moment)], now=moment)


@pytest.fixture(autouse=True)
def quick(monkeypatch) -> None:
    """Pages of days without pictures: test_page.py looks at those."""
    none = {"verdict_svg": "", "day_svgs": [""] * 2, "residual_svg": ""}
    monkeypatch.setattr(html, "pictures", lambda days, judgement, scatter: none)


@pytest.fixture(scope="module")
def days(tmp_path_factory) -> Path:
    """Two whole days, and one whose rest was planned anew after six pulls, with a void."""
    place = tmp_path_factory.mktemp("days")
    make(place / "one")
    make(place / "two", "2020-05-17", shift=0.3)
    folder = make(place / "late", "2020-05-18", pulls=6)
    day = read_day_file(folder)
    rest = lay_out(day, stints(SETS[1:3]), Position(120.0, {"oil": "thick", "vacuum": "on"}, 3, 3, 12))
    with only_writer(folder):
        document = {**seal_entries(day), "replaced": {"from_minute": 120.0, "taken": "searched anew", "compared": {}}}
        log_plan(folder, day, PlanFile(tuple(rest), document), rest=True)
    record(folder, rest)
    assert typed("void", folder, 4, "--why", "fan was off").returncode == 0
    assert typed("sheet", place / "late").returncode == 1  # the day is over
    return place


def page_of(*words: object) -> str:
    done = typed("report", *words)
    assert done.returncode == 0, done.stderr
    return Path(re.search(r"wrote (.*\.html)", done.stdout)[1]).read_text(encoding="utf-8")


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
    assert page.index("The day one") < page.index("The day two")
    data = json.loads(re.search(r'id="data">(.*?)</script>', page, re.DOTALL)[1])
    assert [len(day["pulls"]) for day in data["days"]] == [12, 12]


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
    assert "Nothing can be judged on this day. No counted pulls with 'mean power'" in page
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
    assert "The photo broken can't be shown" in page
    data = base64.b64decode(re.search(r"data:image/jpeg;base64,([^\"]+)", page)[1])
    assert len(data) <= 100_000
    assert b"the cell at home" not in data
    with Image.open(io.BytesIO(data)) as small:
        assert small.height > small.width


def test_a_noise_study_and_an_archive_have_pages_of_their_own(days, tmp_path):
    text = DAY[: DAY.index("[[factor]]")] + factor("oil", "thick", refit=True, refit_minutes=5)
    study = tmp_path / "study"
    study.mkdir()
    (study / "day.toml").write_text(text, encoding="utf-8")
    rows = [f"{8 + n // 10}:{5 * n % 50:02d},{1 + n // 4},thick,{200 + n % 3 / 5}" for n in range(12)]
    (study / "pulls.csv").write_text("time,install,oil,mean power\n" + "\n".join(rows), encoding="utf-8")
    page = page_of(study)
    assert "Two pulls with nothing touched between them differ by less than" in page
    assert page_of(days).count("<svg") == 2
    assert (days / "archive.html").exists()


def test_the_words_of_a_result_become_paragraphs_and_tables():
    text = "First.\n  It goes on.\n\n  a    1\n  b    2\nLast:\n  x"
    assert list(text_blocks(text)) == [
        ("p", "First.\nIt goes on."), ("pre", "  a    1\n  b    2"), ("p", "Last:\nx")
    ]  # fmt: skip


def test_the_report_does_not_load_seaborn():
    code = "import sys, doe.report.html, doe.report.noise_page; print('seaborn' in sys.modules)"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "False"
