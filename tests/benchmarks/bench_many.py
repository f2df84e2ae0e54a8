"""Many outcomes of one design: what the family's critical values cost, as a share of the fits, in the same run.

OMP_NUM_THREADS=1 python tests/benchmarks/bench_many.py
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np
from coverage_designs import DESIGNS

from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.family import family_risks, many_family_risks
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise

DAYS = 1000
STUDY = {"pull_sd": 0.5, "pull_df": 10, "install_sd": 0.3, "install_df": 5}
NOISE: dict[str, dict[str, float] | None] = {
    "no study, insured": None,
    "no study, calm": {"wander_sd": 0.0},
    "study, insured": STUDY,
    "study with wander": {**STUDY, "wander_sd": 0.2, "wander_df": 4},
}


def spent(work: Callable[[], Any]) -> tuple[float, Any]:
    """CPU time [s] of one run, and what it gave."""
    began = time.process_time()
    found = work()
    return time.process_time() - began, found


def main() -> None:
    """Print the table."""
    print(f"{DAYS} outcomes; microseconds of CPU an outcome, and how far critical values lie from the exact ones")
    print(f"{'':48}{'fits':>8}{'family':>8}{'ratio':>7}{'within':>9}")
    for name, design in DESIGNS.items():
        trial = design_trial(**design)
        z, rng = trial.install_factor(), np.random.default_rng(1)
        values = 400 + rng.normal(0, 0.5, (DAYS, trial.pulls))
        if z is not None:
            values += 0.3 * rng.normal(size=(DAYS, z.shape[1])) @ z.T
        for noise, stated in NOISE.items():
            known = KnownNoise.of(stated)
            fits, found = spent(lambda values=values, trial=trial, known=known: estimate(trial, values, known))
            if sum(route != "none" for route in found.routes) < 2:
                continue
            family, risks = spent(lambda found=found: many_family_risks(found, 0.95))
            few = estimate(trial, values[:20], known)
            se = np.where(np.isfinite(few.se), few.se, 0.0).max(axis=2)
            away = max(
                np.nanmax(np.abs(few.half_width(quick[:20]) - few.half_width(exact))[se > 0] / se[se > 0])
                for quick, exact in zip(risks, family_risks(few, 0.95), strict=True)
            )
            each = (1e6 * seconds / DAYS for seconds in (fits, family))
            print(f"{name + ', ' + noise:48}{next(each):8.0f}{next(each):8.0f}{family / fits:7.2f}{away:9.0e}")


if __name__ == "__main__":
    main()
