"""The pages in a browser: as wide as the screen, whole in print, no complaint by the browser or by axe-core.

axe-core 4.14.1 (Deque Systems, MPL 2.0, from the npm registry) lies in tests/reference/axe-core: the rules of WCAG 2.2
AA that a program can check, and its own best practices.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from report_days import make, make_days, make_study, page_of

from doe import audit
from doe.day.sheet.run_sheet import read_run_sheet
from doe.report.audited.audit_page import audit_page
from doe.report.html import report_page
from doe.report.run_sheet.page import sheet_page
from doe.report.sections.day_parts import DayParts

CHROMIUM = shutil.which("chromium")
CLAIM = next((Path(__file__).parents[2] / "plans_demo" / "claims").glob("*.toml"))
PDF_TO_TEXT = shutil.which("pdftotext")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium here")

AXE = Path(__file__).parents[1] / "reference" / "axe-core" / "axe.min.js"
WIDTHS = (360, 768, 1280)
QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--enable-logging=stderr",
    "--allow-file-access-from-files", "--disable-web-security",
)  # fmt: skip
ASK_WIDTHS = """<!DOCTYPE html><title>x</title><body><script>
const asked = {asked};
const found = [];
asked.forEach(([name, width]) => {{
  const frame = document.createElement("iframe");
  const measure = () => {{
    const page = frame.contentDocument;
    const wide = [...page.body.querySelectorAll("*")].filter(
      (one) => one.getBoundingClientRect().right > width && !one.closest(".wide"));
    const said = wide.slice(-3).map((one) => one.outerHTML.slice(0, 80));
    found.push([name, width, page.documentElement.scrollWidth, said]);
    if (found.length === asked.length) document.body.append("found:" + JSON.stringify(found) + ":end");
  }};
  Object.assign(frame, {{src: name, width, height: 900, onload: measure}});
  document.body.append(frame);
}});
</script>"""
RUN_AXE = """<script>
axe.run({resultTypes: ["violations"]}).then((found) => parent.postMessage(
  found.violations.map((one) => [NAME, one.id, one.nodes.map((node) => node.html.slice(0, 120))]), "*"));
