"""``doe correct``: once in a process of its own, the rest inside this one."""

import json
import subprocess
import sys
from types import SimpleNamespace

import pytest

from doe.cell.air.correction import correct
from doe.cli import main


@pytest.fixture
def run(monkeypatch, capsys):
    def command(*arguments):
        monkeypatch.setattr(sys, "argv", ["doe", "correct", *arguments])
        with pytest.raises(SystemExit) as ended:
            main()
            sys.exit(0)
        said = capsys.readouterr()
        return SimpleNamespace(returncode=ended.value.code or 0, stdout=said.out, stderr=said.err)

    return command


def test_plain_form():
    asked = ["--standard", "SAE J1349", "--pressure-kpa", "98.2", "--temperature-c", "31", "--humidity-percent", "40"]
    done = subprocess.run([sys.executable, "-m", "doe", "correct", *asked], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Multiply by 1.0439.\n")
    assert "SAE J1349 (June 1990), dry pressure, mechanical efficiency 0.85" in " ".join(done.stdout.split())


def test_other_units_say_the_same(run):
    done = run("--pressure-inhg", "29.4", "--temperature-f", "88", "--wet-bulb-c", "21", "--json")
    document = json.loads(done.stdout)
    assert document["format"] == 1
    # Source: by hand: 29.4 x 3.3863886 kPa; (88 - 32)/1.8 degC.
    ours = correct(pressure_kpa=29.4 * 3.3863886, temperature_c=56 / 1.8, wet_bulb_c=21)
    assert document["factor"] == pytest.approx(ours.factor, rel=1e-7)
    assert json.loads(run("--pressure-mbar", "995.6", "--temperature-c", "31", "--dew-point-c", "10", "--json").stdout)[
        "total_pressure_kpa"
    ] == pytest.approx(99.56)


def test_every_option_counts(run):
    plain = ["--pressure-kpa", "97", "--temperature-c", "31", "--humidity-percent", "40", "--power", "400"]
    before = run(*plain, "--json").stdout
    for more in (
        ["--standard", "ISO 1585"], ["--efficiency", "0.9"], ["--friction-power", "80"], ["--unit", "hp"],
        ["--tolerance-kpa", "0.1"], ["--tolerance-c", "2"], ["--tolerance-humidity", "3"], ["--boosted"],
        ["--altitude-m", "900"], ["--altitude-m", "100", "--reduced-to-sea-level"],
        ["--standard", "DIN 70020", "--pressure-kind", "dry"],
    ):  # fmt: skip
        after = run(*plain, *more, "--json")
        assert after.returncode == 0, after.stderr
        assert after.stdout != before, more


def test_a_published_figure_under_another_standard(run):
    asked = ["--from-standard", "SAE J607", "--to-standard", "J1349", "--power", "450", "--unit", "hp"]
    assert "can't be known without the air" in run(*asked).stdout
    stated = run(*asked, "--pressure-kpa", "98", "--temperature-c", "30", "--humidity-percent", "40", "--json")
    document = json.loads(stated.stdout)
    assert document["turned_low"] == document["turned_high"] == pytest.approx(435.4, abs=0.05)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "pressure: none was given"),
        (["--pressure-kpa", "99", "--pressure-mbar", "990", "--temperature-c", "20"], "told in kPa and in mbar"),
        (["--pressure-kpa", "99", "--temperature-c", "20"], "give a relative humidity"),
        (["--from-standard", "SAE J607"], "needs both"),
        (["--from-standard", "J607", "--to-standard", "J1349", "--tolerance-c", "1"], "tolerances: they belong"),
        (["--from-standard", "J607", "--to-standard", "ISO1585", "--pressure-kind", "dry"], "neither"),
        (["--power", "nan", "--pressure-kpa", "99", "--temperature-c", "20"], "power: expected a finite number"),
    ],
)
def test_words_for_what_cannot_be(run, arguments, words):
    done = run(*arguments)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
