"""How often other seeds tell the demo day's story. Run: ``python tests/benchmarks/demo_seeds.py [DAYS] [PLAN_SEED]``.

One plan, many simulated days of it, each logged and judged like a real one. The story is that of the
demo cell: real gain, real gain, real loss, no difference that matters, not settled.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path

from doe.analysis.days import judge_day
from doe.planning.plan import plan_day
from doe.simulation import demo
from doe.simulation.cell import CellSizes
from doe.simulation.logged_day import log_day

STORY = ("real gain", "real gain", "real loss", "no difference that matters", "not settled")


def main(days: int = 100, plan_seed: int = demo.SEED) -> None:
    """Print how often each change gets each verdict, and the seeds that tell the whole story."""
    with tempfile.TemporaryDirectory() as place:
        planned = Path(place) / "planned"
        demo.start(planned)
        plan_day(planned, seed=plan_seed).save(planned)
        verdicts = [verdicts_of(planned, seed) for seed in range(days)]
    for place_in_file, (factor, level) in enumerate(demo.TRUE_GAINS):
        counts = Counter(day[place_in_file] for day in verdicts)
        print(f"{factor} {level}: {', '.join(f'{word} {n}' for word, n in counts.most_common())} of {days}")
    told = [seed for seed, day in enumerate(verdicts) if day == STORY]
    print(f"whole story: {len(told)} of {days} days, seeds {told[:20]}")


def verdicts_of(planned: Path, seed: int) -> tuple[str, ...]:
    """Return the verdicts of one simulated day of a plan, in the order of day.toml."""
    folder = planned.with_name(f"day-{seed}")
    shutil.copytree(planned, folder)
    log_day(folder, demo.TRUE_GAINS, CellSizes(), seed)
    judgement = judge_day(folder)
    shutil.rmtree(folder)
    return tuple(gain.verdict for gain in judgement.changes)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
