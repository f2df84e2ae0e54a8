"""The demo day: an invented day in a simulated cell, planned, made, logged and judged like a real one."""

from __future__ import annotations

import shutil
import tomllib
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from doe.analysis.judging.judgement import Judgement
from doe.day.log.chain import HEAD
from doe.day.pilot.traced.exports import KEPT
from doe.day.schema import DayFile
from doe.day.storage import LOCK
from doe.errors import InputError
from doe.planning.drawn.plan import plan_day
from doe.simulation.before_and_after import worthless_gains
from doe.simulation.logged_day import is_sweep, log_day
from doe.simulation.schedule import TrueGains
from doe.simulation.simulated_cell import CellSizes
from doe.words.day.pull_words import quoted
from doe.words.demo_words import demo_text
from doe.words.result import Answer

# Chosen, so that the day tells its story whole: two real gains, a real loss, a part that makes no difference that
# matters, one question left open. tests/benchmarks/demo_seeds.py counts how often other seeds tell the same.
SEED = 2
TESTS = 20_000  # one before, one after: SE of the share shown 0.3 points
SHOWN_HP = 1.0

TRUE_GAINS: TrueGains = {
    ("oil", "5W-30"): 1.75,
    ("crankcase vacuum", "on"): 2.0,
    ("intake trumpets", "long"): -1.8,
    ("spark plugs", "fine wire"): 0.1,
    ("fuel", "blend"): 0.45,
}

# What the program itself writes into a day folder; anything else in it is somebody's own.
_OURS = frozenset(
    {"day.toml", "plan.csv", "plan.json", "orders.txt", "pulls.csv", "readings.csv", "pulls.journal", "voids.csv",
     "looks.csv", "report.html", "report-customer.html", "sheet.html", "sheet.xlsx", KEPT, LOCK, HEAD}
)  # fmt: skip


@dataclass(frozen=True, slots=True, repr=False)
class Demo(Answer):
    """What the demo day came to."""

    folder: Path
    report: Path
    seed: int
    judgement: Judgement
    worthless_shows: float  #: share of tests with one pull before and after in which a worthless change shows 1 hp

    def to_dict(self) -> dict[str, Any]:
        """Return everything at full precision."""
        return {
            "folder": str(self.folder),
            "report": str(self.report),
            "seed": self.seed,
            "true_gains": [
                {"factor": factor, "level": level, "true_gain": gain} for (factor, level), gain in TRUE_GAINS.items()
            ],
            "before_and_after": {"tests": TESTS, "shown_hp": SHOWN_HP, "share": self.worthless_shows},
            "judgement": self.judgement.to_dict(),
        }

    def to_text(self) -> str:
        """Return the verdicts, the truth, the punch line, and where everything is."""
        judged = replace(self.judgement, curves=None).to_text()  # the page shows the curves
        return demo_text(
            judged, true_gains=TRUE_GAINS, shown_hp=SHOWN_HP, shows=self.worthless_shows, tests=TESTS,
            seed=self.seed, story_seed=SEED, report=str(self.report), folder=str(self.folder / "_").removesuffix("_"),
        )  # fmt: skip


def make(folder: Path, seed: int) -> None:
    """Write a whole demo day: start it, plan it, make its pulls in the simulated cell.

    Raises
    ------
    InputError
        The folder holds something that the demo did not make; nothing is touched.
    """
    start(folder)
    plan_day(folder, seed=seed).save(folder)
    log_day(folder, TRUE_GAINS, CellSizes(), seed)


def start(folder: Path) -> None:
    """Make an empty demo day of a folder: a new one, or one that an earlier demo made.

    Raises
    ------
    InputError
        The folder holds something that the demo did not make; nothing is touched.
    """
    if folder.exists():
        _refuse_what_is_not_ours(folder)
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    (folder / "day.toml").write_text(day_text(), encoding="utf-8")


def day_text() -> str:
    """Return the demo's day.toml."""
    return resources.files("doe.simulation").joinpath("demo_day.toml").read_text(encoding="utf-8")


def worthless_share(seed: int) -> float:
    """Return how often, with one pull before and one after, a worthless change shows `SHOWN_HP` or more."""
    day = DayFile.model_validate(tomllib.loads(day_text()))
    gains = worthless_gains(day, CellSizes(), np.random.default_rng(seed), TESTS)
    return float(np.mean(np.abs(gains) >= SHOWN_HP))


def _refuse_what_is_not_ours(folder: Path) -> None:
    if not folder.is_dir():
        raise InputError(f"{folder}: is a file; name a folder for the demo day")
    names = {path.name for path in folder.iterdir()}
    day_file = folder / "day.toml"
    ours = not names or (day_file.is_file() and day_file.read_text(encoding="utf-8") == day_text())
    traces = {path.relative_to(folder).as_posix() for path in (folder / KEPT).glob("*") if not is_sweep(path)}
    if not ours or names - _OURS or traces:
        strange = ", ".join(sorted((names - _OURS) | traces)[:3]) or "another day.toml"
        other = quoted(str(folder.with_name(f"{folder.resolve().name}-demo")))
        raise InputError(
            f"{folder}: holds {strange}, which the demo did not make; name another folder: doe demo {other}"
        )
