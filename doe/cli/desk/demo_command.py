"""``doe demo``: the main job on an invented day, from the plan to the page."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from doe.cli.options import JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("demo")(demo)


def demo(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where the demo day is written.")] = Path("demo-day"),
    seed: Annotated[int | None, typer.Option(help="Another plan and another day in the same cell.")] = None,
    as_json: JsonFlag = False,
) -> None:
    """A whole day on invented data: planned, pulled in a simulated cell, judged, reported.

    Example: doe demo
    """
    from doe.analysis.judging.folders import judge_and_log
    from doe.report.html import write_report
    from doe.simulation import demo as day

    chosen = day.SEED if seed is None else seed
    print(f"planning a day in {folder} and making its pulls in a simulated cell ...", file=sys.stderr)
    day.make(folder, chosen)
    print("judging it and writing the page ...", file=sys.stderr)
    judgement = judge_and_log(folder, curve=True)
    emit(
        day.Demo(
            folder=folder,
            report=write_report(folder, judgement),
            seed=chosen,
            judgement=judgement,
            worthless_shows=day.worthless_share(chosen),
        ),
        as_json=as_json,
    )
