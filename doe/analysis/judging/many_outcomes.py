"""Many outcomes of one design judged at once: what rehearsals and coverage studies run on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.family import many_family_risks
from doe.analysis.trials.confounding import clear_changes
from doe.analysis.trials.known_noise import KEYS, KnownNoise
from doe.analysis.trials.trial import Trial
from doe.errors import InputError
from doe.stats.fixed_effects import DRIFT_DEGREE
from doe.words.judgements.many_outcomes_words import ChangeOfMany, many_text
from doe.words.result import Result
from doe.words.significance import CONFIDENCE

_HELD_AT_ONCE = 8_000_000  # numbers in the largest array: memory stays linear in the outcomes, with a small constant
_MOST_AT_ONCE = 10_000
_NUMBERS = ("gain", "se", "df", "low", "high", "family_low", "family_high", "inner_low", "inner_high")


@dataclass(frozen=True, slots=True, repr=False)
class Judgements(Result):
    """Gains of many outcomes of one design.

    Attributes
    ----------
    factors, levels : tuple of str, one per change
    routes : tuple of str, one per change
    gain, se, df, low, high, family_low, family_high, inner_low, inner_high : ndarray, shape (days, changes)
        As in a single judgement; nan where there is no interval, or no gain that the design determines.
    """

    factors: tuple[str, ...]
    levels: tuple[str, ...]
    routes: tuple[str, ...]
    gain: np.ndarray
    se: np.ndarray
    df: np.ndarray
    low: np.ndarray
    high: np.ndarray
    family_low: np.ndarray
    family_high: np.ndarray
    inner_low: np.ndarray
    inner_high: np.ndarray

    def to_dict(self) -> dict[str, Any]:
        """Return everything at full precision: one entry a change, with a list over the outcomes for each number."""
        return {
            "outcomes": len(self.gain),
            "changes": [
                {"factor": factor, "level": level, "route": route}
                | {name: getattr(self, name)[:, i].tolist() for name in _NUMBERS}
                for i, (factor, level, route) in enumerate(zip(self.factors, self.levels, self.routes, strict=True))
            ],
        }

    def to_frame(self, *, wide: bool = False) -> Any:
        """Return a pandas DataFrame; gains are in the unit of the values that were judged, which nobody was told.

        Parameters
        ----------
        wide : bool
            One row an outcome, with columns (change, number); else one tidy row an outcome and change.
        """
        import pandas as pd

        names = [f"{factor} {level}" for factor, level in zip(self.factors, self.levels, strict=True)]
        numbers = {name: getattr(self, name) for name in _NUMBERS}
        if wide:
            columns = {(change, name): of[:, i] for i, change in enumerate(names) for name, of in numbers.items()}
            return _without_units(
                pd.DataFrame(columns).rename_axis("outcome").rename_axis(columns=("change", "number"))
            )
        outcomes, changes = self.gain.shape
        labels = {"factor": self.factors, "level": self.levels, "route": self.routes}
        return _without_units(
            pd.DataFrame(
                {"outcome": np.repeat(np.arange(outcomes), changes)}
                | {name: np.tile(np.array(of, object), outcomes) for name, of in labels.items()}
                | {name: of.ravel() for name, of in numbers.items()}
            )
        )

    def to_text(self) -> str:
        """One line a change: mean and spread of its gain over the outcomes, and how wide its interval is."""
        half = (self.family_high - self.family_low) / 2
        spread = self.gain.std(axis=0, ddof=1) if len(self.gain) > 1 else np.full(len(self.factors), np.nan)
        return many_text(
            len(self.gain),
            [
                ChangeOfMany(
                    f"{factor} {self.levels[i]}",
                    float(self.gain[:, i].mean()),
                    float(spread[i]),
                    float(half[:, i].mean()),
                    self.routes[i],
                )
                for i, factor in enumerate(self.factors)
            ],
        )


def _without_units(frame: Any) -> Any:
    frame.attrs["units"] = {}
    return frame


def judge_many(
    values: np.ndarray,
    *,
    change: Sequence[Any] | Mapping[str, Sequence[Any]],
    baseline: Any,
    install: Sequence[Any] | Mapping[str, Sequence[Any]] | None = None,
    minute: Sequence[float] | None = None,
    day: Sequence[Any] | None = None,
    drift: str | None = None,
    noise: Mapping[str, Any] | None = None,
    method: str = "auto",
    confidence: float = CONFIDENCE,
) -> Judgements:
    """Judge many outcomes of one design.

    Parameters
    ----------
    values : ndarray, shape (days, pulls)
    change : sequence, shape (pulls,), or mapping of factor to sequence
        What was fitted during each pull.
    baseline : level, or mapping of factor to level
    install : sequence, shape (pulls,), or mapping of factor to sequence, optional
        Fitting labels; a factor without them is quick.
    minute : sequence, shape (pulls,), optional
        From each day's own start.
    day : sequence, shape (pulls,), optional
    drift : {"none", "linear", "quadratic", "wander"}, optional
        "linear" with minutes, else "none".
    noise : mapping, optional
        As in `doe.judge`; numbers, or arrays of shape (days,).
    method : {"auto", "kenward-roger", "install-means"}
    confidence : float

    Returns
    -------
    Judgements

    Raises
    ------
    InputError
        Shapes or words that don't fit.
    ConfoundedError
        No change can be told from the rest.
    """
    values = np.atleast_2d(np.asarray(values, float))
    trial = design_trial(change, baseline, install, minute, day, drift)
    if values.shape[1] != trial.pulls:
        raise InputError(f"values have {values.shape[1]} pulls a day, the design has {trial.pulls}")
    clear_changes(trial)
    return judge_outcomes(trial, values, noise, method=method, confidence=confidence)


def design_trial(
    change: Any, baseline: Any, install: Any = None, minute: Any = None, day: Any = None, drift: str | None = None
) -> Trial:
    """Read a design given as labels; arguments as in `judge_many`.

    Raises
    ------
    InputError
        A baseline that no pull has, lengths that differ, a drift that is not known.
    """
    columns = {k: np.asarray(v) for k, v in (change if isinstance(change, Mapping) else {"change": change}).items()}
    bases = baseline if isinstance(baseline, Mapping) else dict.fromkeys(columns, baseline)
    given = install if isinstance(install, Mapping) else dict.fromkeys(columns, install)
    fittings = {f: np.unique(np.asarray(v), return_inverse=True)[1] for f, v in given.items() if v is not None}
    n = len(next(iter(columns.values())))
    lengths = [len(c) for c in (*columns.values(), *fittings.values(), *(x for x in (minute, day) if x is not None))]
    if set(lengths) != {n}:
        raise InputError(f"change, install, minute and day must have one entry per pull; lengths are {lengths}")
    if drift not in (None, *DRIFT_DEGREE):
        raise InputError(f"drift: '{drift}' is not known; expected one of {', '.join(DRIFT_DEGREE)}")
    missing = [
        f"'{f}': no pull has the baseline {bases[f]!r}" for f, c in columns.items() if bases[f] not in c.tolist()
    ]
    if missing:
        raise InputError(missing)
    questions = [(f, level) for f, c in columns.items() for level in dict.fromkeys(c.tolist()) if level != bases[f]]
    changes = np.column_stack([columns[f] == level for f, level in questions] or [np.zeros((n, 0))])
    stack = np.column_stack(list(fittings.values())) if fittings else np.zeros((n, 1), int)
    return Trial(
        tuple(f for f, _ in questions),
        tuple(str(level) for _, level in questions),
        changes.astype(float),
        fittings,
        np.unique(stack, axis=0, return_inverse=True)[1].ravel(),
        None if minute is None else np.asarray(minute, float),
        np.zeros(n, int) if day is None else np.unique(np.asarray(day), return_inverse=True)[1],
        "none" if minute is None else drift or "linear",
    )


def judge_outcomes(
    trial: Trial,
    values: np.ndarray,
    noise: Mapping[str, Any] | None,
    *,
    method: str = "auto",
    confidence: float = CONFIDENCE,
    family_confidence: float | np.ndarray | None = None,
    percent: bool = False,
) -> Judgements:
    """Judge many outcomes of a trial; see `judge_many`.

    `family_confidence`, shape (changes,): of the simultaneous intervals, where the ledger has less risk for some.
    """
    family = confidence if family_confidence is None else family_confidence
    at_once = min(max(1, _HELD_AT_ONCE // trial.pulls**2), _MOST_AT_ONCE)
    parts = []
    for first in range(0, len(values), at_once):
        rows = slice(first, first + at_once)
        known = KnownNoise.of(_rows(noise, rows, len(values)))
        found = estimate(trial, values[rows], known, method=method, percent=percent)
        outer, inner = many_family_risks(found, family)
        halves = [found.half_width(risk) for risk in (1 - confidence, outer, inner)]
        pick = found.governing(1 - confidence)[..., None]
        se, df = (np.take_along_axis(a, pick, axis=-1)[..., 0] for a in (found.se, found.df))
        limits = [found.gain + sign * half for half in halves for sign in (-1, 1)]
        parts.append((found.gain, se, df, *limits))
    joined = [np.concatenate(column) for column in zip(*parts, strict=True)]
    return Judgements(trial.factors, trial.levels, found.routes, *joined)


def _rows(noise: Mapping[str, Any] | None, rows: slice, days: int) -> dict[str, Any] | None:
    """The studies of some of the outcomes, where each outcome comes with its own."""
    if noise is None:
        return None
    return {
        key: np.asarray(value)[rows] if key in KEYS and np.shape(value) == (days,) else value
        for key, value in noise.items()
    }
