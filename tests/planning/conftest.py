"""What the tests of this room share: days, and a check of the clock's rules that doesn't use `doe.day.clock`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from day_files import Break, day_file
from day_files import factor as day_factor

from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.planning.search import randomise
from doe.planning.search.searches import EVALUATIONS

DAYS = Path(__file__).parent / "days"


def day_text(
    *,
    minutes: int = 450,
    factors: str = "",
    noise: str = "pull_sd = 1.0\npull_df = 15\ninstall_sd = 0.5\ninstall_df = 5",
    breaks: Sequence[Break] = (("12:00", 30),),
    warm_up: float = 30.0,
    pull: float = 4.0,
    drift: str = "linear",
    start: int = 8 * 60,
) -> str:
    """An invented day, from 08:00, `minutes` long."""
    return day_file(
        factors or OIL + VACUUM,
        title="An invented day",
        start=_clock(start),
        finish=_clock(start + minutes),
        breaks=breaks,
        warm_up=warm_up,
        pull=pull,
        noise=noise,
        more=f'[analysis]\ndrift = "{drift}"',
    )


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def factor_text(name: str, *changes: str, refit: bool = False, alone: bool = False) -> str:
    """One [[factor]] whose baseline is called base; for its changes see `day_files.factor`."""
    return day_factor(name, "base", *changes, refit=refit, alone=alone)


OIL = factor_text("oil", "thin 20 20 1 2.0", refit=True)
VACUUM = factor_text("vacuum", "on 2 2 0 1.5")


@pytest.fixture(autouse=True)
def few_evaluations(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Make --effort quick quicker still, but where the search itself is measured; draw fewer orders for orders.txt.

    Half of what a plan takes went into the orders. tests/cli/day/test_plan.py draws all of them.
    """
    monkeypatch.setattr(randomise, "ORDERS", 200)
    monkeypatch.setattr(randomise, "_MOST_DRAWS", 2_000)
    if request.node.get_closest_marker("searches") is None:
        monkeypatch.setitem(EVALUATIONS, "quick", 1_000)


def pytest_configure(config: pytest.Config) -> None:
    """Register the mark of tests that measure the search."""
    config.addinivalue_line("markers", "searches: measures the search, at full effort")


@pytest.fixture
def make_day() -> Callable[..., DayFile]:
    """A function that makes an invented day; see `day_text`."""
    return lambda **given: parse_day(day_text(**given))


@pytest.fixture
def make_text() -> Callable[..., str]:
    """The text of an invented day; see `day_text`."""
    return day_text


@pytest.fixture
def factor() -> Callable[..., str]:
    """A function that writes one [[factor]]; see `factor_text`."""
    return factor_text


def own_days() -> list[str]:
    """Names of the days that the planner is measured on."""
    return sorted(path.stem for path in DAYS.glob("*.toml"))


@pytest.fixture
def own_day() -> Callable[[str], DayFile]:
    """A function that reads one of the days in tests/planning/days."""
    return lambda name: read_day_file(DAYS / f"{name}.toml")


@pytest.fixture
def faults() -> Callable[[DayFile, list[Run]], list[str]]:
    """A function that lists what breaks the clock's rules in a plan, written down a second time."""
    return clock_faults


def clock_faults(day: DayFile, runs: list[Run]) -> list[str]:
    """Replay the runs pull by pull: earliest times, settling pulls, installs, stints, one-way parts, finish."""
    found: list[str] = []
    pull, pauses = day.cell.pull_minutes, day.pauses
    minute, fitted, before, due = day.cell.warm_up_minutes, day.baseline, None, 0
    for number, run in enumerate(runs, start=1):
        if run.run != number:
            found.append(f"run {run.run} stands in place {number}")
        changed = [name for name in fitted if fitted[name] != run.configuration[name]]
        refitted = [name for name in changed if _factor(day, name).refit]
        work, needed = 0.0, 0
        for name in changed:
            ways = [_factor(day, name).change_of(level) for level in (fitted[name], run.configuration[name])]
            work += max(ways[0].minutes_off if ways[0] else 0, ways[1].minutes_on if ways[1] else 0)
            needed = max([needed, *(way.settling_pulls for way in ways if way)])
            if ways[0] and ways[0].one_way:
                found.append(f"run {run.run}: {name} can't be taken back")
        if before is not None and run.install != before.install + bool(refitted):
            again = _only_refit(day, run.configuration)
            if run.install == before.install + 1 and again and not refitted:
                work, needed = work + again[0], max(needed, again[1])
            else:
                found.append(f"run {run.run}: install {before.install} -> {run.install}")
        new = bool(changed) or (before is not None and run.install != before.install)
        if before is not None and run.stint != before.stint + new:
            found.append(f"run {run.run}: stint {before.stint} -> {run.stint}")
        if new:
            due = needed
        if due and run.count == "yes":
            found.append(f"run {run.run} counts, but {due} settling pulls are due")
        due = max(0, due - 1)
        minute = _pull_end(_work_end(minute, work, pauses), pull, pauses)
        if run.minute < minute - 1e-6:
            found.append(f"run {run.run} ends at {run.minute}, not before {minute}")
        minute = max(minute, run.minute)
        if run.minute > day.length_minutes + 1e-6:
            found.append(f"run {run.run} ends behind the finish")
        fitted, before = run.configuration, run
    return found


def _factor(day: DayFile, name: str):  # type: ignore[no-untyped-def]
    return next(factor for factor in day.factor if factor.name == name)


def _only_refit(day: DayFile, configuration: dict[str, str]) -> tuple[float, int] | None:
    """What fitting the same part of the only refit factor again takes."""
    if len(day.refit_factors) != 1:
        return None
    factor = day.refit_factors[0]
    change = factor.change_of(configuration[factor.name])
    ways = [change] if change else list(factor.change)
    return min(min(way.minutes_on, way.minutes_off) for way in ways), max(way.settling_pulls for way in ways)


def _work_end(minute: float, work: float, pauses: tuple[tuple[float, float], ...]) -> float:
    """Step through the work in hundredths of a minute, standing still in breaks."""
    for begin, end in pauses:
        if begin <= minute < end:
            minute = end
        elif minute < begin < minute + work - 1e-9:
            minute, work = end, work - (begin - minute)
    return minute + work


def _pull_end(minute: float, pull: float, pauses: tuple[tuple[float, float], ...]) -> float:
    for begin, end in pauses:
        if minute < end - 1e-9 and minute + pull > begin + 1e-9:
            minute = end
    return minute + pull
