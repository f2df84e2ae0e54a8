"""Day folders of one oil against another: planned, and pulled as far as a test wants. All invented."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from day_files import day_file, factor

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.files.seal import seal_of
from doe.day.records import Stint

DAY = day_file(
    factor("oil", "thick", "thin 20 20 - 1.0", refit=True),
    date="{date}",
    warm_up=20,
    noise="pull_sd = 0.5\npull_df = 12\ninstall_sd = 0.3\ninstall_df = 5",
    more='[log]\ncolumns = ["peak power"]',
)
FUTURE, PAST = "2099-05-16", "2020-05-16"


def make_day(
    folder: Path, pulls: int | None = None, date: str = FUTURE, seed: int = 1, start="thick", gain=2.0
) -> Path:
    """A planned day with the first `pulls` of its pulls logged by hand."""
    folder.mkdir(parents=True)
    (folder / "day.toml").write_text(DAY.format(date=date))
    day = read_day_file(folder)
    other = {"thick": "thin", "thin": "thick"}
    levels = [start, other[start]] * 4
    runs = lay_out(day, [Stint({"oil": level}, 3) for level in levels])
    write_plan(folder, runs, {"seal": seal_of(day)})
    rng = np.random.default_rng(seed)
    shift = 0.3 * rng.standard_normal(10)
    with (folder / "pulls.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["pull", "run", "time", "install", "oil", "mean power", "peak power", "count", "trace", "note"])
        for run in runs[:pulls]:
            on = run.configuration["oil"] == "thin"
            value = 200 + gain * on + shift[run.install] + 0.5 * rng.standard_normal()
            hour, minute = divmod(480 + int(run.minute), 60)
            writer.writerow([run.run, run.run, f"{hour:02d}:{minute:02d}", run.install, run.configuration["oil"],
                             f"{value:.3f}", f"{value * 1.1:.3f}", run.count, "", ""])  # fmt: skip
    return folder


def add_pulls(folder: Path, values: Sequence[float]) -> None:
    """Further pulls beyond the plan, the oils in turn, each in a fitting of its own."""
    rows = list(csv.reader((folder / "pulls.csv").open(newline="")))
    number, install = int(rows[-1][0]), int(rows[-1][3])
    with (folder / "pulls.csv").open("a", newline="") as file:
        for place, value in enumerate(values, start=1):
            oil = ("thick", "thin")[place % 2]
            csv.writer(file).writerow([number + place, "", "", install + place, oil, value, value, "yes", "", ""])
