"""``doe plan``: the run order, the clock, what can be answered."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from doe.cli.options import DayFolder, JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("plan")(plan)


def plan(
    folder: DayFolder,
    seed: Annotated[int | None, typer.Option(help="Draws the order; the same seed gives the same plan.")] = None,
    effort: Annotated[
        Literal["quick", "normal", "long"], typer.Option(help="How many orders are looked at.")
    ] = "normal",
    as_json: JsonFlag = False,
) -> None:
    """The run order, the clock, and what the day can answer.

    Example: doe plan my-day
    """
    from doe.planning.plan import plan_day

    made = plan_day(folder, seed=seed, effort=effort)
    made.save(folder)
    emit(made, as_json=as_json)
