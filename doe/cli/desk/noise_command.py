"""``doe noise``: what this cell can show, from day folders or from any table of repeated pulls."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from doe.cli.desk.columns import CheckOnlyFlag, MissingOption, SheetOption, columns_of
from doe.cli.figures import FiguresOption, draw
from doe.cli.options import ClusterOption, DetailsFlag, JobsOption, JsonFlag, emit, found_each
from doe.cli.patience import working
from doe.words.numbers import several

if TYPE_CHECKING:
    from doe.analysis.archive.archive_result import NoiseArchive
    from doe.analysis.scatter.study_result import NoiseStudy
    from doe.day.foreign.foreign_table import Sheet

_SHOWN_BROKEN = 5


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("noise")(noise)


def noise(
    where: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="[FOLDER…|CSV]",
            help="A day folder (left out: this one), several or a parent of many, or one table of results.",
        ),
    ] = None,
    value: Annotated[
        list[str] | None,
        typer.Option(help="Column of the readings; may be given several times. Day folder: left out, its metric."),
    ] = None,
    change: Annotated[list[str] | None, typer.Option(help="CSV: column of what was changed; once per factor.")] = None,
    baseline: Annotated[list[str] | None, typer.Option(help="CSV: baseline level; once per factor.")] = None,
    install: Annotated[str | None, typer.Option(help="CSV: column that numbers the fittings.")] = None,
    day: Annotated[str | None, typer.Option(help="CSV: column of days.")] = None,
    time: Annotated[
        str | None, typer.Option(help="CSV: column of times: dates with times, clock times or minutes.")
    ] = None,
    drift: Annotated[str | None, typer.Option(help="CSV: none, linear or quadratic.")] = None,
    covariate: Annotated[
        list[str] | None,
        typer.Option(help="Column or reading that the scatter may go with, or rest; may be given several times."),
    ] = None,
    save_to: Annotated[
        Path | None, typer.Option(metavar="DAYFOLDER", help="Writes the [noise] table of that day's day.toml.")
    ] = None,
    cell: Annotated[str | None, typer.Option(help="Many days: only those whose [cell] has this name.")] = None,
    to: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Many days: writes a row a day (.csv, .xlsx).")
    ] = None,
    figure: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Many days: draws the control charts (.png, .svg or .pdf).")
    ] = None,
    sheet: SheetOption = None,
    missing: MissingOption = "refuse",
    check_only: CheckOnlyFlag = False,
    jobs: JobsOption = 1,
    cluster: ClusterOption = None,
    figures: FiguresOption = None,
    details: DetailsFlag = False,
    as_json: JsonFlag = False,
) -> None:
    """What two pulls differ by, what fitting the same parts again adds, how the engine drifts, which pulls lie outside.

    Example: doe noise my-study --save-to my-day

    Example: doe noise results.csv --value power --install fitting --time clock

    Example: doe noise my-study --value "peak power" --value "mean power" --covariate oil_temp_c --covariate rest

    Example: doe noise results.xlsx --sheet pulls --value pull --check-only

    Example: doe noise all-our-days --jobs 4 --figure chart.png --save-to my-day
    """
    from doe.analysis.archive.day_folders import is_archive
    from doe.errors import InputError

    named = where or []
    many_days = len(named) > 1 or any(map(is_archive, named))  # one that is named: nobody walks a disk unasked
    where = found_each(where)
    given = {"--change": change, "--baseline": baseline, "--install": install, "--day": day, "--time": time,
             "--drift": drift, "--sheet": sheet, "--missing": missing != "refuse",
             "--check-only": check_only}  # fmt: skip
    used = [name for name, option in given.items() if option]
    if used and (len(where) > 1 or where[0].is_dir()):
        raise InputError(f"{', '.join(used)}: for a table of results; a day folder's day.toml says it already")
    study: NoiseStudy | NoiseArchive
    broken: tuple[str, ...] = ()
    if many_days:
        if covariate:
            raise InputError("--covariate: for one day folder, or a table of results")
        study = _of_many_days(where, value or [], cell, jobs, cluster)
        broken = study.broken
        _write(study, to, figure)
    else:
        many = {"--cell": cell, "--to": to, "--figure": figure, "--jobs": jobs != 1, "--cluster": cluster}
        if used := [name for name, option in many.items() if option]:
            raise InputError(f"{', '.join(used)}: for several day folders, or a parent folder of many")
        working("looking at the noise")
        if where[0].is_dir():
            study = _of_folder(where[0], value or [], covariate or [])
        else:
            asked: dict[str, Any] = {
                "change": change or [], "baseline": baseline or [], "install": install, "day": day, "time": time,
                "drift": drift, "missing": missing,
            }  # fmt: skip
            table, value = _table(where[0], value or [], covariate or [], asked, sheet)
            if check_only:
                if details:
                    raise InputError("--details: not with --check-only, which studies nothing")
                from doe.analysis.trials.from_table import read_trial

                emit(read_trial(table, value=value, **asked).read, as_json=as_json)
                return
            from doe.analysis.scatter.repeatability import noise as noise_of_table

            study = noise_of_table(
                table, value=value, covariate=covariate or [], source=f"noise of {where[0].name}", **asked
            )
    draw(study, figures, ", ".join(place.resolve().name for place in where))
    emit(study, as_json=as_json, details=details)
    if as_json:
        for warning in study.warnings:
            print(f"Warning: {warning}", file=sys.stderr)
    if save_to is not None:
        from doe.analysis.scatter.saving import save_study

        print(save_study(study, save_to).to_text(), file=sys.stderr)
        _save_usual(study, save_to)
    if broken:
        _say_broken(broken)
        raise typer.Exit(1)


def _save_usual(study: NoiseStudy | NoiseArchive, save_to: Path) -> None:
    """Write what the engine usually makes, where many days of the same set-up tell it."""
    from doe.analysis.archive.archive_result import NoiseArchive
    from doe.analysis.archive.usual_level import usual_range
    from doe.day.files.dayfile import read_day_file
    from doe.day.names import name_key
    from doe.day.pilot.settings.usual_key import save_usual

    if not isinstance(study, NoiseArchive):
        return
    day = read_day_file(save_to)
    for metric in study.metrics:
        if name_key(metric.name) == name_key(day.metric.name) and (found := usual_range(metric, day)) is not None:
            save_usual(save_to, *found)
            print(f"wrote [cell] usual of {save_to / 'day.toml'}, for 'doe next' at the opening set", file=sys.stderr)


def _of_folder(where: Path, value: list[str], covariate: list[str]) -> NoiseStudy:
    """Study one day folder."""
    from doe.analysis.scatter.repeatability import noise_of_days

    return noise_of_days(where, value=value, covariate=covariate)


def _table(
    where: Path, value: list[str], covariate: list[str], asked: dict[str, Any], sheet: str | None
) -> tuple[Sheet, list[str]]:
    """The columns of a table, and its readings.

    Raises
    ------
    InputError
        No such table, or nobody says which column holds the readings.
    """
    from doe.errors import InputError

    named = [*value, *asked["change"], asked["install"], asked["day"], asked["time"]]
    columns = columns_of(where, [*named, *(name for name in covariate if name != "rest")], sheet)
    if not value:
        titles = ", ".join(title for title in columns.columns if title)
        raise InputError(f"{where} is a table (columns: {titles}): say --value")
    return columns, value


def _of_many_days(
    where: list[Path], value: list[str], cell: str | None, jobs: int, cluster: str | None
) -> NoiseArchive:
    """Study each day for itself, and pool."""
    from doe.analysis.archive.noise_of_archive import noise_of_archive
    from doe.cli.progress import counted_bar

    progress = counted_bar(where)
    return noise_of_archive(where, value=value, cell=cell, jobs=jobs, cluster=cluster, progress=progress)


def _write(study: NoiseArchive, to: Path | None, figure: Path | None) -> None:
    """Write what was asked for besides the text."""
    if to is not None:
        from doe.day.storage import write_atomically
        from doe.report.xlsx_table import SUFFIX, write_xlsx

        frame = study.to_frame()
        if to.suffix.lower() == SUFFIX:
            write_xlsx(to, list(frame.columns), frame.astype(object).itertuples(index=False))
        else:
            write_atomically(to, frame.to_csv(index=False, lineterminator="\n"))
        print(f"wrote {to}", file=sys.stderr)
    if figure is not None:
        from doe.report.control_chart import control_figure
        from doe.report.style import house_style

        with house_style():
            control_figure(study.metrics[0]).savefig(figure, dpi=150)
        print(f"wrote {figure}", file=sys.stderr)


def _say_broken(broken: tuple[str, ...]) -> None:
    """Name the first folders that can't be read."""
    print(f"{several(len(broken), 'day folder')} left out that can't be read:", file=sys.stderr)
    for line in broken[:_SHOWN_BROKEN]:
        print(f"  {line}", file=sys.stderr)
    if len(broken) > _SHOWN_BROKEN:
        print(f"  and {len(broken) - _SHOWN_BROKEN} more", file=sys.stderr)
