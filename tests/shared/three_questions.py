"""Invented days of three questions, of each kind that people make, laid out without a search: nothing was measured."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from day_files import day_file, factor

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.files.seal import seal_entries
from doe.day.log.planned.plan_writing import log_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.records import Stint
from doe.day.storage import only_writer

NAMES = ("oil", "vacuum", "timing")
PAST, FUTURE = "2020-05-16", "2099-05-16"
KNOWN = "pull_sd = 0.5\npull_df = 12"
STUDY = f"{KNOWN}\ninstall_sd = 0.3\ninstall_df = 5"
SETS = [line.split() for line in ("thick off 20", "thin off 20", "thick on 20", "thin on 24", "thick off 24",
                                  "thin off 24", "thick on 24", "thin on 20")]  # fmt: skip
ZONE = dt.timezone(dt.timedelta(hours=2))


def make(
    folder: Path,
    *,
    refit: bool = False,
    planned: bool = True,
    each: int = 2,
    pulls: int | None = None,
    sets: Sequence[Sequence[str]] = SETS,
    gains: Mapping[str, float] | None = None,
    refits: float = 0.2,
    wander: float = 0.0,
    level: float = 200.0,
    seed: int = 4,
    lower: bool = False,
    **more: str,
) -> Path:
    """A day folder with its plan and the first `pulls` of its pulls; `more` is for `day_file`."""
    folder.mkdir(parents=True)
    oil = factor("oil", "thick", f"thin {10 if refit else 5} {10 if refit else 5} 0 1.0", refit=refit)
    about = {"date": PAST, "finish": "17:00", "noise": KNOWN} | more
    others = (factor("vacuum", "off", "on 2 2 0 0.8"), factor("timing", "20", "24 2 2 0 1.0"))
    text = day_file(oil, *others, **about)
    text = text.replace("[metric]", '[metric]\nbetter = "lower"') if lower else text
    (folder / "day.toml").write_text(text, encoding="utf-8")
    day = read_day_file(folder)
    runs = lay_out(day, [Stint(dict(zip(NAMES, one, strict=True)), each) for one in sets])
    if planned:
        with only_writer(folder):
            log_plan(folder, day, PlanFile(tuple(runs), {**seal_entries(day), "seed": 5}), rest=False)
    gains = {"thin": 2.5, "on": 0.1, "24": 1.0} | (gains or {})
    random = np.random.default_rng(seed)
    fitted, start = refits * random.standard_normal(60), dt.datetime.combine(day.day.date, day.day.start, ZONE)
    for run in runs[:pulls]:
        level += wander * random.standard_normal()
        gain = sum(gains.get(on, 0.0) for on in run.configuration.values())
        value = round(float(level + gain + fitted[run.install] + 0.5 * random.standard_normal()), 2)
        moment = start + dt.timedelta(minutes=run.minute)
        parts = {"run": run.run} if planned else {"settings": dict(run.configuration)}
        record_pulls(folder, [Entry(value=value, time=moment, **parts)], now=moment)
    return folder


#: kind of day -> how it is made
KINDS: Mapping[str, Mapping[str, object]] = {
    "quick": {},
    "refitted, with a study": {"refit": True, "noise": STUDY},
    "refitted, without a study": {"refit": True, "noise": ""},
    "refit scatter above the study's": {"refit": True, "noise": STUDY, "refits": 1.5, "gains": {"thin": -2.5}},
    "wandering": {"each": 4, "wander": 0.8},
    "small gains": {"refit": True, "noise": STUDY, "gains": {"thin": 0.5, "on": 0.4, "24": 0.6}},
    "percent": {"scale": "percent", "noise": "pull_sd = 0.5"},
    "less is better": {"lower": True},
    "two questions lost": {"sets": SETS[:2] * 2},
    "unfinished": {"pulls": 9, "date": FUTURE},
}  # fmt: skip
