"""Which single pull or fitting carries a verdict: what it would be without each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.family import family_risks
from doe.analysis.judging.verdict_rule import verdict
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.rounding import only_rounding
from doe.stats.student import upper_quantile
from doe.words.judgements import judge_notes
from doe.words.notes import Note
from doe.words.significance import NOTABLE
from doe.words.verdicts import NOT_SETTLED

MOST_PULLS = 200  # beyond it no single pull carries anything, and trying each takes too long
_NO_FREEDOM = 1e-9  # 1 - leverage of a pull that is a fitting of its own
_CANCELS = 1e-6  # share of the sum of squares


def flips(
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    *,
    percent: bool,
    levels: np.ndarray,
    smallest_gain: Sequence[float | None],
    verdicts: Sequence[str],
    names: Sequence[str],
) -> list[Note]:
    """Name every pull and every fitting without which a verdict would be another.

    What would settle an open question is named only for pulls that stand out: on most open days some pull or other
    would, and to name it would be to ask for its removal.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    percent : bool
    levels : ndarray, shape (changes,)
        Confidence of the outer simultaneous interval of each.
    smallest_gain, verdicts : sequence, one per change
    names : sequence of str, one per pull

    Returns
    -------
    list of Note
        One a change; empty where nothing flips.
    """
    suspects = {f"pull {names[i]}" for i in _standing_out(trial, values)[0].tolist()}
    if trial.pulls > MOST_PULLS or (not suspects and all(word == NOT_SETTLED for word in verdicts)):
        return []
    everything = estimate(trial, values[None], known, percent=percent)
    whole = family_risks(everything, levels, quick=True)
    settled = {change: word for change, word in enumerate(verdicts) if word != NOT_SETTLED}
    found: dict[int, dict[str, list[str]]] = {}
    for what, keep in _leave_one_out(trial, names):
        part = (trial.take(keep), values[keep], known, percent, levels, smallest_gain, everything)
        watched = dict(enumerate(verdicts)) if what in suspects else settled
        screened = _verdicts_of(*part, risks=whole)  # the family's own critical values hardly move: screen with them
        if all(screened.get(change, word) == word for change, word in watched.items()):
            continue
        for change, word in _verdicts_of(*part).items():
            if word != watched.get(change, word):
                found.setdefault(change, {}).setdefault(word, []).append(what)
    return [
        judge_notes.hangs_on_few_pulls(trial.name(change), verdicts[change], without)
        for change, without in sorted(found.items())
    ]


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
    percent: bool,
    levels: np.ndarray,
    smallest_gain: Sequence[float | None],
    near: Estimates,
    risks: tuple[np.ndarray, np.ndarray] | None = None,
) -> dict[int, str]:
    """Verdict of each change that can still be told apart, at the given risks or at this family's own."""
    fitted = np.asarray(trial.changes.any(axis=0))
    part = trial.only(fitted)
    if not part.determined.any():
        return {}
    found = estimate(part, values[None], known, percent=percent, near=near)
    own = family_risks(found, levels[fitted], quick=True) if risks is None else [risk[:, fitted] for risk in risks]
    outer, inner = (found.half_width(risk)[0] for risk in own)
    gain = found.gain[0]
    return {
        int(change): verdict(g - o, g + o, g - i, g + i, smallest_gain[change])
        for change, g, o, i in zip(np.flatnonzero(fitted).tolist(), gain, outer, inner, strict=True)
        if np.isfinite(g)
    }


def outlying(trial: Trial, values: np.ndarray, names: Sequence[str]) -> list[Note]:
    """Name the pulls that stand out from the model by more than chance; they still count.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    names : sequence of str, one per pull

    Returns
    -------
    list of Note
        Externally studentised residuals, fittings as blocks, Bonferroni at 5 % (Cook & Weisberg 1982, sec. 2.2.2).
    """
    rows, t = _standing_out(trial, values)
    return [judge_notes.stands_out(names[i], float(values[i]), float(t[i])) for i in rows.tolist()]


def _standing_out(trial: Trial, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows that stand out, and the externally studentised residual of every pull; inf where the others don't scatter.

    Residuals that are only rounding stand out from nothing.
    """
    u, df = trial.within.basis, trial.within.left - 1
    residual = values - u @ (u.T @ values)
    if df < 1 or only_rounding(residual, values):
        return np.zeros(0, int), np.zeros(len(values))
    free = 1 - (u**2).sum(axis=1)
    usable = free > _NO_FREEDOM
    gone = np.where(usable, residual / np.where(usable, free, 1.0), 0.0)  # by how much the pull misses the others' fit
    rest = _rest_squares(residual, u, gone, values)
    with np.errstate(divide="ignore"):
        t = np.where(gone == 0, 0.0, gone * np.sqrt(np.where(usable, free, 1.0) * df) / np.sqrt(rest))
    return np.flatnonzero(np.abs(t) > upper_quantile(NOTABLE / (2 * trial.pulls), df)), t


def _rest_squares(residual: np.ndarray, u: np.ndarray, gone: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Sum of squares that each pull's removal leaves, 0 where that is only rounding, shape (pulls,)."""
    total, free = residual @ residual, 1 - (u**2).sum(axis=1)
    rest = total - gone**2 * free
    for i in np.flatnonzero(rest < _CANCELS * total):  # the difference has lost its digits
        others = np.delete(residual + u @ u[i] * gone[i], i)
        rest[i] = 0.0 if only_rounding(others, values) else others @ others
    return np.asarray(rest)
