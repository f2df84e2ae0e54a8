"""Correction on reading: one factor a pull from the weather beside it, never twice, never without its weather."""

import numpy as np
import pytest

from doe.analysis.judging.folders import judge_day
from doe.analysis.trials.from_folders import DayFolder
from doe.cell.air.correction import correct
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.planfile import read_plan
from doe.day.files.seal import seal_of
from doe.day.log.reading import read_log
from doe.errors import InputError
from doe.words.notes import texts

DAY = """
[day]
date = 2026-05-16
start = 08:30:00
finish = 16:30:00
[cell]
pull_minutes = 4.0
CELL
[metric]
name = "mean power"
unit = "hp"
[[factor]]
name = "oil"
baseline = "15W-50"
refit = false
[[factor.change]]
level = "0W-20"
minutes_on = 30
minutes_off = 30
smallest_gain = 2.0
[log]
columns = ["baro_kpa", "air_temp_c", "humidity_percent"]
"""
# Invented: 400 hp in the standard's air, observed in air that gets worse; the oil is worth nothing.
KPA = np.array([99.0, 98.6, 98.2, 97.8, 97.4, 97.0, 96.6, 96.2])
CELSIUS = np.linspace(20, 34, 8)
NOISE = np.array([0.3, -0.2, 0.1, -0.3, 0.2, -0.1, 0.25, -0.25])
LEVELS = ["15W-50", "15W-50", "0W-20", "0W-20", "15W-50", "15W-50", "0W-20", "0W-20"]


@pytest.fixture
def made(tmp_path):
    """A folder of eight pulls with their weather; `edit` works on the rows."""

    def make(cell='correct_to = "SAE J1349"', edit=lambda rows: rows, columns=("baro_kpa", "air_temp_c")):
        factor = correct(pressure_kpa=KPA, temperature_c=CELSIUS, humidity_percent=50).factor
        rows = [
            [str(i + 1), "", f"2026-05-16T{9 + i:02}:00:00", str(1), LEVELS[i], f"{(400 + NOISE[i]) / factor[i]:.4f}",
             f"{KPA[i]}", f"{CELSIUS[i]:.4f}", "50", "yes", "", ""]
            for i in range(8)
        ]  # fmt: skip
        header = f"pull,run,time,install,oil,mean power,{columns[0]},{columns[1]},humidity_percent,count,trace,note"
        toml = DAY.replace("CELL", cell).replace('"baro_kpa", "air_temp_c"', f'"{columns[0]}", "{columns[1]}"')
        (tmp_path / "day.toml").write_text(toml)
        (tmp_path / "pulls.csv").write_text("\n".join([header, *(",".join(row) for row in edit(rows))]) + "\n")
        return tmp_path

    return make


def corrected_power(folder):
    return [pull.values["mean power"] for pull in DayFolder.read(folder).pulls]


def test_every_pull_is_corrected_from_its_own_weather_and_the_log_keeps_what_was_observed(made):
    folder = made()
    np.testing.assert_allclose(corrected_power(folder), 400 + NOISE, atol=2e-3)
    day = read_day_file(folder)
    observed = [pull.values["mean power"] for pull in read_log(folder, day, read_plan(folder, day)).pulls]
    assert max(observed) < 400
    told = DayFolder.read(folder).read_as
    assert any("SAE J1349 (June 1990), dry pressure, mechanical efficiency 0.85 (assumed)" in text for text in told)


def test_the_verdict_rests_on_corrected_numbers(made):
    observed, corrected = judge_day(made("")), judge_day(made())
    assert abs(corrected.changes[0].gain) < 0.4
    assert corrected.noise.pull_sd < observed.noise.pull_sd
    assert any("corrected on reading to SAE J1349" in text for text in corrected.read_as)
    assert any("while oil 0W-20 was on" in text for text in texts(corrected.notes))


