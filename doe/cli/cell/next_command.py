"""``doe next``: what to do now."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from doe.cli.options import DayFolder, JsonFlag, emit
from doe.cli.terminal import answer

if TYPE_CHECKING:
    from doe.day.pilot.upnext import UpNext


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("next")(next_)


def next_(
    folder: DayFolder = Path(),
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=VALUE", help="What a gauge shows now, such as oil_temp_c=97, beside [limits]."),
    ] = None,
    take: Annotated[
        int | None,
        typer.Option(metavar="N", help="A day that runs late: plan the rest by the way with this number."),
    ] = None,
    as_json: JsonFlag = False,
) -> None:
    """What to do now: what to fit, how many pulls, until when, what to type, what comes after.

    Example: doe next my-day

    Example: doe next my-day --column oil_temp_c=97

    Example: doe next my-day --take 2
    """
    from doe.day.pilot.upnext import up_next

    if take is not None:
        from doe.cli.day.late_day import take_way

        take_way(folder, take)
    coming = up_next(folder, gauges=column or ())
    if coming.late and not coming.past_finish and not as_json:
        answer(coming.to_text())  # nobody waits for the planner before the next step is told
        coming = with_ways(folder, coming)
        answer(coming.ways_text())
    else:
        emit(with_ways(folder, coming) if coming.late else coming, as_json=as_json)
    if coming.notes:  # in one piece: a long log can have thousands, and standard error is written line by line
        print("\n".join(map(str, coming.notes)), file=sys.stderr)
    if coming.edits.notes:
        from doe.day.pilot.coming.sealed_edits import note_edits

        note_edits(folder, coming.edits)


def with_ways(folder: Path, coming: UpNext) -> UpNext:
    """The next step of a day that is late, with the ways to plan the rest; only then is the planner loaded."""
    from dataclasses import replace

    from doe.cli.day.late_day import offered

    ways, best, none = offered(folder)
    return replace(coming, ways=ways, best_way=best, no_way=none)
