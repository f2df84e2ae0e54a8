"""The claims file that ``doe audit --new`` writes."""

import re
from typing import get_args

import pytest
from pydantic import BaseModel

from doe.claims.reading.claimsfile import parse_claims
from doe.claims.reading.schema import ClaimsFile
from doe.claims.reading.template import new_claims_text, start_claims
from doe.day.schema import keys_of
from doe.errors import InputError


def test_it_is_valid_as_it_stands_and_holds_no_number_of_its_own():
    claims = parse_claims(new_claims_text(), "new.toml")
    assert [step.value for step in claims.step] == [None, None]
    assert (claims.noise.pull_sd, claims.noise.install_sd) == (None, None)
    assert claims.claim[0].gain is None


def test_every_line_that_is_commented_out_is_right_when_it_is_used():
    text = re.sub(r"(?m)^#(?=[a-z_]+ = |\[\[)", "", new_claims_text())
    claims = parse_claims(text, "new.toml")
    assert [step.name for step in claims.step] == ["baseline", "with the part", "baseline again"]
    assert claims.noise.pull_df == 10
    assert str(claims.claim[0].gain) == "3.5"
    assert claims.engine.breathing == "natural"


def tables():
    for field in ClaimsFile.model_fields.values():
        inner = [field.annotation, *get_args(field.annotation)]
        yield next(table for table in inner if isinstance(table, type) and issubclass(table, BaseModel))


@pytest.mark.parametrize("table", list(tables()), ids=lambda table: table.__name__)
def test_every_key_of_the_file_is_explained(table):
    for key in keys_of(table):
        assert re.search(rf"\b{key}\b", new_claims_text()), key


def test_it_never_overwrites(tmp_path):
    file = tmp_path / "claims.toml"
    assert str(file) in start_claims(file).to_text()
    file.write_text("mine")
    with pytest.raises(InputError, match="is there already and was left alone"):
        start_claims(file)
    assert file.read_text() == "mine"


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(InputError, match="there is no folder"):
        start_claims(tmp_path / "nowhere" / "claims.toml")
