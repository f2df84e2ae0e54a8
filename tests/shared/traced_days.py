"""A made day whose pulls have traces: oil changed twice, vacuum switched inside the fittings; all invented."""

from __future__ import annotations

from pathlib import Path

from day_files import day_file, factor

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.files.seal import seal_of
from doe.day.records import Stint
from doe.simulation.logged_day import log_day
from doe.simulation.simulated_cell import CellSizes

TRACES = """
[traces]
columns = { time = "time_s", rpm = "rpm", torque = "torque_nm" }
units = { time = "s", torque = "N m" }
"""
CALM = CellSizes(bad_pull_chance=0.0, wander_sd=0.0)


def traced_day(
    folder: Path,
    *,
    date: str = "2026-05-16",
    gains: tuple[float, float] = (4.0, 3.0),
    noise: str = "",
) -> Path:
    """A day folder with a plan that is done, of eight sets of two pulls; true gains of oil and vacuum in hp."""
    folder.mkdir(parents=True, exist_ok=True)
    text = day_file(
        factor("oil", "15W-50", "0W-20 12 12 0 1.0", refit=True),
        factor("crankcase vacuum", "off", "on 2 2 0 1.0"),
        date=date,
        window_rpm=(4000, 6800),
        noise=noise,
        more=TRACES,
    )
    (folder / "day.toml").write_text(text, encoding="utf-8")
    day = read_day_file(folder)
    sets = [
        Stint({"oil": fitted, "crankcase vacuum": switched}, 2)
        for fitted in ("15W-50", "0W-20", "15W-50", "0W-20")
        for switched in ("off", "on")
    ]
    write_plan(folder, lay_out(day, sets), {"seal": seal_of(day), "seed": 1, "questions": [], "cautions": []})
    log_day(folder, {("oil", "0W-20"): gains[0], ("crankcase vacuum", "on"): gains[1]}, CALM, seed=1)
    return folder
