"""``doe noise``: what this cell can show, from day folders or from any table of repeated pulls."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from doe.cli.columns import columns_of
from doe.cli.options import JsonFlag, emit

if TYPE_CHECKING:
    from doe.analysis.noise_result import NoiseStudy


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("noise")(noise)


def noise(
    where: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[FOLDER…|CSV]", help="Day folders (left out: this one), or one table of results."),
    ] = None,
    value: Annotated[
        list[str] | None,
        typer.Option(help="Column of the readings; may be given several times. Day folder: left out, its metric."),
    ] = None,
    change: Annotated[list[str] | None, typer.Option(help="CSV: column of what was changed; once per factor.")] = None,
    baseline: Annotated[list[str] | None, typer.Option(help="CSV: baseline level; once per factor.")] = None,
    install: Annotated[str | None, typer.Option(help="CSV: column that numbers the fittings.")] = None,
    day: Annotated[str | None, typer.Option(help="CSV: column of days.")] = None,
    time: Annotated[str | None, typer.Option(help="CSV: column of clock times or minutes.")] = None,
    drift: Annotated[str | None, typer.Option(help="CSV: none, linear or quadratic.")] = None,
    save_to: Annotated[
        Path | None, typer.Option(metavar="DAYFOLDER", help="Writes the [noise] table of that day's day.toml.")
    ] = None,
    as_json: JsonFlag = False,
) -> None:
    """What two pulls differ by, what fitting the same parts again adds, how the engine drifts, which pulls lie outside.

    Example: doe noise my-study --save-to my-day

    Example: doe noise results.csv --value power --install fitting --time clock
    """
    from doe.errors import InputError

    where = where or [Path()]
    given = {"--change": change, "--baseline": baseline, "--install": install, "--day": day, "--time": time,
             "--drift": drift}  # fmt: skip
    if len(where) > 1 or where[0].is_dir():
        used = [name for name, option in given.items() if option]
        if used:
            raise InputError(f"{', '.join(used)}: for a table of results; a day folder's day.toml says it already")
        from doe.analysis.repeatability import noise_of_days

        study = noise_of_days(where, value=value or ())
    else:
        study = _of_table(where[0], value or [], change or [], baseline or [], install, day, time, drift)
    emit(study, as_json=as_json)
    if as_json:
        for warning in study.warnings:
            print(f"Warning: {warning}", file=sys.stderr)
    if save_to is not None:
        from doe.analysis.noise_saving import save_study

        print(save_study(study, save_to).to_text(), file=sys.stderr)


def _of_table(
    path: Path,
    value: list[str],
    change: list[str],
    baseline: list[str],
    install: str | None,
    day: str | None,
    time: str | None,
    drift: str | None,
) -> NoiseStudy:
    """Study the columns of a CSV file."""
    from doe.errors import InputError

    columns = columns_of(path, [*value, *change, install, day, time])
    if not value:
        raise InputError(f"{path} is a table (columns: {', '.join(columns)}): say --value")
    from doe.analysis.repeatability import noise as noise_of_table

    return noise_of_table(
        columns, value=value, change=change, baseline=baseline, install=install, day=day, time=time, drift=drift,
        source=f"noise of {path.name}",
    )  # fmt: skip
