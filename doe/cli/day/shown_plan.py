"""A plan, or a frontier, on its way out: printed, drawn, and a bar while it is looked for."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from doe.cli.figures import draw
from doe.cli.options import emit
from doe.cli.patience import quiet, working

if TYPE_CHECKING:
    from doe.day.schema import DayFile
    from doe.planning.drawn.result import Plan


def show_plan(
    plan: Plan, folder: Path, figure: Path | None, figures: Path | None, *, as_json: bool, details: bool
) -> None:
    """Print and draw the plan of a folder."""
    from doe.day.files.which_folder import command

    if figure is not None:
        _draw_plan(plan, figure)
    draw(plan, figures)
    emit(replace(plan, line=command("plan", folder)), as_json=as_json, details=details)


def print_frontier(
    day: DayFile, seed: int | None, effort: str, figure: Path | None, figures: Path | None, *, as_json: bool
) -> None:
    """Plan many lengths of a day, print and draw what each buys."""
    from doe.cli.progress import bar
    from doe.planning.drawn.frontier import frontier

    found = frontier(
        day,
        seed=1 if seed is None else seed,
        effort="quick" if effort == "normal" else effort,
        progress=lambda done, total: bar(done / total, f"{done} of {total} lengths"),
    )
    if figure is not None:
        from doe.report.plan_figure import frontier_figure
        from doe.report.style import house_style

        with house_style():
            frontier_figure(found).savefig(figure, dpi=150)
        print(f"wrote {figure}", file=sys.stderr)
    draw(found, figures, ", ".join(filter(None, (day.day.title, str(day.day.date)))))
    emit(found, as_json=as_json)


def _draw_plan(made: Plan, figure: Path) -> None:
    from doe.report.plan_figure import plan_figure
    from doe.report.style import house_style

    with house_style():
        plan_figure(made).savefig(figure, dpi=150)
    print(f"wrote {figure}", file=sys.stderr)


def search_bar(share: float, best: float) -> None:
    """How far the search is."""
    from doe.cli.progress import bar

    quiet()
    bar(share, f"best so far: {best:.2f} questions settled")
    if share >= 1:
        working("ordering the sets")
