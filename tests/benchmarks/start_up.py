"""Process time of the commands, as ratios to an empty Python and to one that imports numpy, measured in the same run.

python tests/benchmarks/start_up.py [--repeat 15]

Process time (user and system) is what a command costs on a machine that others use as well; the shortest of the
repeats, the commands by turns.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

if os.name == "nt":
    sys.exit("the process time of children is known on POSIX systems only")
import resource

DOE = ["-m", "doe"]
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
        commands = {
            "python -c pass": ["-c", "pass"],
            "python -c 'import numpy'": ["-c", "import numpy"],
            "doe --help": [*DOE, "--help"],
            "doe next": [*DOE, "next", "day"],
            "doe record": [*DOE, "record", "day", "200.5"],
            "doe judge, demo day": [*DOE, "judge", "demo"],
            "doe judge, 24 pulls": [*DOE, "judge", *TABLE],
        }
        times = {what: min(process_seconds(words, cwd) for _ in range(2)) for what, words in commands.items()}
        for _ in range(repeat):
            for what, words in commands.items():
                times[what] = min(times[what], process_seconds(words, cwd))
    empty, numpy = list(times.values())[:2]
    print(f"{'':26}{'ms':>8}{'/ pass':>9}{'/ numpy':>9}")
    for what, seconds in times.items():
        print(f"{what:26}{1000 * seconds:8.0f}{seconds / empty:9.1f}{seconds / numpy:9.2f}")


if __name__ == "__main__":
    main()
