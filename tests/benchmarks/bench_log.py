"""Process time of `doe next` and `doe record`, as ratios to `python -c 'import numpy'` on one thread in the same run.

python tests/benchmarks/bench_log.py [--repeat 9] [--pulls 48 5000]

A day of 48 pulls of its plan, and one with 5,000 pulls. Process time (user and system) is what a command costs on a
machine that others use as well; the shortest of the repeats, the commands by turns. Goal: 2.8 and 5.5.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import subprocess
import sys
import tempfile
import uuid
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))

from day_files import day_file, factor

from doe.day.clock import lay_out
from doe.day.clocks.stamp import Stamp
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.log.chain import Head, digest
from doe.day.log.journal import scan_journal
from doe.day.log.lines import JOURNAL, line_of
from doe.day.log.planned.plan_writing import log_plan
from doe.day.log.writing import bring_up, note_end
from doe.day.records import Event, Stint
from doe.day.storage import append_synced, only_writer

if os.name == "nt":
    sys.exit("the process time of children is known on POSIX systems only")
import resource

DAY = day_file(factor("oil", "15W-50", "0W-20 30 20 - 2.0", refit=True), finish="20:00")


def process_seconds(words: list[str], cwd: Path) -> float:
    """User and system time of one child on one thread."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    threads = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONPYCACHEPREFIX": str(cwd / "pycache")}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *words], cwd=cwd, env={**kept, **threads}, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def day_of(folder: Path, pulls: int) -> None:
    """A day with a plan of eight sets of six, and so many pulls."""
    folder.mkdir()
    (folder / "day.toml").write_text(DAY, encoding="utf-8")
    day = read_day_file(folder)
    levels = (day.baseline, {"oil": "0W-20"})
    runs = lay_out(day, [Stint(levels[at % 2], 6) for at in range(8)])
    begin = dt.datetime(2026, 5, 16, 8, 4, tzinfo=dt.UTC)
    with only_writer(folder):
        log_plan(folder, day, PlanFile(tuple(runs), {"seed": 1}), rest=False)
        events = []
        for number in range(1, pulls + 1):
            run = runs[(number - 1) % len(runs)]
            time = (begin + dt.timedelta(minutes=4 * number if pulls < 200 else number / 10)).isoformat()
            row = {
                **{"pull": str(number), "run": str(run.run) if number <= len(runs) else "", "time": time},
                **{"install": str(run.install), **run.configuration, "mean power": f"{400 + number % 7 / 10:.1f}"},
                **{"count": "yes", "trace": "", "note": ""},
            }
            events.append(Event(0, "pull", str(uuid.uuid4()), time, row))
        head, lines = scan_journal(folder).head, []
        for event in events:
            utc = dt.datetime.fromisoformat(event.at).timestamp()
            clock = Stamp(utc, 0, "3fd4c8f2-6d0e-4f5c-9c39-0a4f5f1ad0c1", utc - begin.timestamp())
            lines.append(line_of(Head(head.n + 1, head.hash), [event], None, None, clock))
            head = Head(head.n + 1, digest(lines[-1]))
        append_synced(folder / JOURNAL, b"\n".join([*lines, b""]))
        bring_up(folder, day, events)
        note_end(folder, head)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=9)
    parser.add_argument("--pulls", type=int, nargs="+", default=[48, 5000])
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        cwd = Path(name)
        commands = {"python -c 'import numpy'": ["-c", "import numpy"]}
        for pulls in told.pulls:
            day_of(cwd / f"day{pulls}", pulls)
            for command in (["next"], ["record", "200.5"]):
                what = f"doe {command[0]}, {pulls} pulls"
                commands[what] = ["-m", "doe", command[0], f"day{pulls}", *command[1:]]
        times = {what: process_seconds(words, cwd) for what, words in commands.items()}
        for _ in range(told.repeat):
            for what, words in commands.items():
                times[what] = min(times[what], process_seconds(words, cwd))
    numpy = next(iter(times.values()))
    for what, seconds in times.items():
        print(f"{what:30}{1000 * seconds:8.0f} ms{seconds / numpy:9.2f}")


if __name__ == "__main__":
    main()
