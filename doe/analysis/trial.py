"""A trial: what was fitted during each counted pull, when, and in which fitting, as arrays ready for the model."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from doe.errors import ConfoundedError
from doe.stats.fixed_effects import DRIFT_DEGREE, FixedEffects, estimable, fixed_effects, rank
from doe.stats.mixed_model import indicator


@dataclass(frozen=True)
class Trial:
    """The design of a day or a campaign: everything but the readings.

    Attributes
    ----------
    factors, levels : tuple of str
        The factor and the level of each change.
    changes : ndarray, shape (pulls, changes)
        1 where the change is on.
    fittings : dict of str to ndarray, shape (pulls,)
        Fitting number per pull, for each factor that is refitted (a key that names no factor is an install that no
        change follows). A factor that is absent is quick.
    install : ndarray, shape (pulls,)
        One label for "anything was refitted": what people count.
    minute : ndarray or None, shape (pulls,)
        From each day's own start; None without times.
    day : ndarray, shape (pulls,)
        Label of the day.
    drift : {"none", "linear", "quadratic", "wander"}
    """

    factors: tuple[str, ...]
    levels: tuple[str, ...]
    changes: np.ndarray
    fittings: dict[str, np.ndarray]
    install: np.ndarray
    minute: np.ndarray | None
    day: np.ndarray
    drift: str = "linear"

    @property
    def pulls(self) -> int:
        """Counted pulls."""
        return len(self.changes)

    def fixed(self, *, random_days: bool = False) -> FixedEffects:
        """Fixed effects; the days are fixed intercepts unless they are taken as random."""
        return self._with_random_days if random_days else self._with_fixed_days

    @cached_property
    def _with_fixed_days(self) -> FixedEffects:
        return fixed_effects(self.changes, self.minute, DRIFT_DEGREE[self.drift], self.day)

    @cached_property
    def _with_random_days(self) -> FixedEffects:
        return fixed_effects(self.changes, self.minute, DRIFT_DEGREE[self.drift])

    @cached_property
    def error_df(self) -> int:
        """Pulls minus the rank of the fixed effects: what is left to see any scatter with."""
        return self.pulls - rank(self.fixed().matrix)

    @cached_property
    def left_between(self) -> dict[str, int]:
        """J - r of each refit factor: fittings minus the rank of the fixed effects' means over them.

        What the day itself has left to see the install scatter with. Test it before any REML: on a day without any,
        REML returns nonsense with a straight face.
        """
        means = {name: averaging(labels) @ self.fixed().matrix for name, labels in self.fittings.items()}
        return {name: len(mean) - rank(mean) for name, mean in means.items()}

    def only(self, keep: np.ndarray) -> Trial:
        """Return the same trial with some of the changes left out of the model."""
        if np.all(keep):
            return self
        index = np.flatnonzero(keep)
        return Trial(
            tuple(self.factors[i] for i in index),
            tuple(self.levels[i] for i in index),
            self.changes[:, index],
            self.fittings,
            self.install,
            self.minute,
            self.day,
            self.drift,
        )

    def take(self, pulls: np.ndarray) -> Trial:
        """Return the same trial with some of the pulls only."""
        return Trial(
            self.factors,
            self.levels,
            self.changes[pulls],
            {name: labels[pulls] for name, labels in self.fittings.items()},
            self.install[pulls],
            None if self.minute is None else self.minute[pulls],
            self.day[pulls],
            self.drift,
        )

    def grouping(self, change: int) -> np.ndarray | None:
        """Fittings of a change's factor, or None when it is switched inside them (a quick factor)."""
        labels = self.fittings.get(self.factors[change])
        if labels is None:
            return None
        _, codes, counts = np.unique(labels, return_inverse=True, return_counts=True)
        on = np.bincount(codes, self.changes[:, change])
        return None if ((on > 0) & (on < counts)).any() else labels

    def install_factor(self) -> np.ndarray | None:
        """Z of the install component, fittings of all refit factors side by side, shape (pulls, fittings)."""
        return np.hstack([indicator(labels) for labels in self.fittings.values()]) if self.fittings else None

    def name(self, change: int) -> str:
        """The change in a person's words."""
        return f"{self.factors[change]} {self.levels[change]}"


def averaging(labels: np.ndarray) -> np.ndarray:
    """Matrix that takes means over groups, shape (groups, pulls)."""
    z = indicator(labels)
    return (z / z.sum(axis=0)).T


def confounded(trial: Trial) -> tuple[np.ndarray, list[str]]:
    """Find the changes that the design can't tell from something else.

    Returns
    -------
    clear : ndarray of bool, shape (changes,)
    reasons : list of str
        One sentence a confounded change: what it can't be told from, and one pull that would help.
    """
    fixed = trial.fixed()
    full_rank = trial.pulls - trial.error_df == fixed.matrix.shape[1]
    clear = np.ones(len(fixed.gains), bool) if full_rank else estimable(fixed.matrix, fixed.gains)
    return clear, [_reason(trial, int(i)) for i in np.flatnonzero(~clear)]


def _reason(trial: Trial, change: int) -> str:
    column, name = trial.changes[:, change], trial.name(change)
    if column.all():
        return f"'{name}' was on in every counted pull: one pull of the baseline would show its gain."
    for other in range(trial.changes.shape[1]):
        if other != change and np.array_equal(trial.changes[:, other], column):
            return (
                f"'{name}' and '{trial.name(other)}' were always on together: "
                f"one pull with the {trial.factors[change]} alone would tell them apart."
            )
    if not (trial.changes.sum(axis=1) == 0).any():
        return f"'{name}': no counted pull of the baseline, with nothing else changed: one would tell them apart."
    if len(np.unique(trial.day)) > 1 and all(np.ptp(column[trial.day == d]) == 0 for d in np.unique(trial.day)):
        return (
            f"'{name}' was never changed within a day, so its gain can't be told from the days' own level: "
            "one pull with it and one without on the same day would."
        )
    return (
        f"'{name}' can't be told from the drift and the other changes on so few pulls: "
        f"one more pull of the baseline after it, and one with the {trial.factors[change]} alone, would help."
    )


def clear_changes(trial: Trial) -> tuple[np.ndarray, list[str]]:
    """Like `confounded`, but raise when nothing at all can be told apart.

    Raises
    ------
    ConfoundedError
        No change can be told from the rest; the message names what and one pull that would help.
    """
    clear, reasons = confounded(trial)
    if len(clear) and not clear.any():
        raise ConfoundedError("\n".join(reasons))
    return clear, reasons
