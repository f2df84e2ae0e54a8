"""Noise from a day of one's own, in the unit of the published test."""

import pytest
from day_files import day_file, factor

from doe.claims.auditing import audit
from doe.claims.evidence.own_noise import noise_of_day
from doe.claims.reading.claimsfile import parse_claims
from doe.errors import InputError

DAY = day_file(
    factor("oil", "15W-50", refit=True, refit_minutes=20),
    title="Noise study",
    start="09:00",
    finish="12:00",
    metric="peak power",
    unit="{unit}",
    scale="{scale}",
    noise="{noise}",
)
TEST = """
[test]
unit = "{unit}"
[noise]
pull_sd = 9.0
drift_sd = 0.4
[[step]]
name = "a"
value = 400.0
[[step]]
name = "b"
changed = ["oil"]
refit = true
value = 404.0
[[claim]]
name = "oil"
about = ["oil"]
from = ["a"]
to = ["b"]
"""
STUDY = "pull_sd = 1.1\npull_df = 13\ninstall_sd = 0.7\ninstall_df = 4\nsource = 'twelve pulls'"


@pytest.fixture
def day(tmp_path):
    def write(unit="hp", scale="absolute", noise=STUDY):
        (tmp_path / "day.toml").write_text(DAY.format(unit=unit, scale=scale, noise=noise))
        return tmp_path

    return write


def file(unit="hp"):
    return parse_claims(TEST.format(unit=unit), "f.toml")


def test_the_study_comes_over_with_its_df_and_source_and_the_drift_stays(day):
    found = noise_of_day(day(), file("HP"))
    assert (found.pull_sd, found.pull_df, found.install_sd, found.install_df) == (1.1, 13, 0.7, 4)
    assert found.drift_sd == 0.4
    assert "Noise study" in found.source
    assert "twelve pulls" in found.source


def test_a_day_in_another_unit_or_in_percent(day):
    # Source: by hand, 1 hp = 0.74569987 kW.
    assert noise_of_day(day(), file("kW")).pull_sd == pytest.approx(1.1 * 0.74569987, rel=1e-8)
    assert noise_of_day(day(scale="percent"), file()).pull_sd == pytest.approx(4.4)  # 1.1 % of 400


def test_what_cannot_be_turned_into_the_other_is_refused(day):
    with pytest.raises(InputError, match="in 'hp' and the test in 'N m'"):
        noise_of_day(day(), file("N m"))
    with pytest.raises(InputError, match="no pull_sd"):
        noise_of_day(day(noise=""), file())


def test_an_audit_takes_from_it_what_the_file_does_not_state(day, tmp_path):
    own = TEST.format(unit="hp")
    (tmp_path / "f.toml").write_text(own.replace("pull_sd = 9.0\n", ""))
    (test,) = audit(tmp_path / "f.toml", noise_from=day()).tests
    # Source: by hand, 2 x 1.1^2 + 2 x 0.7^2 + 0.4^2.
    assert test.claims[0].evidence.se ** 2 == pytest.approx(2 * 1.21 + 2 * 0.49 + 0.16)
    assert "noise-assumed" not in {fault.code for fault in test.claims[0].faults}
    assert "measured elsewhere" in audit(tmp_path / "f.toml", noise_from=day()).paragraphs[0]
    (tmp_path / "f.toml").write_text(own)
    (stated,) = audit(tmp_path / "f.toml", noise_from=day()).tests
    assert (stated.noise.pull_sd, stated.noise.install_sd) == (9.0, 0.7)
    assert "that of the day that was named is not taken" in stated.noise.source


@pytest.mark.parametrize(
    ("says", "fault"),
    [
        ('metric = "mean power"', "is that of 'peak power', the test prints 'mean power'; they don't scatter alike"),
        ("window_rpm = [3000, 6000]", "over no window that is stated, that of the test from 3000 to 6000 rpm"),
    ],
)
def test_the_scatter_of_another_number_is_refused(day, says, fault):
    theirs = TEST.format(unit="hp").replace("[test]", f"[test]\n{says}")
    with pytest.raises(InputError, match=fault):
        noise_of_day(day(), parse_claims(theirs, "f.toml"))
    same = TEST.format(unit="hp").replace("[test]", '[test]\nmetric = "Peak power"')
    assert noise_of_day(day(), parse_claims(same, "f.toml")).pull_sd == 1.1
