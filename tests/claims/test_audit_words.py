"""The text of an audit and the paragraph for editors: what they say, and what they never say."""

import json
import re
from pathlib import Path

import pytest

from doe.claims.auditing import audit

CASES = json.loads((Path(__file__).parents[1] / "reference" / "audit_cases.json").read_text())["cases"]


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("claims")
    for case in CASES:
        (folder / f"{case['id']}.toml").write_text(case["claims_toml"])
    quiet = CASES[0]["claims_toml"].replace("pull_sd = 3.0\ninstall_sd = 1.5\n", "")
    (folder / "quiet.toml").write_text(quiet)
    return {name: folder / f"{name}.toml" for name in ("p1", "p2", "p3", "quiet")}


def test_a_claim_within_noise(files):
    text = audit(files["p1"]).to_text(details=True)
    assert "oil: within noise" in text
    assert "gain +7.4 hp (+1.44 %); 95 % interval -1.9 to +16.7 hp" in text
    flat = " ".join(text.split())
    assert "in 12 of 100 such tests" in flat
    assert "it stands if pulls repeat within 2.2 hp (SD; here 3 hp)" in flat
    assert "49 %, or 17 % to 76 % as other fair assumptions go; if 50 % of such parts do nothing, at most 59 %" in flat
    assert "The verdict at other scatter" in text


def test_picking_is_taken_out_and_said(files):
    flat = " ".join(audit(files["p3"]).to_text(details=True).split())
    assert "picking the best pulls is worth +1.1 hp of it, which leaves +3.2 hp" in flat
    assert "Picking the pulls unequally is by itself worth about 1.1 hp." in flat


def test_a_package_is_told_from_its_parts(files):
    (paragraph,) = audit(files["p2"]).paragraphs
    assert "No verdict on fuel: timing changed together with fuel" in paragraph
    assert "gave together (+6.4 to +10.8 hp): more than pull-to-pull scatter; the parts or drift" in paragraph
    assert "Some printed figures do not add up" in paragraph


def test_without_noise_no_convenient_value_is_taken(files):
    found = audit(files["quiet"])
    text, flat = found.to_text(details=True), " ".join(found.to_text(details=True).split())
    assert "noise: not stated: read at the usual scatters" in text
    assert "The verdict at other scatter, in hp (SD)" in text
    assert "stands only if pulls of this engine repeat (standard deviation) within 2.7 hp for oil" in flat
    claim = found.to_dict()["claims"][0]
    assert claim["noise"]["pull_sd"] == pytest.approx(0.005 * found.tests[0].claims[0].base)
    assert (claim["verdict"], claim["headline"]) == ("not settled", "depends on the scatter")


def test_the_same_file_gives_the_same_text(files):
    assert audit(files["p2"]).to_text(details=True) == audit(files["p2"]).to_text(details=True)


@pytest.mark.parametrize("name", ["p1", "p2", "p3", "quiet"])
def test_nobody_is_accused_and_no_number_is_raw(files, name):
    text = audit(files[name]).to_text(details=True)
    accusing = r"\b(fraud|cheat|lie[sd]?|lying|dishonest|fake|mislead|scam|bogus|worthless|wrongdoing)\w*\b"
    assert not re.search(accusing, text, re.IGNORECASE)
    assert not re.search(r"\d\.\d{4,}|\bnan\b|\binf\b|None", text)
    assert all(len(line) <= 100 for line in text.splitlines())


def test_a_frame_has_one_row_a_claim(files):
    frame = audit([files["p1"], files["p2"]]).to_frame()
    assert list(frame["name"]) == ["oil", "oil", "manifold", "vacuum", "fuel", "everything"]
    assert "confounded" in frame.set_index("name").loc["fuel", "faults"]
