"""NIST StRD one-way files (certified values) through ``doe judge CSV``, every reading fitted on its own."""

import json
from importlib.util import find_spec
from pathlib import Path

import pytest
from typer.testing import CliRunner

from doe.cli import app

FILES = Path(find_spec("scipy").origin).parent / "stats/tests/data/nist_anova"
# Source: NIST Statistical Reference Datasets, ANOVA, certified residual standard deviation; within degrees of freedom.
CERTIFIED = {
    "SiRstv": (0.104076068334656, 20),
    "AtmWtAg": (1.51048314446410e-05, 46),
    "SmLs04": (0.1, 180),
}


@pytest.mark.parametrize("name", CERTIFIED)
def test_residual_scatter_is_the_certified_one(tmp_path, name):
    if not FILES.is_dir():
        pytest.skip("scipy is installed without its test data")
    rows = [line.split() for line in (FILES / f"{name}.dat").read_text().splitlines()[60:] if line.strip()]
    path = tmp_path / "nist.csv"
    path.write_text("treatment,value\n" + "".join(f"{treatment},{value}\n" for treatment, value in rows))
    words = ["judge", path, "--value", "value", "--change", "treatment", "--baseline", rows[0][0], "--install", "each"]
    done = CliRunner().invoke(app, [*map(str, words), "--json"])
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    sd, df = CERTIFIED[name]
    assert found["noise"]["pull_sd"] == pytest.approx(sd, rel=1e-7)
    assert found["changes"][0]["df"] == pytest.approx(df)
    size = len(rows) // (len(found["changes"]) + 1)
    assert found["changes"][0]["se"] == pytest.approx(sd * (2 / size) ** 0.5, rel=1e-7)