</script>"""
COLLECT = """<!DOCTYPE html><title>x</title><body><script>
const asked = {asked};
const found = [];
let answers = 0;
addEventListener("message", (message) => {{
  found.push(...message.data);
  if (++answers === asked.length) document.body.append("found:" + JSON.stringify(found) + ":end");
}});
const frame = (src) => Object.assign(document.createElement("iframe"), {{src, width: 900, height: 900}});
asked.forEach((src) => document.body.append(frame(src)));
</script>"""
DARK = "@media screen and (prefers-color-scheme: dark)"


def in_browser(folder: Path, *more: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [CHROMIUM, *QUIET, f"--user-data-dir={folder / 'profile'}", *more], capture_output=True, text=True, check=True
    )


def found_by(folder: Path, page: Path) -> list:
    done = in_browser(folder, "--virtual-time-budget=20000", "--dump-dom", f"file://{page}")
    found = re.search(r"found:(\[.*\]):end", done.stdout)
    assert found, done.stdout[-300:] + done.stderr[-300:]
    assert "CONSOLE" not in done.stderr, done.stderr
    return json.loads(unescape(found[1]))


@pytest.fixture(scope="module")
def pages(day, pulls, judgement, tmp_path_factory) -> dict[str, Path]:
    """Every page that `doe` writes, of invented days."""
    place = tmp_path_factory.mktemp("pages")
    days = place / "days"
    days.mkdir()
    make_days(days)
    hostile = day.model_copy(update={"day": day.day.model_copy(update={"title": "W" * 90})})
    gains = [replace(judgement.changes[0], level="5W-30" * 15), *judgement.changes[1:]]
    written = {
        "hostile": report_page([DayParts(hostile, None, pulls)], replace(judgement, changes=tuple(gains))),
        "replanned": page_of(days / "late"),
        "customer": page_of(days / "one", "--for", "customer"),
        "campaign": page_of(days / "two", days / "one"),
        "archive": page_of(days),
        "study": page_of(make_study(place / "study")),
        "run sheet": sheet_page(read_run_sheet(make(place / "coming", "2020-05-19", pulls=0)), []),
        "audit": audit_page(audit(CLAIM)),
    }
    for name, page in written.items():
        (place / f"{name}.html").write_text(page, encoding="utf-8")
    return {name: place / f"{name}.html" for name in written}


def test_no_page_is_wider_than_its_screen_and_none_complains(pages, tmp_path):
    asked = [[f"file://{page}", width] for page in pages.values() for width in WIDTHS]
    (tmp_path / "ask.html").write_text(ASK_WIDTHS.format(asked=json.dumps(asked)), encoding="utf-8")
    found = found_by(tmp_path, tmp_path / "ask.html")
    assert len(found) == len(asked)
    assert [one for one in found if one[2] > one[1]] == []


def test_axe_finds_nothing_by_day_and_by_night(pages, tmp_path):
    shutil.copy(AXE, tmp_path / "axe.min.js")
    asked = []
    for name, page in pages.items():
        text = re.sub(r"<meta http-equiv=\"Content-Security-Policy\"[^>]*>", "", page.read_text(encoding="utf-8"))
        assert DARK in text or name == "run sheet"  # paper is white
        for mode, media in (("light", "@media not all"), ("dark", "@media all")):
            shown = text.replace(DARK, media)
            script = f'<script src="axe.min.js"></script>{RUN_AXE.replace("NAME", json.dumps(f"{name}, {mode}"))}'
            asked.append(f"{name}-{mode}.html")
            (tmp_path / asked[-1]).write_text(shown.replace("</body>", f"{script}</body>"), encoding="utf-8")
    (tmp_path / "collect.html").write_text(COLLECT.format(asked=json.dumps(asked)), encoding="utf-8")
    assert found_by(tmp_path, tmp_path / "collect.html") == []


class Tables(HTMLParser):
    """The words of each table but the one of every pull, which may go over pages; headings with what follows them."""

    def __init__(self) -> None:
        super().__init__()
        self.tables: list[list[str]] = []
        self.headings: list[list[str]] = []
        self.hidden = self.heading = self.table = False
        self.after = 0

    def handle_starttag(self, tag, attrs):
        self.hidden |= tag in ("style", "svg", "script")
        if tag in ("h2", "h3"):
            self.headings.append([])
            self.heading, self.after = True, 0
        if tag == "table" and ("class", "pulls") not in attrs:
            self.tables.append([])
            self.table = True

    def handle_endtag(self, tag):
        self.hidden &= tag not in ("style", "svg", "script")
        self.table &= tag != "table"
        if tag in ("h2", "h3"):
            self.heading, self.after = False, 1

    def handle_data(self, data):
        words = [] if self.hidden else data.split()
        if self.table:
            self.tables[-1] += words
        if self.heading:
            self.headings[-1] += words
        elif self.after and words:
            self.headings[-1].append(words[0])
            self.after = 0


@pytest.mark.skipif(PDF_TO_TEXT is None, reason="no pdftotext (poppler-utils) here")
@pytest.mark.parametrize("name", ["replanned", "campaign"])
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_no_table_or_heading_is_torn_in_print(pages, tmp_path, name, size):
    text = pages[name].read_text(encoding="utf-8")
    page = tmp_path / "page.html"
    page.write_text(text.replace("@page {", f"@page {{ size: {size};"), encoding="utf-8")
    pdf = tmp_path / "page.pdf"
    in_browser(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", f"file://{page}")
    printed = subprocess.run([PDF_TO_TEXT, "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
    sheets = printed.rstrip("\f").split("\f")
    assert f"page 2 of {len(sheets)}" in sheets[1]
    reader = Tables()
    reader.feed(text)
    assert reader.tables and reader.headings
    for words in reader.tables + reader.headings:
        assert any(all(sheet.count(word) for word in words) for sheet in sheets), " ".join(words)
