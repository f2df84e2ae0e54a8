"""``doe rehearse``: simulated days of this plan, through the same judge."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from doe.cli.figures import FiguresOption, days_title, draw
from doe.cli.options import DayFolder, DetailsFlag, JsonFlag, emit
from doe.cli.terminal import over


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("rehearse")(rehearse)


def rehearse(
    folder: DayFolder = Path(),
    days: Annotated[int, typer.Option(help="Simulated days for each truth.")] = 2000,
    seed: Annotated[int, typer.Option(help="Same seed, same table.")] = 1,
    gain: Annotated[
        list[str] | None, typer.Option(metavar="CHANGE=X", help="A true gain of your own; one for each change.")
    ] = None,
    pull_sd: Annotated[
        list[float] | None, typer.Option(metavar="X", help="Were the pull-to-pull scatter X, not what day.toml says?")
    ] = None,
    install_sd: Annotated[list[float] | None, typer.Option(metavar="X", help="Were the refit scatter X?")] = None,
    wander_sd: Annotated[list[float] | None, typer.Option(metavar="X", help="Did the engine wander by X?")] = None,
    bow: Annotated[
        list[float] | None,
        typer.Option(metavar="X", help="Were the drift bowed, the middle of the day X off the straight line?"),
    ] = None,
    step: Annotated[
        list[float] | None,
        typer.Option(metavar="X", help="Did the level jump by X in the longest time without a pull?"),
    ] = None,
    heavy_tails: Annotated[
        bool, typer.Option("--heavy-tails", help="Were pulls now and then far out, for the same scatter?")
    ] = False,
    jobs: Annotated[int, typer.Option(help="Processes.")] = 1,
    figure: Annotated[Path | None, typer.Option(metavar="FILE", help="Draw the shares (.png, .svg or .pdf).")] = None,
    figures: FiguresOption = None,
    details: DetailsFlag = False,
    as_json: JsonFlag = False,
) -> None:
    """How often each verdict would come out on this plan, right and wrong, if the truth were known.

    What if the truth is otherwise than day.toml says? Each size, in the unit of the gains, is tried by itself and may
    be given several times; one table shows what is left of the promise.

    Example: doe rehearse my-day --days 2000 --gain oil=1.2

    Example: doe rehearse my-day --wander-sd 0.3 --wander-sd 0.6 --bow 1 --heavy-tails
    """
    from doe.simulation.other_truths import one_at_a_time
    from doe.simulation.rehearsal import rehearse as run

    others = one_at_a_time(
        pull_sd=pull_sd or (),
        install_sd=install_sd or (),
        wander_sd=wander_sd or (),
        bow=bow or (),
        step=step or (),
        heavy_tails=heavy_tails,
    )
    found = run(folder, days=days, seed=seed, gains=_gains(folder, gain or []), others=others, jobs=jobs, progress=_bar)
    if figure is not None:
        from doe.report.rehearsal_figure import rehearsal_figure
        from doe.report.style import house_style

        with house_style():
            rehearsal_figure(found).savefig(figure, dpi=150)
        print(f"wrote {figure}", file=sys.stderr)
    draw(found, figures, days_title([folder]))
    emit(found, as_json=as_json, details=details)


def _gains(folder: Path, texts: list[str]) -> dict[tuple[str, str], float]:
    """CHANGE=X, the change named by factor, level or FACTOR=LEVEL, the value after the last sign."""
    from doe.day.configuration import find_change
    from doe.day.files.dayfile import read_day_file
    from doe.day.tables import parse_number
    from doe.errors import InputError

    found = {}
    for text in texts:
        name, sign, value = text.rpartition(":" if ":" in text else "=")
        try:
            number = parse_number(value, "," if "," in value else ".")
        except ValueError as fault:
            raise InputError(f"--gain {text}: {fault}") from fault
        if not sign:
            raise InputError(f"--gain {text}: expected CHANGE=X, e.g. oil=1.2")
        factor, change = find_change(read_day_file(folder), name)
        question = factor.name, change.level
        if question in found:
            raise InputError(f"--gain {text}: {' '.join(question)} has a true gain already; rehearse each by itself")
        found[question] = number
    return found


def _bar(done: int, total: int) -> None:
    if sys.stderr.isatty():
        over(f"{done} of {total} days", last=done == total)
