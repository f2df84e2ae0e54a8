"""The first page of docs/method.md: short, and what it vouches for is what docs/method-measured.md has."""

from __future__ import annotations

import re
from pathlib import Path

DOCS = Path(__file__).parents[3] / "docs"
METHOD = (DOCS / "method.md").read_text(encoding="utf-8")
MEASURED = (DOCS / "method-measured.md").read_text(encoding="utf-8")
PAGE = METHOD[: METHOD.index("## What the four verdicts mean")]
MOST_WORDS = 1100  # five minutes at some 220 words a minute


def table(before: str) -> list[dict[str, str]]:
    """The rows of the first table behind some words."""
    between = re.split(r"\n(?=[|])", MEASURED.partition(before)[2], maxsplit=1)[1].partition("\n\n")[0]
    header, _, *rows = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in between.splitlines() if line[:1] == "|"
    ]
    return [dict(zip(header, row, strict=True)) for row in rows if len(row) == len(header)]


def number(cell: str) -> float:
    return float(cell.split()[0])


def in_brackets(cell: str) -> float:
    return float(cell.partition("(")[2].rstrip(")"))


def vouched(what: str) -> list[float]:
    """The numbers of one line of the first page."""
    (line,) = [line for line in PAGE.splitlines() if line.startswith("| " + what)]
    return [float(found) for found in re.findall(r"\d+(?:\.\d+)?", line.split("|")[2])]


def test_the_first_page_is_read_in_five_minutes() -> None:
    assert len(PAGE.split()) <= MOST_WORDS


def test_what_is_vouched_for_of_coverage_and_false_verdicts_is_what_was_measured() -> None:
    rows = table("<!-- coverage: begin")
    for what, study in (("coverage of a 95 %", "exact"), ("coverage without a study", "none")):
        single = [number(row["single"]) for row in rows if row["study"] == study]
        assert vouched(what)[:2] == [min(single), max(single)]
    trusted = [row for row in rows if row["study"] in ("exact", "none")]
    assert vouched("days with any false real") == [max(number(row["false real"]) for row in trusted)]
    assert vouched("days with any false *no") == [max(number(row["false no difference"]) for row in trusted)]
    half = min(number(row["single"]) for row in rows if row["study"] == "half")
    assert vouched("a study that puts") == [round(half)]


def test_what_is_vouched_for_of_wander_and_of_coming_back_is_what_was_measured() -> None:
    wander = [row for row in table("<!-- coverage with wander: begin") if row["judge"] == "insured"]
    planned = [row for row in table("tests/benchmarks/wander_study.py") if row["judge"] == "insured"]
    hour = [number(row[f"wander {size}"]) for row in wander for size in ("0", "0.25", "0.5")]
    hour += [in_brackets(row[f"{size} at 60 min"]) for row in planned for size in ("0", "0.25", "0.5")]
    fast = [in_brackets(row["0.5 at 20 min"]) for row in planned]
    assert vouched("the engine wanders") == [min(hour), min(fast), 20]
    quiet = [number(row["quiet"]) for row in table("<!-- faults: begin")]
    assert vouched("clean days") == [round(min(quiet)), round(max(quiet)), 100]
    told = [number(row[kind]) for row in table("<!-- ledger: begin") for kind in ("false real", "false no difference")]
    assert vouched("somebody comes back")[0] == round(max(told))
