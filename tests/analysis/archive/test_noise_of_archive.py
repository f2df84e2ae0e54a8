"""The noise of many days: against a study of one, one joint least-squares fit, and known truths. Days are invented."""

import csv
import datetime as dt
import shutil

import numpy as np
import pytest
from scipy import stats

from doe.analysis.archive.noise_of_archive import noise_of_archive
from doe.analysis.archive.verdicts_of_archive import judge_archive, judged_day
from doe.analysis.scatter.repeatability import noise_of_days
from doe.analysis.scatter.saving import save_study
from doe.day.files.dayfile import read_day_file
from doe.errors import DoeError, InputError

METRIC = "mean power"


@pytest.fixture(scope="module")
def ninety(made, tmp_path_factory):
    """90 days in two cells, alike in scatter, with a baseline that goes down."""
    folder = tmp_path_factory.mktemp("ninety")
    made.make_archive(folder, 90, truth=made.Truth(creep_a_month=-0.2), plans=False)
    return folder


@pytest.fixture
def few(made, tmp_path):
    """Four days that may be changed."""
    return made.make_archive(tmp_path / "few", 4, seed=3, plans=False)


def edit(folder, old, new):
    text = (folder / "day.toml").read_text()
    assert old in text
    (folder / "day.toml").write_text(text.replace(old, new))


def rows_of(folder):
    with (folder / "pulls.csv").open() as file:
        return list(csv.DictReader(file))


def rewrite(folder, change):
    """Change all readings of a day."""
    rows = rows_of(folder)
    with (folder / "pulls.csv").open("w", newline="") as file:
        table = csv.DictWriter(file, rows[0])
        table.writeheader()
        table.writerows({**row, METRIC: f"{change(float(row[METRIC])):.2f}"} for row in rows)


def test_one_day_says_what_its_study_says(few):
    alone, many = noise_of_days(few[0])[METRIC], noise_of_archive([few[0]])[METRIC]
    assert (many.pull_sd, many.pull_df) == (pytest.approx(alone.pull_sd, rel=1e-12), alone.pull_df)
    assert many.install.sd == pytest.approx(alone.install.sd, rel=1e-10)
    assert many.day_install_sd[0] == pytest.approx(alone.install.variance**0.5, rel=1e-9)
    assert many.install.df == pytest.approx(alone.install.df, rel=1e-10)
    assert many.mean == pytest.approx(alone.mean, rel=1e-12)
    assert many.agree_p is None
    assert many.day_sd is None
    assert many.creep is None


def test_sums_of_squares_are_those_of_one_fit_of_all_days(few):
    # Source: numpy.linalg.lstsq of all days at once, each with its level, drift and gain, with and without fittings.
    blocks, y = [], []
    for folder in few:
        rows = rows_of(folder)
        times = [dt.datetime.fromisoformat(row["time"]) for row in rows]
        minute = np.array([(time - times[0]).total_seconds() / 60 for time in times])
        on = np.array([row["oil"] == "0W-20" for row in rows], float)
        fitting = np.array([int(row["install"]) for row in rows])
        blocks.append((np.column_stack([np.ones(len(on)), on, minute]), fitting[:, None] == np.unique(fitting)))
        y += [float(row[METRIC]) for row in rows]
    y = np.array(y)

    def residual(both):
        parts = [np.column_stack([x, z]) if both else x for x, z in blocks]
        whole = np.zeros((len(y), sum(part.shape[1] for part in parts)))
        row = column = 0
        for part in parts:
            whole[row : row + part.shape[0], column : column + part.shape[1]] = part
            row, column = row + part.shape[0], column + part.shape[1]
        fitted, _, rank, _ = np.linalg.lstsq(whole, y, rcond=1e-10)
        return ((y - whole @ fitted) ** 2).sum(), len(y) - rank

    (within, within_df), (total, total_df) = residual(True), residual(False)
    found = noise_of_archive([few[0].parent])[METRIC]
    assert found.pooled.pull_df == within_df
    assert found.pooled.pull_sd == pytest.approx((within / within_df) ** 0.5, rel=1e-9)
    assert found.columns.between.sum() == pytest.approx(total - within, rel=1e-7)
    assert found.columns.between_df.sum() == total_df - within_df


