"""How often other seeds tell the demo day's story. Run: ``python tests/benchmarks/demo_seeds.py [FIRST] [LAST]``.

Each seed draws a plan and makes its day, as ``doe demo --seed`` does. When the planner has changed, take the new seed
of the demo (`doe.simulation.demo.SEED`) from the last line.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

from doe.analysis.judging.folders import judge_day
from doe.analysis.judging.judgement import Judgement
from doe.simulation import demo

STORY = ["real gain", "real gain", "real loss", "no difference that matters", "not settled"]


def main(first: int = 0, last: int = 20) -> None:
    """Print how often each change gets each verdict, and the seeds that tell the whole story."""
    with tempfile.TemporaryDirectory() as place:
        days = {seed: demo_day(Path(place) / str(seed), seed) for seed in range(first, last + 1)}
    for row, (factor, level) in enumerate(demo.TRUE_GAINS):
        counts = Counter(day.changes[row].verdict for day in days.values())
        print(f"{factor} {level}: {', '.join(f'{word} {n}' for word, n in counts.most_common())} of {len(days)}")
    pairs = [pair.p for day in days.values() for pair in day.interplay]
    print(f"interplay with p < 0.05, where there is none: {sum(p < 0.05 for p in pairs)} of {len(pairs)} pairs")
    told = [seed for seed, day in days.items() if [gain.verdict for gain in day.changes] == STORY]
    print(f"whole story: {len(told)} of {len(days)}, seeds {told}")
    print(f"... without a warning: {[seed for seed in told if not days[seed].warnings]}")


def demo_day(folder: Path, seed: int) -> Judgement:
    """Make and judge one demo day."""
    demo.make(folder, seed)
    return judge_day(folder)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
