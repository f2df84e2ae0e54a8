"""A day that goes on with an earlier one: both are judged together, so the plan counts what was made there."""

from __future__ import annotations

from pathlib import Path

from doe.day.files.dayfile import read_day_file
from doe.day.fittings import fittings_of
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.begun_day import BegunDay, begun_day
from doe.planning.arrays.history import History, Made, history_of


def earlier_day(day: DayFile, folder: Path) -> tuple[History, tuple[str, ...]]:
    """What was made on an earlier day (its plan, while it has no pulls), and what the tester should know of it.

    Parameters
    ----------
    day : DayFile
        The day that is planned.
    folder : Path
        Of the earlier day.

    Raises
    ------
    InputError
        The earlier day has other parts, or neither pulls nor a plan.
    """
    earlier = begun_day(folder, read_day_file(folder))
    _refuse_other_parts(day, earlier.day, folder)
    made, last = _made(earlier)
    if not made:
        raise InputError(f"{folder}: neither pulls nor a plan; --after needs a day with either")
    ended = earlier.standing.fitted if earlier.standing.made else earlier.plan.runs[-1].configuration  # type: ignore[union-attr]
    off = [factor for factor in day.factor if ended[factor.name] != factor.baseline]
    numbers = [number + (factor in off) for number, factor in zip(last, day.refit_factors, strict=True)]
    notes = [f"the promise is for both days judged together: doe judge {folder} and this one"]
    if not earlier.standing.made:
        notes.append(f"{folder} has no pulls yet: its plan is counted as if it had been made")
    if off:
        parts = " and ".join(f"{factor.name} {factor.baseline}" for factor in off)
        notes.append(f"{folder} does not end in the baseline: fit {parts} before this day begins")
    return history_of(day, made, numbers, today=1), tuple(notes)


def _made(earlier: BegunDay) -> tuple[list[Made], list[int]]:
    """Counted pulls and the last fittings, of the log or else of the plan."""
    if earlier.standing.made:
        return earlier.made(), earlier.fitted_now()
    runs = earlier.plan.runs if earlier.plan else ()
    fittings = list(fittings_of(earlier.day, runs).values())
    half = earlier.day.cell.pull_minutes / 2
    made = [
        Made(run.minute - half, run.configuration, tuple(own[place] for own in fittings))
        for place, run in enumerate(runs)
        if run.count == "yes"
    ]
    return made, [own[-1] for own in fittings if own]


def _refuse_other_parts(day: DayFile, earlier: DayFile, folder: Path) -> None:
    """One campaign has one set of parts.

    Raises
    ------
    InputError
        The parts differ.
    """
    ours = [(factor.name, factor.refit, factor.levels) for factor in day.factor]
    theirs = [(factor.name, factor.refit, factor.levels) for factor in earlier.factor]
    if ours != theirs:
        raise InputError(
            f"{folder}/day.toml: its parts and levels are not those of this day; a campaign has one set of them"
        )
