"""Large tables: 100,000 pulls in 1,000 fittings without times, judged and studied; forty questions on 500 pulls.

OMP_NUM_THREADS=1 python tests/benchmarks/bench_large.py

CPU time and peak memory of a child for each, beside a child that reads the same table with pandas and fits its fixed
effects by least squares: no fittings, no inference.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

if os.name == "nt":
    sys.exit("the peak memory of children is known on POSIX systems only")

MEASURED = """
import resource, runpy, sys
try:
    exec(sys.argv.pop(1))
except SystemExit:
    pass
spent = resource.getrusage(resource.RUSAGE_SELF)
print(spent.ru_utime + spent.ru_stime, spent.ru_maxrss / 1024, file=sys.stderr)
"""
COMMAND = "from doe.cli import main; sys.argv[0] = 'doe'; main()"
PLAIN = """
import numpy as np, pandas as pd
table = pd.read_csv(sys.argv[1])
x = np.column_stack([np.ones(len(table))] + [table[c] != table[c][0] for c in table if c not in ("power", "fit", "t")])
np.linalg.lstsq(x.astype(float), table["power"], rcond=None)
"""


def spent(code: str, words: list[str], cwd: Path) -> tuple[float, float]:
    """User and system time [s] and peak memory [MB] of one child."""
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    run = subprocess.run(
        [sys.executable, "-c", MEASURED, code, *words], cwd=cwd, env=environment, capture_output=True, text=True
    )
    seconds, peak = run.stderr.split()[-2:]
    return float(seconds), float(peak)


def many_pulls(path: Path, pulls: int = 100_000, fittings: int = 1000) -> list[str]:
    """Write a table of an oil and a vacuum; the words that say what is in it."""
    rng = np.random.default_rng(0)
    fit = np.repeat(np.arange(fittings), pulls // fittings)
    oil, vacuum = rng.permutation(fittings)[fit] % 2, rng.integers(0, 2, pulls)
    power = 200 + rng.normal(0, 0.5, pulls) + rng.normal(0, 0.3, fittings)[fit] + 0.4 * oil
    rows = (f"{p:.3f},{'ab'[o]},{'uv'[v]},{f}" for p, o, v, f in zip(power, oil, vacuum, fit, strict=True))
    path.write_text("\n".join(["power,oil,vacuum,fit", *rows]))
    return [path.name, "--value", "power", "--change", "oil", "--baseline", "a", "--change", "vacuum",
            "--baseline", "u", "--install", "fit"]  # fmt: skip


def many_questions(path: Path, questions: int = 40, pulls: int = 500, fittings: int = 50) -> list[str]:
    """Write a table of forty parts, each on in a third of the pulls, with times; half of them are refitted."""
    rng = np.random.default_rng(1)
    fit = np.repeat(np.arange(fittings), pulls // fittings)
    refit = rng.random((fittings, questions)) < 0.33
    on = np.where(np.arange(questions) < questions // 2, refit[fit], rng.random((pulls, questions)) < 0.33)
    power = 200 + rng.normal(0, 0.5, pulls) + rng.normal(0, 0.3, fittings)[fit] + on @ rng.normal(0, 0.3, questions)
    names = [f"part{k}" for k in range(questions)]
    rows = [
        f"{p:.3f},{f},{4 * i + 15 * f}," + ",".join("ab"[x] for x in row)
        for i, (p, f, row) in enumerate(zip(power, fit, on.astype(int), strict=True))
    ]
    path.write_text("\n".join(["power,fit,t," + ",".join(names), *rows]))
    asked = [word for name in names for word in ("--change", name, "--baseline", "a")]
    return [path.name, "--value", "power", *asked, "--install", "fit", "--time", "t"]


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as name:
        cwd = Path(name)
        large, forty = many_pulls(cwd / "large.csv"), many_questions(cwd / "forty.csv")
        for what, table, commands in (
            ("100,000 pulls, 1,000 fittings", large, ("judge", "noise")),
            ("40 questions, 500 pulls", forty, ("judge",)),
        ):
            plain, least = spent(PLAIN, table[:1], cwd)
            print(f"{what}: least squares {plain:.1f} s, {least:.0f} MB")
            for command in commands:
                seconds, peak = spent(COMMAND, [command, *table], cwd)
                print(f"  doe {command}: {seconds:.1f} s of CPU, {seconds / plain:.1f} times, peak {peak:.0f} MB")


if __name__ == "__main__":
    main()
