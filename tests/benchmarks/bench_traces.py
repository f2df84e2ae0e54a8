"""Speed of reading traces, as ratios to named alternatives measured in the same run.

    python tests/benchmarks/bench_traces.py [--traces 1000]

Bounds: reading exports of 2,000 rows and five columns at most 1.3 times the csv module's bare reading of the same
files; a second read through the cache at least ten times faster than the first; `doe record --trace` at most five times
`doe record`.
"""

from __future__ import annotations

import argparse
import csv
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import count as count_up
from pathlib import Path

import numpy as np

from doe.cell.traces.cache import TraceCache
from doe.cell.traces.clean_trace import clean
from doe.cell.traces.export_file import read_columns
from doe.cell.traces.layout import Layout
from doe.cell.traces.many_files import read_many
from doe.cell.traces.pull_metrics import metrics_of
from doe.cell.traces.wanted import Wanted, told

LAYOUT = Layout(
    {"time": "time_s", "rpm": "rpm", "torque": "torque_nm", "power": "power_kw"},
    {"time": "s", "torque": "N m", "power": "kW"},
)
WANTED = Wanted((4000.0, 6800.0))
ROWS, ROUNDS = 2000, 5
DAY = """
[day]
date = {date}
start = 00:00:00
finish = 23:59:00
[cell]
pull_minutes = 4.0
[metric]
name = "mean power"
unit = "kW"
window_rpm = [4000, 6800]
[[factor]]
name = "oil"
baseline = "15W-50"
refit = true
[[factor.change]]
level = "0W-20"
minutes_on = 30
minutes_off = 30
[traces]
columns = {{ time = "time_s", rpm = "rpm", torque = "torque_nm", power = "power_kw" }}
units = {{ time = "s", torque = "N m", power = "kW" }}
"""


def make(folder: Path, count: int) -> list[Path]:
    """Invented sweeps with jitter and noise."""
    random, files = np.random.default_rng(1), []
    for number in range(count):
        t = np.arange(ROWS) / 100
        n = 3000 + 4000 * t / t[-1] + random.normal(0, 5, ROWS)
        torque = 520 - 0.04 * n + random.normal(0, 1, ROWS)
        table = np.column_stack([t, n, torque, torque * n * np.pi / 30000, 92 + t / 5])
        files.append(folder / f"{number}.csv")
        np.savetxt(
            files[-1], table, fmt="%.3f,%.1f,%.2f,%.3f,%.1f", header="time_s,rpm,torque_nm,power_kw,oil_c", comments=""
        )
    return files


def bare(files: list[Path]) -> None:
    for path in files:
        with path.open(newline="") as file:
            for _ in csv.reader(file):
                pass


def turns(works: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Least time of each [s of processor], the works taking turns."""
    best = dict.fromkeys(works, np.inf)
    for _ in range(ROUNDS):
        for name, work in works.items():
            began = time.process_time()
            work()
            best[name] = min(best[name], time.process_time() - began)
    return best


def record_ratio(folder: Path, exports: list[Path]) -> float:
    """`doe record --trace` by `doe record`, each in a process of its own, in turns."""
    folder.mkdir()
    (folder / "day.toml").write_text(DAY.format(date=time.strftime("%Y-%m-%d")))
    best = [np.inf, np.inf]
    for export in exports[:ROUNDS]:  # none can be logged twice
        for at, words in enumerate((["170.1"], ["--trace", str(export)])):
            began = time.perf_counter()
            subprocess.run(
                [sys.executable, "-m", "doe", "record", str(folder), *words], check=True, capture_output=True
            )
            best[at] = min(best[at], time.perf_counter() - began)
    return best[1] / best[0]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--traces", type=int, default=1000)
    count = parser.parse_args().traces
    with tempfile.TemporaryDirectory() as place:
        files = make(Path(place), count)
        cache = TraceCache(Path(place) / "cache")
        time.sleep(2.1)  # a file is trusted by its time once it is older than the clock's grain
        list(cache.read_each(files, LAYOUT))
        fresh = (TraceCache(Path(place) / f"fresh {number}") for number in count_up())
        works: dict[str, Callable[[], object]] = {
            "csv module, bare": lambda: bare(files),
            "read": lambda: sum(1 for _ in read_many(files, LAYOUT)),
            "read one by one": lambda: [read_columns(path, LAYOUT) and None for path in files],
            "first read, cached": lambda: sum(1 for _ in next(fresh).read_each(files, LAYOUT)),
            "second read": lambda: sum(1 for _ in cache.read_each(files, LAYOUT)),
            "read, sweep and metrics": lambda: [
                metrics_of(clean(columns, LAYOUT), WANTED, told(WANTED)) and None
                for columns in read_many(files, LAYOUT)
            ],
        }
        best = turns(works)
        for name, seconds in best.items():
            print(f"{name:<24} {1000 * seconds / count:7.3f} ms a trace")
        print(f"read by csv module      {best['read'] / best['csv module, bare']:7.2f}   bound 1.3")
        print(f"first by second read    {best['first read, cached'] / best['second read']:7.1f}   bound 10 or more")
        print(f"record --trace by record{record_ratio(Path(place) / 'day', files):7.2f}   bound 5")


if __name__ == "__main__":
    main()
