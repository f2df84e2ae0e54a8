"""``doe demo`` and ``doe report`` as a tester types them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from typed import in_process, typed

OIL_AND_VACUUM = Path(__file__).parents[3] / "plans_demo" / "oil-and-vacuum"

STORY = {
    ("oil", "5W-30"): "real gain",
    ("crankcase vacuum", "on"): "real gain",
    ("intake trumpets", "long"): "real loss",
    ("spark plugs", "fine wire"): "no difference that matters",
    ("fuel", "blend"): "not settled",
}


def test_the_demo_tells_the_whole_story(tmp_path):
    # One test, because the day takes seconds to make and workers don't share it.
    done = in_process("demo", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("INVENTED DATA")
    for part, verdict in STORY.items():
        (line,) = (line for line in done.stdout.splitlines() if line.startswith(f"  {' '.join(part)}  "))
        assert line.count(verdict) == 1
    # The share itself is checked in tests/simulation/test_demo_day.py.
    assert "1 hp or more, up or down, in 25% of all tests (20,000 simulated just now)" in done.stdout
    for name in ("day.toml", "plan.csv", "pulls.csv", "report.html"):
        path = Path("demo-day") / name
        assert str(path) in done.stdout
        assert (tmp_path / path).stat().st_size > 0
    page = (tmp_path / "demo-day" / "report.html").read_text(encoding="utf-8")
    assert "invented data" in page
    assert (
        "<strong>intake trumpets: long.</strong> Worth 1 hp or more up to" in page
    )  # where it gains, and where it loses
    assert "a loss of 1 hp or more from" in page
    assert len(page) < 1_000_000
    assert "planning a day" in done.stderr
    assert "planning a day" not in done.stdout


def test_report_writes_the_same_page_again(tmp_path):
    shutil.copytree(OIL_AND_VACUUM, tmp_path / "day")
    page = tmp_path / "day" / "report.html"
    first = in_process("report", "day", "--json", cwd=tmp_path)
    assert json.loads(first.stdout) == {"format": 1, "report": str(Path("day") / "report.html")}
    before = page.read_bytes()
    assert "open it in any browser" in typed("report", "day", cwd=tmp_path).stdout
    assert page.read_bytes() == before


def test_refuses_a_folder_that_it_did_not_make(tmp_path):
    (tmp_path / "demo-day").mkdir()
    (tmp_path / "demo-day" / "mine.txt").write_text("mine")
    done = typed("demo", cwd=tmp_path)
    assert done.returncode == 2
    assert "mine.txt" in done.stderr
    assert "Traceback" not in done.stderr
    assert (tmp_path / "demo-day" / "mine.txt").read_text() == "mine"


def test_report_of_no_day_is_a_clear_error(tmp_path):
    done = typed("report", "nowhere", cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