def test_the_truth_is_found(ninety, made):
    truth, found = made.Truth(creep_a_month=-0.2), noise_of_archive([ninety])[METRIC]
    # Deterministic days; intervals of 99.9 % from the truth, so that a wrong formula shows and chance does not.
    chi = stats.chi2.ppf([0.0005, 0.9995], found.pooled.pull_df) / found.pooled.pull_df
    assert chi[0] < (found.pooled.pull_sd / truth.pull_sd) ** 2 < chi[1]
    assert abs(found.pooled.install.variance - truth.install_sd**2) < 3.3 * truth.install_sd**2 * np.sqrt(
        2 / found.pooled.install.df
    )
    assert found.drift.per_hour == pytest.approx(truth.drift_an_hour, abs=3.3 * found.drift.se)
    assert found.creep.low < truth.creep_a_month < found.creep.high
    assert found.creep.df == 90 - 2 - 1


def test_cells_are_set_side_by_side(ninety):
    found = noise_of_archive([ninety])[METRIC]
    assert [(cell.cell, cell.days) for cell in found.cells] == [("north", 45), ("south", 45)]
    assert [cell.mean for cell in found.cells] == pytest.approx([410, 205], abs=3)
    one = noise_of_archive([ninety], cell="South")
    assert one[METRIC].days == 45
    assert one.left_out == {"another cell than 'South'": 45}
    assert one[METRIC].pooled.pull_sd == pytest.approx(found.cells[1].scatter.pull_sd, rel=1e-12)
    with pytest.raises(DoeError, match="another cell than 'west'"):
        noise_of_archive([ninety], cell="west")


def test_a_baseline_that_creeps_is_said(ninety, made, tmp_path):
    text = noise_of_archive([ninety]).to_text(details=True)
    assert "The baseline has crept down by" in text
    assert "Gains within a day don't suffer" in text
    made.make_archive(tmp_path, 20, seed=5, plans=False)
    assert "No creep of the baseline" in noise_of_archive([tmp_path]).to_text(details=True)


def test_days_that_don_t_agree_lend_fewer_df(made, tmp_path):
    made.make_archive(tmp_path, 60, truth=made.Truth(between_df=8), plans=False)
    study = noise_of_archive([tmp_path])
    found = study[METRIC]
    assert found.agree_p < 1e-6
    assert found.pooled.pull_df == 60 * 31
    assert 4 < found.pull_df < 16  # d0 is 8; 60 days tell it to about a third
    assert found.install.df < found.pooled.install.df
    assert any("the days differ in their pull scatter" in warning for warning in study.warnings)


def test_what_is_saved_are_the_coming_day_s_df(made, few, tmp_path):
    made.make_archive(tmp_path / "many", 30, truth=made.Truth(between_df=8), plans=False)
    study = noise_of_archive([tmp_path / "many"])
    (few[0] / "pulls.csv").unlink()
    save_study(study, few[0])
    noise = read_day_file(few[0]).noise
    assert noise.pull_df == pytest.approx(study[METRIC].pull_df, rel=1e-3)
    assert noise.pull_sd == pytest.approx(study[METRIC].pull_sd, rel=1e-3)
    assert noise.source.startswith("noise of 30 days, 2024-01-08 to 2024-")


def test_percent_is_relative_to_each_day(made, few, tmp_path):
    days = made.make_archive(tmp_path / "percent", 6, scale="percent", plans=False)
    found = noise_of_archive([tmp_path / "percent"])[METRIC]
    each = [noise_of_archive([day])[METRIC] for day in days]
    share = np.sqrt(np.mean([(one.pull_sd / one.mean) ** 2 for one in each]))
    assert found.pooled.pull_sd / found.mean == pytest.approx(share, rel=1e-9)
    edit(few[0], 'scale = "absolute"', 'scale = "percent"')
    (few[0] / "pulls.csv").unlink()
    save_study(noise_of_archive([tmp_path / "percent"]), few[0])
    assert read_day_file(few[0]).noise.pull_sd == pytest.approx(100 * found.pull_sd / found.mean, rel=1e-3)


