"""The pages in a browser: nothing is wider than the screen, nothing is refused or complained of."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from doe.report.html import report_page
from doe.report.sections.day_parts import DayParts

CHROMIUM = shutil.which("chromium")
WIDTHS = (360, 768, 1280)
QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--enable-logging=stderr",
)  # fmt: skip
ASK = """<!DOCTYPE html><title>x</title><body><script>
const widths = {widths};
const ask = () => document.body.append(JSON.stringify(widths.map((width, at) => {{
  const page = document.getElementById(at).contentDocument.documentElement;
  return [width, page.scrollWidth];
}})));
let waiting = widths.length;
widths.forEach((width, at) => {{
  const frame = document.createElement("iframe");
  Object.assign(frame, {{id: at, src: "page.html", width, height: 900, onload: () => --waiting || ask()}});
  document.body.append(frame);
}});
</script>"""


def in_browser(folder: Path, *more: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [CHROMIUM, *QUIET, f"--user-data-dir={folder / 'profile'}", *more], capture_output=True, text=True, check=True
    )


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium here")
def test_no_page_is_wider_than_its_screen_and_none_complains(day, pulls, judgement, tmp_path):
    hostile = day.model_copy(update={"day": day.day.model_copy(update={"title": "W" * 90})})
    gains = [replace(judgement.changes[0], level="5W-30" * 15), *judgement.changes[1:]]
    page = report_page([DayParts(hostile, None, pulls)], replace(judgement, changes=tuple(gains)))
    (tmp_path / "page.html").write_text(page, encoding="utf-8")
    (tmp_path / "ask.html").write_text(ASK.format(widths=list(WIDTHS)), encoding="utf-8")
    place = f"file://{tmp_path}/ask.html"
    done = in_browser(tmp_path, "--allow-file-access-from-files", "--disable-web-security", "--dump-dom", place)
    found = re.search(r"\[\[360,(\d+)\],\[768,(\d+)\],\[1280,(\d+)\]\]", done.stdout)
    assert found, done.stdout[-300:]
    assert all(int(scroll) <= width for width, scroll in zip(WIDTHS, found.groups(), strict=True))
    assert "CONSOLE" not in done.stderr
