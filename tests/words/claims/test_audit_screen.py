"""An audit in ten seconds: what a reader would go by is what the JSON says of each claim."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from doe.claims.auditing import audit
from doe.words.claims.headlines import HEADLINES, MORE, MORE_AT_EVERY, NO_MATTER
from doe.words.phrases import WIDTH
from doe.words.screen import DETAILS, Grid

CLAIMS = sorted((Path(__file__).parents[3] / "plans_demo" / "claims").glob("*.toml"))


@cache
def audited(*files: Path):
    return audit(list(files))


def gone_by(first: str) -> dict[str, str]:
    """Claim -> its headline, as a reader of the sentence takes it."""
    found = {}
    for clause in re.split(r"; (?=go by |don't go by |no difference)", first.removesuffix(".")):
        text = clause[:1].lower() + clause[1:]
        if text.startswith(NO_MATTER):
            head, names = NO_MATTER, text.removeprefix(f"{NO_MATTER}: ")
        else:
            does, names, head = re.fullmatch(r"(go by|don't go by) (.*?): (.*)", text).groups()
            assert (does == "go by") is (head in (MORE, MORE_AT_EVERY))
        assert head in HEADLINES
        found |= dict.fromkeys(re.split(r", | and ", names), head)
    return found


@pytest.mark.parametrize("file", CLAIMS, ids=lambda file: file.stem)
def test_what_a_reader_goes_by_is_what_the_json_says(file):
    found = audited(file)
    said = {claim["name"]: claim["headline"] for claim in found.to_dict()["claims"]}
    if len(said) <= 4:
        assert gone_by(found.screen().first) == said
    (table,) = (part for part in found.screen().parts if isinstance(part, Grid))
    assert {row[0].text: row[-1].text for row in table.rows} == said
    text = found.to_text()
    assert all(len(line) <= WIDTH for line in text.splitlines())
    assert len([line for line in text.splitlines() if line]) + len([DETAILS]) <= 18
    assert found.to_text(details=True).startswith(text.split("\n\n")[0])
    for fault in found.notes:
        assert fault.severity != "fatal" or fault.what[:40] in " ".join(text.split())


def test_several_tests_are_named_and_said_together():
    thin = [file for file in CLAIMS if file.stem.startswith("thin_oil")]
    found = audited(*thin)
    assert all(f"thin oil ({file.name})" in found.screen().first for file in thin)
    text = " ".join(found.to_text().split())
    gain = found.to_dict()["pooled"]
    assert f"3 tests of oil together, in percent of the baseline: {gain['estimate']:+.2f} %" in text
