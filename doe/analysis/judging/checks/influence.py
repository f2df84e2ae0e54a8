"""Which single pull or fitting carries a verdict: what it would be without each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.family import family_risks
from doe.analysis.judging.verdict_rule import verdict
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.verdicts import HIGHER, NOT_SETTLED, Better

MOST_PULLS = 200  # beyond it no single pull carries anything, and trying each takes too long


def hangs_on(
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    everything: Estimates,
    *,
    levels: np.ndarray,
    smallest_gain: Sequence[float | None],
    verdicts: Sequence[str],
    names: Sequence[str],
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
    levels : ndarray, shape (changes,)
        Confidence of the outer simultaneous interval of each.
    smallest_gain, verdicts : sequence, one per change
    names : sequence of str, one per pull
    better : {"higher", "lower"}

    Returns
    -------
    list of tuple of str, one per change
        Empty where the verdict holds without any one of them; None where it is open, or nobody looked.
    """
    settled = {change: word for change, word in enumerate(verdicts) if word != NOT_SETTLED}
    if trial.pulls > MOST_PULLS or not settled:
        return [None] * len(verdicts)
    whole = family_risks(everything, levels, quick=True)
    found: dict[int, list[str]] = {change: [] for change in settled}
    for what, keep in _leave_one_out(trial, names):
        part = (trial.take(keep), values[keep], known, levels, smallest_gain, better, everything)
        screened = _verdicts_of(*part, risks=whole)  # the family's own critical values hardly move: screen with them
        if all(screened.get(change, word) == word for change, word in settled.items()):
            continue
        for change, word in _verdicts_of(*part).items():
            if word != settled.get(change, word):
                found[change].append(what)
    return [tuple(found[change]) if change in found else None for change in range(len(verdicts))]


def _leave_one_out(trial: Trial, names: Sequence[str]) -> list[tuple[str, np.ndarray]]:
    everything = np.arange(trial.pulls)
    pulls = [(f"pull {name}", np.delete(everything, i)) for i, name in enumerate(names)]
    installs = np.unique(trial.install)
    if not 1 < len(installs) < trial.pulls:
        return pulls
    numbered = enumerate(installs, start=1)
    return pulls + [(f"fitting {k}", everything[trial.install != label]) for k, label in numbered]


def _verdicts_of(
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    levels: np.ndarray,
    smallest_gain: Sequence[float | None],
    better: Better,
    near: Estimates,
    risks: tuple[np.ndarray, np.ndarray] | None = None,
) -> dict[int, str]:
    """Verdict of each change that can still be told apart, at the given risks or at this family's own."""
    fitted = np.asarray(trial.changes.any(axis=0))
    part = trial.only(fitted)
    if not part.determined.any():
        return {}
    found = estimate(part, values[None], known, percent=near.percent, near=near)
    own = family_risks(found, levels[fitted], quick=True) if risks is None else [risk[:, fitted] for risk in risks]
    outer, inner = (found.half_width(risk)[0] for risk in own)
    gain = found.gain[0]
    return {
        int(change): verdict(g - o, g + o, g - i, g + i, smallest_gain[change], better)
        for change, g, o, i in zip(np.flatnonzero(fitted).tolist(), gain, outer, inner, strict=True)
        if np.isfinite(g)
    }
