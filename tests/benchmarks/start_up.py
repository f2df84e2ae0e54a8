"""Process time of the commands, as ratios to an empty Python and to those that import numpy or pyplot, in the same run.

python tests/benchmarks/start_up.py [--repeat 15]

Process time (user and system) is what a command costs on a machine that others use as well; the shortest of the
repeats, the commands by turns. Reports are held to matplotlib.pyplot: at most 6 times its import with traces, 5.4
times without; they are repeated a fifth as often. The demo day has some 40 pulls with traces, that of plans_demo as
many without.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

if os.name == "nt":
    sys.exit("the process time of children is known on POSIX systems only")
import resource

DOE = ["-m", "doe"]
WITHOUT_TRACES = Path(__file__).parents[2] / "plans_demo" / "oil-and-vacuum"
PYPLOT = "python -c 'import matplotlib.pyplot'"
TABLE = ["table.csv", "--value", "power", "--change", "oil", "--baseline", "a", "--install", "fit"]


def write_table(path: Path) -> None:
    """24 pulls in 6 fittings without times, so without any wander."""
    rows = [
        f"{200 + fit % 2 + 0.1 * (7 * (4 * fit + k) % 11)},{'ab'[fit % 2]},{fit}" for fit in range(6) for k in range(4)
    ]
    path.write_text("\n".join(["power,oil,fit", *rows]))


def process_seconds(words: list[str], cwd: Path) -> float:
    """User and system time of one child."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *words], cwd=cwd, env=environment(cwd), check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def environment(cwd: Path) -> dict[str, str]:
    """Compiled modules are kept, as on the machine of a user, but not beside the sources."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**kept, "PYTHONPYCACHEPREFIX": str(cwd / "pycache")}


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=15)
    repeat = parser.parse_args().repeat
    with tempfile.TemporaryDirectory() as name:
        cwd = Path(name)
        write_table(cwd / "table.csv")
        for words in (
            ["demo", "demo"],
            ["new", "day"],
            ["plan", "day", "--effort", "quick"],
            ["record", "day", "200", "201"],
        ):
            process_seconds([*DOE, *words], cwd)
        shutil.copytree(WITHOUT_TRACES, cwd / "plain")
        commands = {
            "python -c pass": ["-c", "pass"],
            "python -c 'import numpy'": ["-c", "import numpy"],
            "doe --help": [*DOE, "--help"],
            "doe next": [*DOE, "next", "day"],
            "doe record": [*DOE, "record", "day", "200.5"],
            "doe judge, demo day": [*DOE, "judge", "demo"],
            "doe judge, 24 pulls": [*DOE, "judge", *TABLE],
            PYPLOT: ["-c", "import matplotlib.pyplot"],
            "doe report, with traces": [*DOE, "report", "demo"],
            "doe report, without": [*DOE, "report", "plain"],
        }
        times = {what: min(process_seconds(words, cwd) for _ in range(2)) for what, words in commands.items()}
        for turn in range(repeat):
            for what, words in commands.items():
                if turn % 5 == 0 or "report" not in what:
                    times[what] = min(times[what], process_seconds(words, cwd))
        sizes = {f"doe report, {what}": (cwd / day / "report.html").stat().st_size
                 for what, day in (("with traces", "demo"), ("without", "plain"))}  # fmt: skip
    empty, numpy = list(times.values())[:2]
    print(f"{'':38}{'ms':>8}{'/ pass':>9}{'/ numpy':>9}{'/ pyplot':>9}")
    for what, seconds in times.items():
        ratios = f"{seconds / empty:9.1f}{seconds / numpy:9.2f}{seconds / times[PYPLOT]:9.2f}"
        print(f"{what:38}{1000 * seconds:8.0f}{ratios}{f'{sizes[what] / 1e6:9.2f} MB' if what in sizes else ''}")


if __name__ == "__main__":
    main()
