"""Speed and memory of an archive of invented days, each figure beside an alternative measured in the same run.

OMP_NUM_THREADS=1 python tests/benchmarks/bench_archive.py [DAYS]        (10000 days need 1 GB of disk and 10 minutes)

Each measurement is a process of its own, so that its peak memory is its own.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Iterable
from pathlib import Path

from loopback_cluster import SCHEDULER, WORKER
from made_archive import Truth, make_archive

WORKERS = 2
SAMPLE = 200  # days for the alternatives


def noise(folder: Path, **who: object) -> object:
    """What ``doe noise`` does."""
    from doe.analysis.archive.noise_of_archive import noise_of_archive

    return len(noise_of_archive([folder], **who).to_dict()["metrics"])


def judge(folder: Path, **who: object) -> object:
    """What ``doe judge`` does, the rows thrown away."""
    from doe.analysis.archive.verdicts_of_archive import judge_archive

    return sum(len(day.rows) for day in judge_archive([folder], **who))


def formulas(folder: Path) -> object:
    """The pull SD of each day by pandas and a statsmodels formula; no install SD, no checks of the files."""
    import pandas as pd
    import statsmodels.formula.api as smf

    warnings.simplefilter("ignore")
    found = []
    for day in days_of(folder):
        table = pd.read_csv(day / "pulls.csv").rename(columns={"mean power": "y"})
        table["t"] = pd.to_datetime(table["time"]).astype("int64") / 3.6e18
        found.append(smf.ols("y ~ oil + t + C(install)", table).fit().mse_resid)
    return len(found)


def reading(folder: Path) -> object:
    """The files alone: TOML through the model, and the three tables through csv and json."""
    from doe.day.files.dayfile import read_day_file

    for day in days_of(folder):
        read_day_file(day)
        for name in ("pulls.csv", "plan.csv"):
            list(csv.reader(io.StringIO((day / name).read_text(encoding="utf-8"))))
        json.loads((day / "plan.json").read_bytes())
        [json.loads(line.partition(b"\t")[2]) for line in (day / "pulls.journal").read_bytes().splitlines()]
    return folder


def days_of(folder: Path) -> Iterable[Path]:
    """A sample of days."""
    return sorted(folder.glob("*/day-*"))[:SAMPLE]


def spoil_a_fifth(folder: Path) -> None:
    """Void a pull and log another again on every fifth day, as a tester does."""
    from doe.day.files.dayfile import read_day_file
    from doe.day.pilot.entries import Entry
    from doe.day.pilot.recording import record_pulls
    from doe.day.pilot.voiding import void_pull

    for day in sorted(folder.glob("*/day-*"))[::5]:
        now = read_day_file(day).begin.replace(tzinfo=dt.UTC) + dt.timedelta(hours=7)
        void_pull(day, 7, "fan belt slipped", now=now)
        with (day / "pulls.csv").open(encoding="utf-8", newline="") as file:
            before = float(list(csv.DictReader(file))[11]["mean power"])
        record_pulls(day, [Entry(value=round(before + 0.1, 2), redo=12)], now=now)


WORK: dict[str, Callable[..., object]] = {"noise": noise, "judge": judge, "formulas": formulas, "reading": reading}


def measure(what: str, folder: Path, **who: object) -> dict[str, float]:
    """Seconds and peak memory [MB] of one work in a process of its own, its children's included."""
    words = [sys.executable, __file__, "--measure", what, str(folder), json.dumps(who)]
    return dict(json.loads(subprocess.run(words, stdout=subprocess.PIPE, text=True, check=True).stdout))