@pytest.mark.parametrize(
    "cell",
    [
        'correct_to = "ISO 1585"', 'correct_to = "DIN 70020"', 'correct_to = "SAE J607"',
        'correct_to = "DIN 70020"\npressure = "dry"', 'correct_to = "SAE J1349"\nefficiency = 0.9',
        'correct_to = "SAE J1349"\nfriction_power = 80',
    ],
)  # fmt: skip
def test_every_key_changes_the_numbers_and_the_seal(made, cell):
    before = corrected_power(made()), seal_of(read_day_file(made()))
    after = corrected_power(made(cell)), seal_of(read_day_file(made(cell)))
    assert np.abs(np.subtract(before[0], after[0])).max() > 0.01
    assert before[1] != after[1]


def test_altitude_checks_the_barometer_and_is_sealed(made):
    high = made('correct_to = "SAE J1349"\naltitude_m = 1500')
    assert any("a value reduced to sea level" in text for text in texts(DayFolder.read(high).notes))
    assert seal_of(read_day_file(high)) != seal_of(read_day_file(made()))


def test_what_is_not_set_seals_as_before():
    # Source: the same text with and without keys that no earlier plan could know.
    plain = parse_day(DAY.replace("CELL", ""))
    assert seal_of(plain) == seal_of(parse_day(DAY.replace("CELL", 'correct_to = "none"')))


def test_units_of_the_weather(made):
    def imperial(rows):
        for row in rows:
            row[6], row[7] = f"{float(row[6]) / 3.3863886:.6f}", f"{float(row[7]) * 1.8 + 32:.5f}"
        return rows

    folder = made(edit=imperial, columns=("baro_inhg", "air_temp_f"))
    np.testing.assert_allclose(corrected_power(folder), 400 + NOISE, atol=2e-3)


def without(at, cell):
    def edit(rows):
        rows[at][cell] = ""
        return rows

    return edit


def test_a_counted_pull_without_its_weather_is_an_error(made):
    for cell, column in ((6, "baro_kpa"), (7, "air_temp_c"), (8, "humidity_percent")):
        with pytest.raises(InputError, match=rf"pull 3 has no {column}.*readings.csv .*or say correct_to"):
            DayFolder.read(made(edit=without(2, cell)))


def test_a_pull_that_does_not_count_may_lack_it(made):
    def settling(rows):
        rows[2][9], rows[2][6] = "settling", ""
        return rows

    assert corrected_power(made(edit=settling))[3] == pytest.approx(400 + NOISE[3], abs=2e-3)


def test_weather_that_cannot_be_is_refused(made):
    def mbar(rows):
        rows[4][6] = "990"
        return rows

    with pytest.raises(InputError, match=r"correct_to in day.toml: pressure: 990 kPa; .*990 mbar would be 99 kPa"):
        DayFolder.read(made(edit=mbar))


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ('correction = "SAE J1349"\ncorrect_to = "ISO 1585"', "the numbers already contain SAE J1349"),
        ("efficiency = 0.85", "efficiency: it belongs to a correction; expected correct_to beside it"),
        ('correct_to = "ISO 1585"\nefficiency = 0.85', "ISO 1585 has no form with friction"),
        ('correct_to = "SAE J1349"\npressure = "total"', "goes by the dry pressure only"),
    ],
)
def test_what_makes_no_sense_is_refused(made, cell, words):
    with pytest.raises(InputError, match=words):
        DayFolder.read(made(cell))


def test_only_power_and_torque_are_corrected():
    with pytest.raises(InputError, match="expected a power or a torque to correct"):
        parse_day(DAY.replace("CELL", 'correct_to = "SAE J1349"').replace('unit = "hp"', 'unit = "g/kWh"'))


def test_days_of_one_campaign_are_corrected_alike(made, tmp_path_factory):
    one, other = made(), tmp_path_factory.mktemp("other")
    for file in one.iterdir():
        (other / file.name).write_text(file.read_text().replace('"SAE J1349"', '"ISO 1585"'))
    with pytest.raises(InputError, match="the correction differs"):
        judge_day([one, other])