@pytest.mark.parametrize(
    ("old", "new"),
    [('unit = "hp"', 'unit = "kW"'), ("[4000, 6800]", "[3000, 6800]"), ("SAE J1349", "DIN 70020"),
     ('scale = "absolute"', 'scale = "percent"')],
)  # fmt: skip
def test_other_units_windows_and_corrections_are_not_mixed(few, old, new):
    edit(few[2], old, new)
    study = noise_of_archive([few[0].parent])
    assert study[METRIC].days == 3
    (why,) = study.left_out
    assert "not pooled with the others" in why
    assert "Left out: 1 day folder" in study.to_text(details=True)


def test_broken_and_empty_days_don_t_stop_the_others(few):
    (few[1] / "pulls.csv").write_text("pull,oil,mean power\n1,15W-50,lots\n2,16W,410\n")
    (few[2] / "pulls.csv").unlink()
    study = noise_of_archive([few[0].parent])
    assert (study.folders, study[METRIC].days) == (4, 2)
    (broken,) = study.broken
    assert broken.startswith(f"{few[1]}: pulls.csv, row 2, column 'mean power'")
    assert "(and 1 more)" in broken
    assert study.left_out == {f"no counted pulls with '{METRIC}'": 1}


def test_nothing_to_pool_is_said(few):
    for folder in few:
        (folder / "pulls.csv").unlink()
    with pytest.raises(DoeError, match=r"none of 4 day folders tells any pull-to-pull scatter: 4 with no counted"):
        noise_of_archive(few)


def test_what_is_noted_has_codes(made, tmp_path):
    made.make_archive(tmp_path, 60, truth=made.Truth(between_df=6, creep_a_month=-0.4), plans=False)
    study = noise_of_archive([tmp_path])
    text = study.to_text(details=True)
    assert {note.code for note in study.notes} >= {"unequal-scatter", "outside-limits", "creep"}
    assert all(text.count(note.text) == 1 for note in study.notes)
    assert study.to_dict()["notes"] == [note.to_dict() for note in study.notes]
    assert set(study.to_frame().attrs["units"].values()) == {"hp"}


def test_copies_are_named(few):
    shutil.copytree(few[0], few[0].parent / "zz copy")
    study = noise_of_archive([few[0].parent])
    assert [name.endswith("zz copy") for name in study[METRIC].copies] == [True]
    assert any("1 folder with the very readings of another" in warning for warning in study.warnings)


def test_other_columns_and_days_without_them(few):
    study = noise_of_archive([few[0].parent], value=[METRIC, "lambda"])
    assert [metric.name for metric in study.metrics] == [METRIC]
    assert study.left_out == {"no counted pulls with 'lambda'": 4}


def test_readings_without_scatter(few):
    for folder in few[:2]:
        rewrite(folder, lambda reading: 410.0)
    study = noise_of_archive(few[:2])
    assert study[METRIC].pull_sd == 0
    assert any("agree to the last digit" in warning for warning in study.warnings)
    assert study.to_text(details=True)
    with pytest.raises(InputError, match="a pull SD of 0"):
        save_study(study, few[3])


def test_the_level_of_all_readings_does_not_matter(few):
    plain = noise_of_archive(few)[METRIC]
    for folder in few:
        rewrite(folder, lambda reading: reading + 50)
    found = noise_of_archive(few)[METRIC]
    assert found.pull_sd == pytest.approx(plain.pull_sd, rel=1e-9)
    assert found.day_sd == pytest.approx(plain.day_sd, rel=1e-6)
    assert found.mean == pytest.approx(plain.mean + 50, rel=1e-12)