def measured(what: str, folder: Path, who: dict[str, object]) -> dict[str, float]:
    """Measure here; imports are not counted."""
    import statsmodels.formula.api  # noqa: F401

    import doe.analysis.archive.noise_of_archive
    import doe.analysis.archive.verdicts_of_archive  # noqa: F401

    began, used = time.perf_counter(), cpu_seconds()
    WORK[what](folder, **who)
    seconds = time.perf_counter() - began
    if "jobs" in who:
        from joblib.externals.loky import get_reusable_executor

        get_reusable_executor().shutdown(wait=True)  # a child's memory is known when it has ended
    used = cpu_seconds() - used
    own, children = (resource.getrusage(x).ru_maxrss for x in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return {"seconds": seconds, "cpu": used, "mb": own / 1024, "child_mb": children / 1024}


def cpu_seconds() -> float:
    """Of this process and its ended children."""
    return sum(os.times()[:4])


def process_of(script: str, *words: str) -> subprocess.Popen[str]:
    """Start a script that says one line when it is ready."""
    return subprocess.Popen(
        [sys.executable, "-c", script, *words], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )


def with_cluster(folder: Path, what: str) -> dict[str, float]:
    """Measure on a loopback cluster of as many workers."""
    started = []
    try:
        started.append(process_of(SCHEDULER))
        address = started[0].stdout.readline().strip()  # type: ignore[union-attr]
        for _ in range(WORKERS):
            started.append(process_of(WORKER, address))
            started[-1].stdout.readline()  # type: ignore[union-attr]
        return measure(what, folder, cluster=address)
    finally:
        for process in reversed(started):
            process.kill()


def row(what: str, days: int, found: dict[str, float], beside: str = "") -> None:
    """Print one row of the table."""
    wall, cpu = (1e3 * found[key] / days for key in ("seconds", "cpu"))
    memory = f"{found['mb']:.0f} | {found['child_mb']:.0f}"
    print(f"| {what} | {days} | {found['seconds']:.1f} | {wall:.2f} | {cpu:.2f} | {memory} | {beside} |", flush=True)


def main(days: int) -> None:
    """Print the table."""
    print("| work | days of 40 pulls | s | ms a day | CPU ms a day | peak MB | of the largest child | beside |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory() as place:
        small, large = Path(place) / "small", Path(place) / "large"
        make_archive(small, days // 10, truth=Truth(between_df=30, days_a_month=days / 240))
        make_archive(large, days, truth=Truth(between_df=30, days_a_month=days / 24))
        sample = min(SAMPLE, days // 10)
        files, theirs = measure("reading", small), measure("formulas", small)
        row("reading the files alone (TOML, model, csv, json)", sample, files)
        row("pandas.read_csv and a statsmodels formula", sample, theirs)
        looked_at = Path(place) / "looked at"
        shutil.copytree(small, looked_at)
        spoil_a_fifth(looked_at)
        found = measure("noise", looked_at)
        beside = f"{found['cpu'] / (days // 10) / (files['cpu'] / sample):.1f} times the CPU of reading"
        row("noise, one process, a fifth of the days with a void and a pull logged again", days // 10, found, beside)
        for what in ("noise", "judge"):
            few, one = measure(what, small), measure(what, large)
            two, far = measure(what, large, jobs=WORKERS), with_cluster(large, what)
            each = one["cpu"] / days
            row(f"{what}, one process", days // 10, few)
            row(
                f"{what}, one process", days, one,
                f"{each / (files['cpu'] / sample):.1f} times the CPU of reading; formulas take "
                f"{theirs['cpu'] / sample / each:.1f} times ours",
            )  # fmt: skip
            row(f"{what}, --jobs {WORKERS}", days, two, f"{one['seconds'] / two['seconds']:.2f} times as fast as one")
            row(
                f"{what}, loopback cluster of {WORKERS}", days, far,
                f"{far['seconds'] / two['seconds']:.2f} times --jobs {WORKERS}",
            )  # fmt: skip


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    if sys.argv[1:2] == ["--measure"]:
        print(json.dumps(measured(sys.argv[2], Path(sys.argv[3]), json.loads(sys.argv[4]))))
    else:
        main(int(sys.argv[1]) if sys.argv[1:] else 10_000)
