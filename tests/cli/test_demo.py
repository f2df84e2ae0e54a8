"""``doe demo`` and ``doe report`` as a tester types them."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

STORY = {
    ("oil", "5W-30"): "real gain",
    ("crankcase vacuum", "on"): "real gain",
    ("intake trumpets", "long"): "real loss",
    ("spark plugs", "fine wire"): "no difference that matters",
    ("fuel", "blend"): "not settled",
}


def doe(*words, cwd):
    return subprocess.run(
        [sys.executable, "-m", "doe", *words], cwd=cwd, capture_output=True, text=True, timeout=300, check=False
    )


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo day, run once as the README says it."""
    cwd = tmp_path_factory.mktemp("demo")
    return cwd, doe("demo", cwd=cwd)


def test_tells_the_whole_story(demo):
    cwd, done = demo
    assert done.returncode == 0, done.stderr
    again = json.loads(doe("judge", "demo-day", "--json", cwd=cwd).stdout)
    assert {(c["factor"], c["level"]): c["verdict"] for c in again["changes"]} == STORY
    for verdict in STORY.values():
        assert verdict in done.stdout


def test_says_that_it_is_invented_and_where_everything_lies(demo):
    cwd, done = demo
    assert done.stdout.startswith("INVENTED DATA")
    for name in ("day.toml", "plan.csv", "pulls.csv", "report.html"):
        assert str((cwd / "demo-day" / name).relative_to(cwd)) in done.stdout
        assert (cwd / "demo-day" / name).stat().st_size > 0
    assert "invented data" in (cwd / "demo-day" / "report.html").read_text(encoding="utf-8")


def test_measures_the_punch_line(demo):
    # The share itself is checked in tests/simulation/test_demo_day.py.
    _, done = demo
    assert "1 hp or more, up or down, in 25% of all tests (20,000 simulated just now)" in done.stdout


def test_progress_goes_to_standard_error(demo):
    _, done = demo
    assert "planning" in done.stderr
    assert "planning the day in" not in done.stdout


def test_report_writes_the_same_page_again(demo):
    cwd, _ = demo
    page = cwd / "demo-day" / "report.html"
    before = page.read_bytes()
    done = doe("report", "demo-day", "--json", cwd=cwd)
    assert json.loads(done.stdout) == {"format": 1, "report": "demo-day/report.html"}
    assert page.read_bytes() == before


def test_refuses_a_folder_that_it_did_not_make(tmp_path):
    (tmp_path / "demo-day").mkdir()
    (tmp_path / "demo-day" / "mine.txt").write_text("mine")
    done = doe("demo", cwd=tmp_path)
    assert done.returncode == 2
    assert "mine.txt" in done.stderr
    assert "Traceback" not in done.stderr
    assert (tmp_path / "demo-day" / "mine.txt").read_text() == "mine"


def test_report_of_no_day_is_a_clear_error(tmp_path):
    done = doe("report", "nowhere", cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
