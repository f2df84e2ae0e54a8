"""Days of one design, as the program sees them and as textbooks write them: dense matrices, day by day.

Source: Harville (1977), JASA 72, 320-338, with P = V^-1 - V^-1 X (X'V^-1 X)^-1 X'V^-1; a study of
variance s^2 on nu degrees of freedom adds the log density of nu s^2 / theta ~ chi2_nu.
"""

from __future__ import annotations

import numpy as np
from scipy import stats

from doe.stats import reml
from doe.stats.fixed_effects import fixed_effects
from doe.stats.mixed_model import Studies, decompose, indicator, reduce

FITTING, DAY = np.repeat(np.arange(8), 3), np.repeat(np.arange(4), 6)
MINUTE = np.tile(np.arange(6) * 7.0, 4) + 2.0 * (np.arange(24) % 5)
CHANGE = (FITTING % 2).astype(float)[:, None]
FACTORS = {1: [], 2: [indicator(FITTING)], 3: [indicator(FITTING), indicator(DAY)]}
#: which components a study speaks of, on so many degrees of freedom each
STUDIED = {"no study": [0, 0, 0], "pulls": [12, 0, 0], "fittings": [0, 4, 0], "all": [9, 5, 3], "days": [0, 0, 2]}
CASES = [(k, who) for k in (1, 2, 3) for who, df in STUDIED.items() if any(df[:k]) or who == "no study"]


class Model:
    """Some days of one design, the program's view of them and the dense matrices."""

    def __init__(self, components: int, studied: str, days: int = 12, seed: int = 1) -> None:
        rng = np.random.default_rng(seed)
        fixed = fixed_effects(CHANGE, MINUTE, 1, None)
        self.x = np.column_stack([np.ones(24), CHANGE, MINUTE])
        self.g = [np.eye(24), *(f @ f.T for f in FACTORS[components])]
        scale = np.array([1.0, 0.8, 0.6])[:components] * rng.choice([0.0, 0.4, 1.0, 3.0], (days, components))
        scale[:, 0] = rng.choice([0.3, 1.0], days)
        noise = [rng.normal(size=(days, 24)), *(rng.normal(size=(days, f.shape[1])) @ f.T for f in FACTORS[components])]
        self.y = sum(s[:, None] * part for s, part in zip(scale.T, noise, strict=True))
        df = np.tile(np.array(STUDIED[studied][:components], float), (days, 1))
        self.studies = Studies(np.where(df > 0, rng.uniform(0.2, 2.0, df.shape), 0.0), df)
        self.design = decompose(fixed.space, fixed.gains, FACTORS[components])
        self.outcomes = reduce(self.design, self.y)

    def fit(self) -> np.ndarray:
        return reml.fit(self.design, self.outcomes, self.studies)

    def log_likelihood(self, day: int, theta: np.ndarray) -> float:
        v = sum(t * g for t, g in zip(theta, self.g, strict=True))
        vx = np.linalg.solve(v, self.x)
        value = (
            np.linalg.slogdet(v)[1] + np.linalg.slogdet(self.x.T @ vx)[1] + self.y[day] @ self.p(theta) @ self.y[day]
        )
        told = [
            stats.chi2.logpdf(nu * s2 / t, nu) + np.log(nu / t)
            for nu, s2, t in zip(self.studies.df[day], self.studies.variance[day], theta, strict=True)
            if nu
        ]
        return float(-0.5 * value + sum(told))

    def p(self, theta: np.ndarray) -> np.ndarray:
        v = sum(t * g for t, g in zip(theta, self.g, strict=True))
        vx = np.linalg.solve(v, self.x)
        return np.linalg.inv(v) - vx @ np.linalg.solve(self.x.T @ vx, vx.T)

    def score(self, day: int, theta: np.ndarray) -> np.ndarray:
        p, nu, s2 = self.p(theta), self.studies.df[day], self.studies.variance[day]
        py = p @ self.y[day]
        own = np.array([0.5 * (py @ g @ py - np.trace(p @ g)) for g in self.g])
        safe = np.where(theta > 0, theta, 1.0)
        return own + 0.5 * nu * (s2 / safe - 1.0) / safe