def test_the_chart_s_limits(ninety):
    found = noise_of_archive([ninety])[METRIC]
    # Source: chi-square quantiles by scipy.stats; the days have 31 df each.
    limits = found.pooled.pull_sd * np.sqrt(stats.chi2.ppf([0.00135, 0.99865], 31) / 31)
    assert (found.chart.pull_sd_low[0], found.chart.pull_sd_high[0]) == pytest.approx(tuple(limits), rel=1e-9)
    for cell in (0, 1):
        level = found.chart.level[found.columns.cell == cell]
        assert np.average(level, weights=found.chart.level_limit[found.columns.cell == cell] ** -2.0) == pytest.approx(
            0, abs=1e-9
        )
    rows = noise_of_archive([ninety]).to_frame()
    assert len(rows) == 90
    assert rows["pull_sd_outside"].sum() == found.chart.pull_sd_outside.sum()


def test_verdicts_of_an_archive_are_those_of_its_days(few):
    from doe.analysis.judging.folders import judge_day

    rows = [row for day in judge_archive([few[0].parent]) for row in day.rows]
    assert [row.folder for row in rows] == [str(folder) for folder in few]
    for row, folder in zip(rows, few, strict=True):
        (gain,) = judge_day(folder).changes
        assert (row.gain, row.family_low, row.verdict) == (gain.gain, gain.family_low, gain.verdict)


def test_days_that_can_t_be_judged_say_why(few, made, tmp_path):
    (few[0] / "pulls.csv").unlink()
    assert judged_day(few[0]).rows[0].fault.startswith("No counted pulls")
    assert not judged_day(few[0]).broken
    (few[1] / "day.toml").write_text("[day")
    assert judged_day(few[1]).broken
    (unfinished,) = made.make_archive(tmp_path / "new", 1)
    tomorrow = dt.date.today() + dt.timedelta(days=1)
    edit(unfinished, "2024-01-08", str(tomorrow))
    for name in ("pulls.csv", "pulls.journal"):
        lines = (unfinished / name).read_text().splitlines()
        (unfinished / name).write_text("\n".join([*lines[:20], ""]).replace("2024-01-08", str(tomorrow)))
    (row,) = judged_day(unfinished).rows
    assert row.fault.startswith("the plan is not finished (")
    assert (row.gain, row.verdict) == (None, "")


def test_a_baseline_that_no_pull_tells(few):
    for folder, level in ((few[0], "0W-20"), (few[1], "15W-50")):
        rows = [row for row in rows_of(folder) if row["oil"] == level]
        with (folder / "pulls.csv").open("w", newline="") as file:
            table = csv.DictWriter(file, rows[0])
            table.writeheader()
            table.writerows(rows)
    study = noise_of_archive(few[:2])
    assert np.isnan(study[METRIC].columns.baseline).tolist() == [True, False]
    assert "baseline unknown" in study.to_text(details=True)
    for folder in few[:2]:
        edit(folder, 'scale = "absolute"', 'scale = "percent"')
    assert list(noise_of_archive(few[:2]).left_out) == [f"'{METRIC}' in percent of a baseline that no pull tells"]


def unevenly_seen(summed, rng, days, install_sd):
    """Days of 8 fittings with drift and a gain taken out: five directions show the fittings fully, one hardly."""
    seen = np.array([5.0, 5.0, 5.0, 5.0, 5.0, 0.02])
    between = (seen * install_sd**2 + 1) * rng.chisquare(1, (days, 6))
    return summed(rng.chisquare(31, days), between.sum(axis=1), seen=seen)


def test_fittings_that_agree_are_not_called_unequal_in_a_large_archive(summed):
    rng = np.random.default_rng(12)
    p = np.array([unevenly_seen(summed, rng, 1000, 0.7).install_agree_p for _ in range(60)])
    # Binomial, 3.3 standard errors; with 6 df a day more than half of them would be called unequal.
    assert (p < 0.05).mean() < 0.05 + 3.3 * (0.05 * 0.95 / 60) ** 0.5
    found = unevenly_seen(summed, rng, 1000, 0.7)
    assert found.pooled.install.variance == pytest.approx(0.49, abs=3.3 * 0.49 * (2 / found.pooled.install.df) ** 0.5)
