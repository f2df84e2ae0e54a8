"""An invented archive: thousands of day folders as ``doe record`` leaves them, written fast. No real cell or engine.

One oil is tried against another in 8 fittings of 5 pulls a day, in two cells, with two engines of 200 and 410 hp.
"""

from __future__ import annotations

import datetime as dt
import json
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

FITTINGS, PULLS = 8, 5
FIRST_DAY = dt.date(2024, 1, 8)
DAY_TOML = """[day]
title = "Invented day {number}"
date = {date}
start = 08:30:00
finish = 17:30:00

[cell]
name = "{cell}"
warm_up_minutes = 30
pull_minutes = 4.0
correction = "SAE J1349"

[metric]
name = "mean power"
unit = "{unit}"
window_rpm = [4000, 6800]
scale = "{scale}"

[noise]
pull_sd = 0.6
pull_df = 14
install_sd = 0.3
install_df = 4{vouched}
source = "invented"

[[factor]]
name = "oil"
baseline = "15W-50"
refit = true
[[factor.change]]
level = "0W-20"
minutes_on = 20
minutes_off = 20
smallest_gain = 1.0
"""


@dataclass(frozen=True)
class Truth:
    """What is true in the invented cells."""

    pull_sd: float = 0.55
    install_sd: float = 0.3
    day_sd: float = 0.4
    between_df: float = np.inf  #: of the days' pull variances: scaled inverse chi-square
    creep_a_month: float = 0.0
    drift_an_hour: float = -0.1
    gain: float = 1.5
    levels: tuple[float, ...] = (410.0, 205.0)  #: by cell
    days_a_month: float = 10.0
    vouched: bool = False  #: day.toml says that nothing wanders: judged without the insurance, in a third of the time


def make_archive(
    folder: Path, days: int, *, seed: int = 1, truth: Truth = Truth(), plans: bool = True, unit: str = "hp",
    scale: str = "absolute",
) -> list[Path]:  # fmt: skip
    """Write the folders FOLDER/YEAR/day-NNNNN, and return them."""
    rng = np.random.default_rng(seed)
    return [_make_day(folder, number, rng, truth, plans, unit, scale) for number in range(days)]


def _make_day(
    folder: Path, number: int, rng: np.random.Generator, truth: Truth, plans: bool, unit: str, scale: str
) -> Path:
    months = number / truth.days_a_month
    date = FIRST_DAY + dt.timedelta(days=round(months * 365.25 / 12))
    cell = number % len(truth.levels)
    made = folder / str(date.year) / f"day-{number:05d}"
    made.mkdir(parents=True)
    toml = DAY_TOML.format(number=number, date=date, cell=("north", "south")[cell], unit=unit, scale=scale,
                           vouched="\nwander_sd = 0" * truth.vouched)  # fmt: skip
    (made / "day.toml").write_text(toml, encoding="utf-8")
    level = truth.levels[cell] + truth.creep_a_month * months + truth.day_sd * rng.standard_normal()
    _write_pulls(made, date, _readings(rng, truth, level), plans)
    return made


def _readings(rng: np.random.Generator, truth: Truth, level: float) -> np.ndarray:
    """One day of readings in order, rounded as a dyno shows them."""
    spread = truth.pull_sd
    if np.isfinite(truth.between_df):
        spread *= np.sqrt(truth.between_df / rng.chisquare(truth.between_df))
    fitting = np.repeat(np.arange(FITTINGS), PULLS)
    values = level + truth.drift_an_hour * (_minutes() - 30) / 60 + truth.gain * (fitting % 2)
    values += truth.install_sd * rng.standard_normal(FITTINGS)[fitting] + spread * rng.standard_normal(len(fitting))
    return values.round(2)


def _minutes() -> np.ndarray:
    """End of each pull, from the day's start."""
    pull = np.arange(FITTINGS * PULLS)
    return 34 + 4.0 * pull + 20.0 * (pull // PULLS)


def _write_pulls(folder: Path, date: dt.date, values: np.ndarray, plans: bool) -> None:
    start = dt.datetime.combine(date, dt.time(8, 30), dt.UTC)
    rows, plan, runs = [], [], []
    for i, (minute, value) in enumerate(zip(_minutes().tolist(), values.tolist(), strict=True)):
        install, oil = i // PULLS + 1, ("15W-50", "0W-20")[i // PULLS % 2]
        end = start + dt.timedelta(minutes=minute)
        rows.append(
            {
                "pull": str(i + 1), "run": str(i + 1), "time": end.isoformat(), "install": str(install), "oil": oil,
                "mean power": f"{value:.2f}", "count": "yes", "trace": "", "note": "",
            }
        )  # fmt: skip
        do = f"fit oil {oil}" if i and i % PULLS == 0 else ""
        clock = (end - dt.timedelta(minutes=4)).strftime("%H:%M")
        plan.append(f"{i + 1},{clock},{minute:g},{install},{install},{do},{oil},yes\n")
        runs.append(
            {"run": i + 1, "clock": clock, "minute": minute, "install": install, "stint": install, "do": do,
             "configuration": {"oil": oil}, "count": "yes"}
        )  # fmt: skip
    table = [",".join(rows[0]), *(",".join(row.values()) for row in rows), ""]
    (folder / "pulls.csv").write_text("\n".join(table), encoding="utf-8")
    if plans:
        (folder / "plan.csv").write_text("run,clock,minute,install,stint,do,oil,count\n" + "".join(plan))
        (folder / "plan.json").write_text(json.dumps({"format": 1, "seed": 1, "runs": runs}, indent=1))
        (folder / "pulls.journal").write_bytes(b"".join(_event(n, row) for n, row in enumerate(rows, start=1)))


def _event(number: int, row: dict[str, str]) -> bytes:
    event = {"v": 1, "n": number, "event": "pull", "key": f"invented-{number}", "at": row["time"], "row": row}
    text = json.dumps(event, ensure_ascii=False, separators=(",", ":")).encode()
    return b"%08x\t%s\n" % (zlib.crc32(text), text)
