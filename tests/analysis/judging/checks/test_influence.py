"""What a verdict would be without each pull and each fitting: all at once, or one by one, the same words."""

from __future__ import annotations

import numpy as np
import pytest

import doe
from doe.analysis.judging.checks import influence
from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.family import family_risks
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial

STUDY = {"pull_sd": 0.8, "pull_df": 8, "install_sd": 0.6, "install_df": 5}
FITTING = np.repeat(np.arange(6), 4)
NOISES = [{}, {"wander_sd": 0}, STUDY, STUDY | {"wander_sd": 0.5, "wander_df": 4}, STUDY | {"wander_sd": 0}]


def days(seed: int) -> tuple[Trial, np.ndarray]:
    """An oil in six fittings, an ignition switched inside them; the gains are near what can just be told."""
    rng = np.random.default_rng(seed)
    spark = rng.permuted(np.tile([0.0, 1.0, 0.0, 1.0], (6, 1)), axis=1).ravel()
    changes = np.column_stack([FITTING % 2, spark]).astype(float)
    trial = Trial(
        ("oil", "ignition"), ("thin", "late"), changes, {"oil": FITTING}, FITTING, np.arange(24) * 7.0, np.zeros(24)
    )
    values = 200 + changes @ [1.6, 0.9] + rng.standard_normal(24) + 0.5 * rng.standard_normal(6)[FITTING]
    return trial, values


def quick(trial: Trial) -> Trial:
    """The same, nothing of it refitted."""
    return Trial(
        trial.factors, trial.levels, trial.changes, {}, np.zeros(24, int), trial.minute, trial.day, trial.drift
    )


def hanging(trial: Trial, values: np.ndarray, known: KnownNoise) -> list[tuple[str, ...] | None]:
    """Of verdicts at 95 %, any gain worth having."""
    whole = estimate(trial, values[None], known)
    half = whole.half_width(0.05)[0]
    verdicts = ["real gain" if gain > width else "not settled" for gain, width in zip(whole.gain[0], half, strict=True)]
    return influence.hangs_on(
        trial, values, known, whole, family_risks(whole, 0.95), levels=np.array([0.95, 0.95]),
        smallest_gain=[None, None], verdicts=verdicts, names=[str(i + 1) for i in range(24)],
    )  # fmt: skip


@pytest.mark.parametrize("noise", NOISES)
def test_all_at_once_names_what_one_by_one_does(noise, monkeypatch):
    (refitted, of_refitted), (switched, of_switched) = days(11), days(1)
    for day, values in ((refitted, of_refitted), (quick(switched), of_switched)):
        at_once = hanging(day, values, KnownNoise.of(noise))
        monkeypatch.setattr(influence, "_alike", lambda *_: [])
        assert hanging(day, values, KnownNoise.of(noise)) == at_once
        monkeypatch.undo()
    assert any(hanging(refitted, of_refitted, KnownNoise.of(noise)))  # else nothing was compared


def test_a_fitting_is_called_as_its_day_calls_it():
    trial, _ = days(11)
    names = [f"two/{label + 7}" for label in trial.install.tolist()]
    called = influence._leave_one_out(trial, [""] * 24, names)[24:]
    assert [what for what, _ in called] == [f"fitting {name}" for name in dict.fromkeys(names)]


def test_a_day_with_a_study_is_not_fitted_anew_for_every_pull(monkeypatch):
    made = []
    monkeypatch.setattr(influence, "estimate", lambda *a, **k: made.append(k) or estimate(*a, **k))
    trial, values = days(1)
    assert hanging(trial, values + 3 * trial.changes.sum(axis=1), KnownNoise.of(STUDY)) == [(), ()]
    assert len(made) == 2  # the pulls, the fittings


def test_a_pull_without_which_less_is_told_is_left_out_by_itself():
    trial, values = days(2)
    alone = np.zeros(24)
    alone[5] = 1.0  # the only pull of a third change
    wider = Trial(
        ("oil", "tune"), ("thin", "rich"), np.column_stack([trial.changes[:, 0], alone]), {}, np.zeros(24, int),
        trial.minute, trial.day,
    )  # fmt: skip
    known = KnownNoise.of({})
    asked = influence._Asked(
        known, np.array([0.95, 0.95]), [None, None], "higher", estimate(wider, values[None], known)
    )
    groups = influence._alike(wider, asked, [np.array([i]) for i in range(24)])
    assert sorted(i for group in groups for i in group) == [i for i in range(24) if i != 5]


def test_pulls_without_which_no_crossed_fit_shortens_an_interval_are_left_out_too():
    # Invented: two refit parts on one morning. Without some of the pulls nothing crosses, and a change has two fits
    # to choose from, not four.
    stint, other = np.repeat([0, 1, 2, 3], [2, 3, 5, 2]), np.repeat([1, 2], [8, 4])
    noise = [0.4, -0.8, 0.2, 0.8, 0.5, 0.2, 0.2, -0.1, 0.3, -0.4, -0.1, -0.5]
    table = {
        "power": 300 + 8.0 * (stint % 2) + 5.0 * (other == 1) + np.array(noise),
        "oil": np.where(stint % 2, "B", "A"),
        "intake": np.where(other == 1, "B", "A"),
        "oil fitting": stint,
        "intake fitting": other,
    }
    found = doe.judge(
        table, value="power", change=["oil", "intake"], baseline=["A", "A"], install=["oil fitting", "intake fitting"],
        smallest_gain=1.0,
    )  # fmt: skip
    assert [gain.verdict for gain in found.changes].count("not settled") < 2
    assert any(gain.hangs_on is not None for gain in found.changes)
