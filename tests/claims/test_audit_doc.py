"""docs/audit.md says what the program does: its example, its keys, its weak points."""

import re
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from doe.claims.auditing import audit
from doe.claims.reading.claimsfile import parse_claims
from doe.claims.reading.schema import ClaimsFile
from doe.day.schema import keys_of
from doe.words.faults import CATALOGUE

PAGE = (Path(__file__).parents[2] / "docs" / "audit.md").read_text(encoding="utf-8")
EXAMPLE = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL).group(1)


def test_the_example_is_audited_and_its_figures_agree(tmp_path):
    assert parse_claims(EXAMPLE, "a.toml").test.unit == "hp"
    (tmp_path / "a.toml").write_text(EXAMPLE, encoding="utf-8")
    (claim,) = audit(tmp_path / "a.toml").tests[0].claims
    assert claim.gain == pytest.approx(2.4)
    assert {fault.code for fault in claim.faults} == {"noise-assumed"}


@pytest.mark.parametrize("code", CATALOGUE)
def test_every_weak_point_stands_in_the_table_as_the_program_says_it(code):
    severity, why = CATALOGUE[code]
    assert f"| `{code}` | {severity} | {why} |" in PAGE


def test_no_weak_point_stands_there_that_the_program_does_not_know():
    assert set(re.findall(r"^\| `([a-z-]+)` \| (?:fatal|serious|minor)", PAGE, re.MULTILINE)) == set(CATALOGUE)


def test_every_key_is_explained():
    keys = PAGE.split("## What is worked out")[0]
    for field in ClaimsFile.model_fields.values():
        inner = (field.annotation, *get_args(field.annotation))
        (table,) = (kind for kind in inner if isinstance(kind, type) and issubclass(kind, BaseModel))
        for key in keys_of(table):
            assert f"`{key}`" in keys, key


def test_every_demo_is_counted():
    assert len(list((Path(__file__).parents[2] / "plans_demo" / "claims").glob("*.toml"))) == 9
    assert "nine invented tests" in PAGE
