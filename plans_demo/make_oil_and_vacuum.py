"""Make the invented day ``oil-and-vacuum`` afresh. Run: ``python plans_demo/make_oil_and_vacuum.py``.

Plan and pulls come from the same functions as those of a real day; only the engine is simulated.
"""

from __future__ import annotations

from pathlib import Path

from doe.planning.drawn.plan import plan_day
from doe.simulation.logged_day import log_day
from doe.simulation.simulated_cell import CellSizes

FOLDER = Path(__file__).parent / "oil-and-vacuum"
KEPT = {"day.toml", "README.md"}
SEED = 5

TRUE_GAINS = {("oil", "0W-20"): 3.0, ("crankcase vacuum", "on"): 3.5}
CELL = CellSizes(baseline=412.0, pull_sd=1.1, install_sd=0.7, wander_sd=0.3, drift_per_hour=-0.2, warm_up=-6.0,
                 per_kelvin=0.05, unsettled=-1.5)  # fmt: skip


def main() -> None:
    """Take the old plan and pulls away, plan, and log the pulls."""
    for path in FOLDER.iterdir():
        if path.name not in KEPT:
            path.unlink()
    plan_day(FOLDER, seed=SEED).save(FOLDER)
    log_day(FOLDER, TRUE_GAINS, CELL, SEED)


if __name__ == "__main__":
    main()
