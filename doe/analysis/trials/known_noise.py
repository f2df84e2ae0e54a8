"""What is known of the noise before the day's own pulls: which components are in the model, and the studies of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from doe.errors import InputError
from doe.stats.mixed_model import Studies
from doe.stats.wander import INSURED_DF, INSURED_SHARE, STATED_DF
from doe.words.judgements import judge_notes
from doe.words.notes import Note

GUESS_DF = 1.0
KEYS = ("pull_sd", "pull_df", "install_sd", "install_df", "wander_sd", "wander_df")


class StudiedNoise(Protocol):
    """A noise study: it knows what it says of some readings."""

    def noise_for(self, metric: str, unit: str = "", *, percent: bool = False) -> Mapping[str, Any]:
        """The keys of [noise]."""


def stated_noise(
    noise: Mapping[str, Any] | StudiedNoise | None, metric: str, unit: str, *, percent: bool
) -> Mapping[str, Any] | None:
    """What somebody knows of the noise of some readings, as the keys of [noise].

    Raises
    ------
    InputError
        It is neither a mapping nor a study, or a study of something else.
    """
    if noise is None or isinstance(noise, Mapping):
        return noise
    if not hasattr(noise, "noise_for"):
        raise InputError(f"noise: of type {type(noise).__name__}; expected what doe.noise returns, or a mapping")
    return noise.noise_for(metric, unit, percent=percent)


@dataclass(frozen=True, slots=True)
class KnownNoise:
    """SDs with degrees of freedom, in the metric's unit; None where there is no study.

    Numbers, or arrays of shape (days,) where each outcome comes with a study of its own.
    """

    pull: tuple[Any, Any] | None = None
    install: tuple[Any, Any] | None = None
    wander: tuple[Any, Any] | None = None
    wander_unstated: bool = False  #: nobody stated a wander that can enter a verdict: insure against it
    install_guess: Any | None = None  #: a refit SD without df: it enters no verdict
    notes: tuple[Note, ...] = ()

    @classmethod
    def of(cls, noise: Mapping[str, Any] | None) -> KnownNoise:
        """Read the [noise] table's keys; an SD without df is a guess and never enters a verdict.

        A wander SD of 0 vouches for none; one without df counts beside a study only.

        Raises
        ------
        InputError
            A key that is not known, or a number that is not positive.
        """
        noise = {key: value for key, value in (noise or {}).items() if value is not None and key != "source"}
        _check(noise)
        pull, install = _study(noise, "pull"), _study(noise, "install")
        wander, notes = _study(noise, "wander"), list[Note]()
        stated = noise.get("wander_sd")
        vouched = stated is not None and not np.any(np.asarray(stated) > 0)
        if wander is None and stated is not None and not vouched and (pull or install):
            wander = (stated, STATED_DF)
            notes.append(judge_notes.wander_df_assumed(_show(stated), STATED_DF))
        guess = None if install is not None or not np.any(noise.get("install_sd", 0)) else noise["install_sd"]
        return cls(pull, install, wander, wander is None and not vouched, guess, tuple(notes))

    @property
    def wander_vouched(self) -> bool:
        """Whether it was stated that nothing wanders."""
        return self.wander is None and not self.wander_unstated

    def insured(self, pull_sd: np.ndarray) -> KnownNoise:
        """Return the same with the study of a wander that nobody stated: a quarter of the pull SD, on half a df.

        Parameters
        ----------
        pull_sd : ndarray, shape (days,)
            Of the fixed effects' residuals; the study's stands in where there is one.
        """
        scale = pull_sd if self.pull is None else np.broadcast_to(np.asarray(self.pull[0], float), pull_sd.shape)
        return replace(self, wander=(INSURED_SHARE * scale, INSURED_DF), wander_unstated=False)

    def scaled(self, factor: np.ndarray | float) -> KnownNoise:
        """Return the same studies with every SD multiplied: from percent to the metric's unit."""
        pull, install, wander = (
            None if study is None else (np.asarray(study[0]) * factor, study[1])
            for study in (self.pull, self.install, self.wander)
        )
        guess = None if self.install_guess is None else np.asarray(self.install_guess) * factor
        return replace(self, pull=pull, install=install, wander=wander, install_guess=guess)

    def guessed(self, install_sd: float) -> KnownNoise:
        """Return the same with a guess of the refit SD counted as a study on one degree of freedom."""
        return replace(self, install=(install_sd, GUESS_DF))

    def studies(self, components: tuple[str, ...]) -> Studies:
        """Arrays for the likelihood, one column a component."""
        found = [getattr(self, name, None) for name in components]
        if not any(found):
            return Studies.none(len(components))
        variance = [np.zeros(1) if s is None else np.atleast_1d(np.asarray(s[0], float)) ** 2 for s in found]
        df = [np.zeros(1) if s is None else np.atleast_1d(np.asarray(s[1], float)) for s in found]
        return Studies(_columns(variance), _columns(df))


def _columns(parts: list[np.ndarray]) -> np.ndarray:
    """One column a component, one row for all outcomes or one for each."""
    rows = max(len(part) for part in parts)
    return np.column_stack([np.broadcast_to(part, rows) for part in parts])


def _study(noise: Mapping[str, Any], name: str) -> tuple[Any, Any] | None:
    sd, df = noise.get(f"{name}_sd"), noise.get(f"{name}_df")
    if sd is None or df is None or np.any(np.asarray(sd) <= 0):
        return None
    return (sd, df)


def _check(noise: Mapping[str, Any]) -> None:
    faults = [f"noise: '{key}' is not known; expected one of {', '.join(KEYS)}" for key in noise if key not in KEYS]
    for key, value in noise.items():
        numbers = np.asarray(value, float)
        if key in KEYS and (not np.isfinite(numbers).all() or (numbers < 0).any()):
            faults.append(f"noise: '{key}' must be a number of 0 or more, not {value}")
    if faults:
        raise InputError(faults)


def _show(value: Any) -> str:
    return f"{float(np.mean(np.asarray(value, float))):g}"
