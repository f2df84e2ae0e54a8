"""Early looks: how much of the planned information is in, and what the rest of the plan can still show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from doe.analysis.judging.ask import Level, Question
from doe.analysis.judging.judgement import Judgement
from doe.analysis.judging.routes import only_within
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.day.schema import DayFile
from doe.stats.generalised import of_one
from doe.stats.power import conditional_power, sidak_level
from doe.stats.student import upper_quantile
from doe.stats.wander import wander_factor
from doe.words.verdicts import NOT_SETTLED, SIGNS

_GUESSED_INSTALL_SHARE = 0.5  # of the pull SD, where day.toml says nothing: common practice, no published source


def information(trial: Trial, planned: Trial, day: DayFile) -> float:
    """Share of the planned information that is in: planned over present variance of the gains, averaged.

    Parameters
    ----------
    trial, planned : Trial
        The same changes in the same order.
    day : DayFile
        Its noise, or shares of the pull SD where it says none: the ratio hardly depends on them.

    Returns
    -------
    float
        0 to 1; a change that can't be estimated yet counts 0.
    """
    share = shares(trial, planned, day)
    seen = share[np.isfinite(share)]
    return float(np.clip(seen.mean() if len(seen) else 1.0, 0.0, 1.0))


def shares(trial: Trial, planned: Trial, day: DayFile) -> np.ndarray:
    """As `information`, of each change; 0 where it can't be estimated yet, nan where the plan never will."""
    now, then = _variances(trial, day), _variances(planned, day)
    with np.errstate(invalid="ignore"):
        return np.where(np.isfinite(then), np.where(np.isfinite(now), then / now, 0.0), np.nan)


def with_conditional_power(judgement: Judgement, share: np.ndarray, levels: Mapping[Question, Level]) -> Judgement:
    """Say of each open question how likely the rest of the plan is to show a gain that is worth having.

    Futility, not binding: the risk that the last look may spend does not change when a question is given up.

    Parameters
    ----------
    judgement : Judgement
        At an early look.
    share : ndarray, shape (changes,)
        Of the final information, by change; see `shares`.
    levels : mapping of (factor, level) to Level
        What each question has for its last word.

    Returns
    -------
    Judgement
        The final critical value: t at Sidak's share of the risk that is left, on df that grow with the information.
    """
    members = sum(gain.se is not None for gain in judgement.changes)
    changes = []
    for gain, known in zip(judgement.changes, share, strict=True):
        if gain.verdict != NOT_SETTLED or not gain.smallest_gain or gain.se is None or not 0 < known < 1:
            changes.append(gain)
            continue
        risk = 1 - sidak_level(1 - levels[gain.factor, gain.level].next_risk, members)
        critical = upper_quantile(risk / 2, (gain.df or 1.0) / known)
        toward = SIGNS[judgement.better] * gain.gain  # type: ignore[operator]
        found = conditional_power(toward, gain.se, known, gain.smallest_gain, critical)  # type: ignore[arg-type]
        changes.append(replace(gain, conditional_power=float(found)))
    return replace(judgement, changes=tuple(changes))


def _variances(trial: Trial, day: DayFile) -> np.ndarray:
    """Variance of each gain at the assumed SDs, read as the judge will read it; inf where it can't be estimated."""
    pull = day.noise.pull_sd or 1.0
    install = _GUESSED_INSTALL_SHARE * pull if day.noise.install_sd is None else day.noise.install_sd
    inside = [(np.ones(trial.pulls), pull**2)]
    if day.noise.wander_sd and trial.minute is not None:
        f = wander_factor(trial.minute, trial.day)
        inside.append((f @ f.T, day.noise.wander_sd**2))
    z, fixed = trial.install_factor(), trial.fixed()
    between = [] if z is None else [(z @ z.T, install**2)]
    found = _least_squares_variances(fixed.matrix, fixed.gains, [*inside, *between])
    known = KnownNoise.of(day.own_noise)
    blocks = [i for i in range(len(found)) if only_within(trial, known, "auto", i)]
    if blocks and z is not None:
        matrix = np.hstack([fixed.matrix, z])
        found[blocks] = _least_squares_variances(matrix, trial.within_answers[blocks], inside)
    return found


def _least_squares_variances(
    matrix: np.ndarray, functions: np.ndarray, scatter: Sequence[tuple[np.ndarray, float]]
) -> np.ndarray:
    """Variances by generalised least squares, shape (functions,); inf where the matrix doesn't determine one."""
    components, variance = zip(*scatter, strict=True)
    found = np.diag(of_one(matrix, functions, components, np.array(variance)).covariance[0])
    return np.where(np.isfinite(found), found, np.inf)
