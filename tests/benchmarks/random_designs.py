"""Designs of every shape, made at random: what no planner would draw and people bring all the same."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.trial import Trial

_PRIME = 2**61 - 1  # ranks are taken modulo it: exact but for one case in 10^18
_DEGREE = {"none": 0, "linear": 1, "quadratic": 2, "wander": 0}


@dataclass
class Design:
    """A table of pulls without readings, and how it is to be judged."""

    levels: dict[str, list[str]]
    fittings: dict[str, list[int]]  #: of the refit factors
    minute: list[int] | None
    day: list[int] | None
    drift: str
    noise: dict[str, float] | None
    method: str
    smallest: dict[Any, float] = field(default_factory=dict)

    @property
    def pulls(self) -> int:
        return len(next(iter(self.levels.values())))

    def baseline(self) -> dict[str, str]:
        return {name: cells[0] for name, cells in self.levels.items()}

    def options(self) -> dict[str, Any]:
        return {
            "change": self.levels, "baseline": self.baseline(), "install": self.fittings, "minute": self.minute,
            "day": self.day, "drift": self.drift, "noise": self.noise, "method": self.method,
        }  # fmt: skip

    def trial(self) -> Trial:
        return design_trial(self.levels, self.baseline(), self.fittings, self.minute, self.day, self.drift)


def random_design(seed: int) -> Design:
    """1 to 3 factors of 2 or 3 levels, refit or quick, in 2 to 9 stints of 1 to 4 pulls, some of them lost."""
    rng = np.random.default_rng(seed)
    names = ["oil", "plugs", "vacuum"][: rng.integers(1, 4)]
    sizes = [int(rng.integers(2, 4)) for _ in names]
    refit = [bool(rng.random() < 0.6) for _ in names]
    setting, fitting = [0] * len(names), [0] * len(names)
    together = rng.random() < 0.3  # everything is changed at once: much can't be told apart
    several_days, minute, day = bool(rng.random() < 0.3), 0, 0
    rows: list[tuple[list[int], list[int], int, int]] = []
    for _ in range(rng.integers(2, 10)):
        if several_days and rng.random() < 0.3:
            day, minute = day + 1, 0
        for _ in range(rng.integers(1, 5)):
            minute += int(rng.integers(4, 9))
            rows.append((list(setting), list(fitting), minute, day))
        before = list(setting)
        for k in range(len(names)) if together else [int(rng.integers(len(names)))]:
            setting[k] = 0 if setting[k] and rng.random() < 0.6 else int(rng.integers(sizes[k]))
        fitting = [f + (a != b or rng.random() < 0.1) for f, a, b in zip(fitting, before, setting, strict=True)]
        minute += int(rng.integers(5, 40))
    kept = [row for row in rows if rng.random() > 0.1] or rows
    timed = rng.random() < 0.75
    return Design(
        levels={name: [f"{name}{row[0][k]}" for row in kept] for k, name in enumerate(names)},
        fittings={name: [row[1][k] for row in kept] for k, name in enumerate(names) if refit[k]},
        minute=[row[2] for row in kept] if timed else None,
        day=[row[3] for row in kept] if several_days else None,
        drift=str(rng.choice(list(_DEGREE))) if timed else "none",
        noise=_study(rng),
        method=str(rng.choice(["auto", "auto", "auto", "kenward-roger", "install-means"])),
    )


def _study(rng: np.random.Generator) -> dict[str, float] | None:
    found = {}
    if rng.random() < 0.3:
        found |= {"pull_sd": 0.6, "pull_df": 12.0}
    if rng.random() < 0.3:
        found |= {"install_sd": 0.5, "install_df": 5.0}
    if rng.random() < 0.2:
        found |= {"wander_sd": 0.3, "wander_df": 4.0}
    return found or None


def readings(trial: Trial, seed: int) -> np.ndarray:
    """Readings with gains, drift, days, fittings and scatter."""
    rng = np.random.default_rng(seed)
    values, _ = additive(trial, seed)
    z = trial.install_factor()
    if z is not None:
        values = values + z @ rng.normal(0, 0.5, z.shape[1])
    return values + rng.normal(0, 0.6, trial.pulls)


def additive(trial: Trial, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Readings without any scatter, and the gains that are in them; all days alike, for methods that take them so."""
    rng = np.random.default_rng(seed)
    beta = np.concatenate([[205.0], rng.normal(0, 3, trial.fixed().matrix.shape[1] - 1)])
    beta[1 + len(trial.factors) + trial.fixed().degree :] = 0.0
    return trial.fixed().matrix @ beta, beta[1 : 1 + len(trial.factors)]


def exactly_determined(trial: Trial, *, study: bool, method: str) -> np.ndarray:
    """Which gains the model in use determines, by ranks of whole numbers: no tolerance anywhere."""
    x = _whole_numbers(trial)
    groups = [np.unique(labels, return_inverse=True)[1] for labels in trial.fittings.values()]
    sums = [[x[g == j].sum(axis=0).tolist() for j in range(g.max() + 1)] for g in groups]  # means, but for a factor
    left = [len(rows) - rank(rows) for rows in sums]
    blocks = [(g[:, None] == np.arange(g.max() + 1)).astype(int).astype(object) for g in groups]
    inside = np.hstack([x, *blocks]).tolist()
    found = []
    for change in range(len(trial.factors)):
        quick = trial.grouping(change) is None and groups and method == "auto" and not study and max(left) < 1
        found.append(_tells(x.tolist(), 1 + change) and (not quick or _tells(inside, 1 + change)))
    return np.array(found)


def _whole_numbers(trial: Trial) -> np.ndarray:
    """The fixed effects in whole numbers: powers of the minute span what powers of centred hours do."""
    columns = [np.ones(trial.pulls, int), *trial.changes.astype(int).T]
    for power in range(1, _DEGREE[trial.drift] + 1):
        columns.append(trial.minute.astype(int) ** power)
    columns += [(trial.day == day).astype(int) for day in np.unique(trial.day)[1:]]
    return np.column_stack(columns).astype(object)


def _tells(matrix: list[list[int]], place: int) -> bool:
    picks = [int(column == place) for column in range(len(matrix[0]))]
    return rank([*matrix, picks]) == rank(matrix)


def rank(matrix: list[list[int]]) -> int:
    """Rank of a matrix of whole numbers, by elimination modulo a large prime."""
    rows, found = [[int(x) % _PRIME for x in row] for row in matrix], 0
    for column in range(len(rows[0]) if rows else 0):
        at = next((i for i in range(found, len(rows)) if rows[i][column]), None)
        if at is None:
            continue
        rows[found], rows[at] = rows[at], rows[found]
        inverse = pow(rows[found][column], -1, _PRIME)
        for i in range(found + 1, len(rows)):
            if rows[i][column]:
                factor = rows[i][column] * inverse % _PRIME
                rows[i] = [(a - factor * b) % _PRIME for a, b in zip(rows[i], rows[found], strict=True)]
        found += 1
    return found
