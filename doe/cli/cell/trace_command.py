"""``doe trace``: what the dyno exported, read as the day says; and setting that up by looking."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from doe.cli.options import JsonFlag, emit, found


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("trace")(trace)


def trace(
    files: Annotated[list[Path], typer.Argument(metavar="FILE …", help="The dyno's exports, one pull each.")],
    day: Annotated[
        Path,
        typer.Option(
            metavar="FOLDER",
            help="The day folder, whose [traces] says how they are written; left out: this one, or above.",
            callback=found,
            show_default=False,
        ),
    ] = Path(),
    set_up: Annotated[
        bool, typer.Option("--set-up", help="Look at an export, ask what its columns are, write [traces].")
    ] = False,
    metric: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Only this metric, such as 'peak power'; may be repeated.")
    ] = None,
    at_rpm: Annotated[
        float | None, typer.Option(metavar="RPM", help="For power and torque at an rpm; left out: the day's.")
    ] = None,
    sweep: Annotated[
        int | None, typer.Option(metavar="N", help="Which sweep, where a file holds several; the first is 1.")
    ] = None,
    as_json: JsonFlag = False,
) -> None:
    """Read exports: the sweep, its metrics, what was left out and what is odd. Nothing is logged.

    Example: doe trace exports/pull-7.csv --day my-day

    Example: doe trace exports/pull-7.csv --day my-day --set-up
    """
    if set_up:
        from doe.cli.cell.trace_questions import set_up_traces

        set_up_traces(files, day, sweep)
        return
    from dataclasses import replace

    from doe.cell.traces.cache import TraceCache
    from doe.cell.traces.report import read_pulls
    from doe.day.files.dayfile import read_day_file
    from doe.day.traced import CACHE_FOLDER, engine_of, layout_of, wanted_of

    day_file = read_day_file(day)
    wanted = wanted_of(day_file)
    pulls = read_pulls(
        files,
        layout_of(day_file, day),
        wanted if at_rpm is None else replace(wanted, at_rpm=at_rpm),
        names=metric or (),
        engine=engine_of(day_file),
        sweep=sweep,
        read=TraceCache(day / CACHE_FOLDER).read_each,
    )
    emit(pulls, as_json=as_json)
