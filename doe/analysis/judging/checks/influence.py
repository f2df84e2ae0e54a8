"""Which single pull or fitting carries a verdict: what it would be without each."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.family import Risks, family_risks
from doe.analysis.judging.routes import same_without
from doe.analysis.judging.verdict_rule import verdict
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.verdicts import HIGHER, NOT_SETTLED, Better

MOST_PULLS = 200  # beyond it no single pull carries anything, and trying each takes too long
_TOLD_APART = 1e-6  # of a pull: what the fixed effects leave of it where the others determine as much without it
_HELD_AT_ONCE = 500_000  # numbers, of one square matrix for each set of pulls that is left out


def hangs_on(
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    everything: Estimates,
    risks: Risks,
    *,
    levels: np.ndarray,
    smallest_gain: Sequence[float | None],
    verdicts: Sequence[str],
    names: Sequence[str],
    fittings: Sequence[str] | None = None,
    better: Better = HIGHER,
) -> list[tuple[str, ...] | None]:
    """Name every pull and every fitting without which a verdict would be another.

    Of settled questions only: on most open days some pull or other would settle it, and to name that would be to ask
    for its removal.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    everything : Estimates
        Of all pulls.
    risks : Risks
        The family's, of shape (1, changes, 2): those of all pulls, with which sets of pulls are screened.
    levels : ndarray, shape (changes,)
        Confidence of the outer simultaneous interval of each.
    smallest_gain, verdicts : sequence, one per change
    names : sequence of str, one per pull
    fittings : sequence of str, one per pull, optional
        The name of its fitting; by default they are counted.
    better : {"higher", "lower"}

    Returns
    -------
    list of tuple of str, one per change
        Empty where the verdict holds without any one of them; None where it is open, or nobody looked.
    """
    settled = {change: word for change, word in enumerate(verdicts) if word != NOT_SETTLED}
    if trial.pulls > MOST_PULLS or not settled:
        return [None] * len(verdicts)
    asked = _Asked(known, levels, smallest_gain, better, everything)
    lacking = _leave_one_out(trial, names, fittings)
    screened = _screened(trial, values, [rows for _, rows in lacking], asked, risks)
    found: dict[int, list[str]] = {change: [] for change in settled}
    for (what, rows), words in zip(lacking, screened, strict=True):
        if all(words.get(change, word) == word for change, word in settled.items()):
            continue
        for change, word in _verdicts_of(*_without(trial, values, rows), asked).items():
            if word != settled.get(change, word):
                found[change].append(what)
    return [tuple(found[change]) if change in found else None for change in range(len(verdicts))]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What doesn't depend on the pulls that are left out; arguments of `hangs_on`."""

    known: KnownNoise
    levels: np.ndarray
    smallest_gain: Sequence[float | None]
    better: Better
    everything: Estimates


def _leave_one_out(trial: Trial, names: Sequence[str], fittings: Sequence[str] | None) -> list[tuple[str, np.ndarray]]:
    """Each pull and each fitting in words, and its pulls."""
    pulls = [(f"pull {name}", np.array([i])) for i, name in enumerate(names)]
    installs = np.unique(trial.install)
    if not 1 < len(installs) < trial.pulls:
        return pulls
    own = [np.flatnonzero(trial.install == label) for label in installs]
    called = [str(k) for k in range(1, len(own) + 1)] if fittings is None else [fittings[rows[0]] for rows in own]
    return pulls + [(f"fitting {name}", rows) for name, rows in zip(called, own, strict=True)]


def _without(trial: Trial, values: np.ndarray, rows: np.ndarray) -> tuple[Trial, np.ndarray]:
    keep = np.delete(np.arange(trial.pulls), rows)
    return trial.take(keep), values[keep]


def _screened(
    trial: Trial,
    values: np.ndarray,
    lacking: Sequence[np.ndarray],
    asked: _Asked,
    risks: Risks,
) -> list[dict[int, str]]:
    """Verdicts without each of these sets of pulls, at the given risks: all at once those that keep the model."""
    found: dict[int, dict[int, str]] = {}
    for together in _alike(trial, asked, lacking):
        rows = np.stack([lacking[i] for i in together])
        others = np.delete(values, rows[0])
        several = np.repeat(values[None], len(rows), axis=0)
        np.put_along_axis(several, rows, others.mean(), 1)  # moves nothing, but must not hide a small scatter
        gains = estimate(trial, several, asked.known, near=asked.everything, left_out=rows)
        outer, inner = (gains.half_width(risk) for risk in risks)
        for day, i in enumerate(together):
            found[i] = _words(range(len(trial.factors)), gains.gain[day], outer[day], inner[day], asked)
    return [
        found[i] if i in found else _verdicts_of(*_without(trial, values, rows), asked, risks)
        for i, rows in enumerate(lacking)
    ]


def _alike(trial: Trial, asked: _Asked, lacking: Sequence[np.ndarray]) -> list[list[int]]:
    """Which of these sets of pulls can be left out of one and the same model, as many pulls at a time."""
    if asked.everything.percent:
        return []
    basis, groups = trial.fixed().space.basis, defaultdict[int, list[int]](list)
    for i, rows in enumerate(lacking):
        own = basis[rows]
        least = np.linalg.eigvalsh(np.eye(len(rows)) - own @ own.T)[0]
        if least > _TOLD_APART and same_without(trial, asked.known, len(rows)):
            groups[len(rows)].append(i)
    at_once = max(1, _HELD_AT_ONCE // trial.pulls**2)
    return [group[k : k + at_once] for group in groups.values() for k in range(0, len(group), at_once)]


def _verdicts_of(trial: Trial, values: np.ndarray, asked: _Asked, risks: Risks | None = None) -> dict[int, str]:
    """Verdict of each change that can still be told apart, at the given risks or at this family's own."""
    fitted = np.asarray(trial.changes.any(axis=0))
    part = trial.only(fitted)
    if not part.determined.any():
        return {}
    near = asked.everything
    found = estimate(part, values[None], asked.known, percent=near.percent, near=near)
    if risks is not None and risks[0].shape[2] == found.se.shape[2]:
        own = risks[0][:, fitted], risks[1][:, fitted]
    else:  # without these pulls there may be other fits to choose from, each with a risk of its own
        own = family_risks(found, asked.levels[fitted], quick=True)
    outer, inner = (found.half_width(risk)[0] for risk in own)
    return _words(np.flatnonzero(fitted).tolist(), found.gain[0], outer, inner, asked)


def _words(
    changes: Sequence[int], gains: np.ndarray, outer: np.ndarray, inner: np.ndarray, asked: _Asked
) -> dict[int, str]:
    """Verdict of each change that has a gain."""
    return {
        change: verdict(gain - o, gain + o, gain - i, gain + i, asked.smallest_gain[change], asked.better)
        for change, gain, o, i in zip(changes, gains.tolist(), outer.tolist(), inner.tolist(), strict=True)
        if math.isfinite(gain)
    }
