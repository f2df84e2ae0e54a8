"""Which single pull or fitting carries a verdict: what it would be without each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.family import family_risks
from doe.analysis.judging.verdict_rule import verdict
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial, confounded
from doe.stats.multivariate_t import QUICK
from doe.stats.student import upper_quantile
from doe.words.verdicts import NOT_SETTLED

MOST_PULLS = 200  # beyond it no single pull carries anything, and trying each takes too long
_NAMED = 6


def flips(
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    *,
    percent: bool,
    level: float,
    smallest_gain: Sequence[float | None],
    verdicts: Sequence[str],
    names: Sequence[str],
) -> list[str]:
    """Name every pull and every fitting without which a verdict would be another.

    What would settle an open question is named only for pulls that stand out: on most open days some pull or other
    would, and to name it would be to ask for its removal.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    percent : bool
    level : float
        Confidence of the outer simultaneous interval.
    smallest_gain, verdicts : sequence, one per change
    names : sequence of str, one per pull

    Returns
    -------
    list of str
        One sentence a change; empty where nothing flips.
    """
    suspects = {f"pull {names[i]}" for i in _standing_out(trial, values)[0].tolist()}
    if trial.pulls > MOST_PULLS or (not suspects and all(word == NOT_SETTLED for word in verdicts)):
        return []
    whole = family_risks(estimate(trial, values[None], known, percent=percent), level, QUICK)
    settled = {change: word for change, word in enumerate(verdicts) if word != NOT_SETTLED}
    found: dict[int, dict[str, list[str]]] = {}
    for what, keep in _leave_one_out(trial, names):
        part = (trial.take(keep), values[keep], known, percent, level, smallest_gain)
        watched = dict(enumerate(verdicts)) if what in suspects else settled
        screened = _verdicts_of(*part, risks=whole)  # the family's own critical values hardly move: screen with them
        if all(screened.get(change, word) == word for change, word in watched.items()):
            continue
        for change, word in _verdicts_of(*part).items():
            if word != watched.get(change, word):
                found.setdefault(change, {}).setdefault(word, []).append(what)
    return [_sentence(trial, change, verdicts[change], without) for change, without in sorted(found.items())]


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
    level: float,
    smallest_gain: Sequence[float | None],
    risks: tuple[np.ndarray, np.ndarray] | None = None,
) -> dict[int, str]:
    """Verdict of each change that can still be told apart, at the given risks or at this family's own."""
    clear = np.flatnonzero(trial.changes.any(axis=0))
    if not len(clear):
        return {}
    clear = clear[confounded(trial.only(np.isin(np.arange(len(trial.factors)), clear)))[0]]
    if not len(clear):
        return {}
    found = estimate(trial.only(np.isin(np.arange(len(trial.factors)), clear)), values[None], known, percent=percent)
    outer, inner = (found.half_width(risk)[0] for risk in risks or family_risks(found, level, QUICK))
    gain = found.gain[0]
    return {
        int(change): verdict(g - o, g + o, g - i, g + i, smallest_gain[change])
        for change, g, o, i in zip(clear, gain, outer, inner, strict=True)
    }


def _sentence(trial: Trial, change: int, word: str, without: dict[str, list[str]]) -> str:
    parts = []
    for other, what in without.items():
        shown = ", ".join(what[:_NAMED]) + (f" and {len(what) - _NAMED} more" if len(what) > _NAMED else "")
        parts.append(f"without {shown} it would be '{other}'")
    return f"{trial.name(change)}: '{word}' hangs on few pulls: {'; '.join(parts)}"


def outlying(trial: Trial, values: np.ndarray, names: Sequence[str]) -> list[str]:
    """Name the pulls that stand out from the model by more than chance; they still count.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    names : sequence of str, one per pull

    Returns
    -------
    list of str
        Externally studentised residuals, fittings as blocks, Bonferroni at 5 % (Cook & Weisberg 1982, sec. 2.2.2).
    """
    rows, t = _standing_out(trial, values)
    return [
        f"pull {names[i]} stands out ({values[i]:g}; {t[i]:+.1f} standard errors): "
        "it counts, unless `doe void` says why not"
        for i in rows.tolist()
    ]


def _standing_out(trial: Trial, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows that stand out, and the externally studentised residual of every pull."""
    u, df = trial.within.basis, trial.within.left - 1
    residual = values - u @ (u.T @ values)
    free = 1 - (u**2).sum(axis=1)
    total = residual @ residual
    if df < 1 or total <= 0:
        return np.zeros(0, int), np.zeros(len(values))
    safe = np.where(free > 1e-9, free, np.inf)
    rest = np.maximum(total - residual**2 / safe, 1e-300) / df
    t = np.where(np.isfinite(safe), residual / np.sqrt(rest * np.where(np.isfinite(safe), safe, 1.0)), 0.0)
    return np.flatnonzero(np.abs(t) > upper_quantile(0.05 / (2 * trial.pulls), df)), t
