"""``doe judge``: the verdicts, of day folders or of any table of results."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from doe.cli.asking import YesFlag, agreement
from doe.cli.desk.columns import CheckOnlyFlag, MissingOption, SheetOption, columns_of
from doe.cli.figures import FiguresOption, days_title, draw
from doe.cli.options import ClusterOption, DetailsFlag, JobsOption, JsonFlag, emit, found_each
from doe.cli.patience import working

if TYPE_CHECKING:
    from doe.analysis.judging.judgement import Judgement


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("judge")(judge)


def judge(
    where: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="[FOLDER…|CSV]",
            help="Day folders of one campaign (left out: this one), a parent of many days, or one table of results.",
        ),
    ] = None,
    value: Annotated[
        list[str] | None,
        typer.Option(
            help="CSV: column of the readings ('pull' for 'pull 1', 'pull 2'); several without --change: one a level."
        ),
    ] = None,
    change: Annotated[list[str] | None, typer.Option(help="CSV: column of what was fitted; once per factor.")] = None,
    baseline: Annotated[list[str] | None, typer.Option(help="CSV: baseline level; once per factor.")] = None,
    install: Annotated[
        list[str] | None,
        typer.Option(
            help="CSV: column of installs (whole plots), 'stints' (the default) or 'each'; or once per factor."
        ),
    ] = None,
    day: Annotated[str | None, typer.Option(help="CSV: column of days (fixed blocks).")] = None,
    time: Annotated[
        str | None, typer.Option(help="CSV: column of times: dates with times, clock times or minutes.")
    ] = None,
    smallest_gain: Annotated[float | None, typer.Option(help="CSV: the gain worth having.")] = None,
    drift: Annotated[str | None, typer.Option(help="CSV: none, linear, quadratic or wander.")] = None,
    scale: Annotated[str | None, typer.Option(help="CSV: absolute (the default) or percent.")] = None,
    noise: Annotated[Path | None, typer.Option(metavar="DAYFOLDER", help="CSV: take [noise] from this day.")] = None,
    metric: Annotated[str | None, typer.Option(help="Day folder: another column than the sealed metric.")] = None,
    better: Annotated[
        str | None, typer.Option(help="CSV, or another metric: higher (the default) or lower, as for fuel flow.")
    ] = None,
    to: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A parent of many days: writes the table there (.csv, .xlsx).")
    ] = None,
    sheet: SheetOption = None,
    missing: MissingOption = "refuse",
    check_only: CheckOnlyFlag = False,
    jobs: JobsOption = 1,
    cluster: ClusterOption = None,
    method: Annotated[
        str, typer.Option(help="auto; kenward-roger or install-means reproduce other software.")
    ] = "auto",
    second_opinion: Annotated[
        bool, typer.Option("--second-opinion", help="Fit the same pulls with statsmodels too, beside ours.")
    ] = False,
    r_file: Annotated[
        Path | None,
        typer.Option("--r", metavar="FILE", help="Write the pulls and lines of R that reproduce the verdict there."),
    ] = None,
    curve: Annotated[
        bool,
        typer.Option("--curve", help="Day folder with traces: where along the rpm each change gains."),
    ] = False,
    look: Annotated[bool, typer.Option("--look", help="An early look: shows the gains and spends risk.")] = False,
    final: Annotated[bool, typer.Option("--final", help="No more pulls today, although the plan is not done.")] = False,
    reopen: Annotated[
        bool, typer.Option("--reopen", help="A day that --final closed goes on; its next verdict has less risk.")
    ] = False,
    yes: YesFlag = False,
    figures: FiguresOption = None,
    details: DetailsFlag = False,
    as_json: JsonFlag = False,
) -> None:
    """Verdict on each change: real gain, real loss, no difference that matters, or not settled.

    Example: doe judge my-day

    Example: doe judge results.csv --value power --change oil --baseline 15W-50 --install fitting

    Example: doe judge results.xlsx --sheet pulls --value power --change oil --baseline 15W-50 --check-only

    Example: doe judge my-day --curve

    Example: doe judge my-day --second-opinion --r verdict.R

    Example: doe judge all-our-days --jobs 4 --to verdicts.csv
    """
    from doe.analysis.archive.day_folders import is_archive
    from doe.errors import InputError

    archive = any(is_archive(place) for place in where or [])  # only one that is named: nobody walks a disk unasked
    where = found_each(where)
    _check_r(r_file)
    given = {"--value": value, "--change": change, "--baseline": baseline, "--install": install, "--day": day,
             "--time": time, "--smallest-gain": smallest_gain, "--drift": drift, "--scale": scale,
             "--noise": noise, "--sheet": sheet, "--missing": missing != "refuse",
             "--check-only": check_only}  # fmt: skip
    if len(where) > 1 or where[0].is_dir():
        used = [name for name, option in given.items() if option]
        if used:
            raise InputError(f"{', '.join(used)}: for a table of results; a day folder's day.toml says it already")
        if archive:
            if figures:
                raise InputError("--figures: for days that are judged, not for an archive of them")
            if details:
                raise InputError("--details: not for an archive of days, which is printed as a table")
            if look or final or yes or reopen:
                raise InputError("--look, --final, --reopen and --yes are for one day; an archive spends no risk")
            if second_opinion or r_file:
                raise InputError("--second-opinion and --r are for one day, one campaign or one table")
            if curve:
                raise InputError("--curve: for one day or one campaign, not for an archive of them")
            from doe.cli.desk.verdict_table import print_verdicts

            print_verdicts(where, metric, method, better, to, jobs, cluster, as_json=as_json)
            return
        _only_for_archives(to, jobs, cluster)
        if reopen:
            besides = {"--look": look, "--final": final, "--metric": metric}
            _reopen(where, [name for name, said in besides.items() if said], as_json=as_json)
            return
        working("judging")
        from doe.analysis.judging.folders import judge_and_log

        agreed = agreement("Show it?", yes=yes)
        judgement = judge_and_log(
            where, metric=metric, method=method, look=look, final=final, agreed=agreed, second_opinion=second_opinion,
            r_script=r_file is not None, curve=curve, better=better,  # type: ignore[arg-type]
        )  # fmt: skip
        _write_r(r_file, judgement.r_script)
        draw(judgement, figures, days_title(where))
        emit(judgement, as_json=as_json, details=details)
        return
    if metric or final or look or yes or reopen:
        raise InputError("--metric, --look, --final, --reopen and --yes are for day folders; a table takes --value")
    if curve:
        raise InputError("--curve: for day folders; a table has no traces")
    _only_for_archives(to, jobs, cluster)
    columns = columns_of(where[0], [*(value or []), *(change or []), *(install or []), day, time], sheet)
    if not value or not baseline or (not change and len(value) < 2):
        by_level = value is not None and len(value) > 1
        missed = [name for name in ("--value", "--change", "--baseline") if not given[name]]
        missed = [name for name in missed if name != "--change" or not by_level]
        titles = ", ".join(title for title in columns.columns if title)
        raise InputError(f"{where[0]} is a table (columns: {titles}): say {', '.join(missed)}")
    if check_only and better:
        raise InputError("--better: not with --check-only, which judges nothing")
    if check_only and (figures or details):
        raise InputError("--details and --figures: not with --check-only, which judges nothing")
    if check_only:
        from doe.analysis.trials.from_table import read_trial

        emit(
            read_trial(
                columns, value=value, change=change or (), baseline=baseline, install=_one_or_each(install), day=day,
                time=time, drift=drift, missing=missing, together=True,
            ).read,
            as_json=as_json,
        )  # fmt: skip
        return
    working("judging")
    from doe.analysis.judging.verdicts import judge as judge_table

    judgement = judge_table(
        columns,
        value=value,
        change=change or (),
        baseline=baseline,
        install=_one_or_each(install),
        day=day,
        time=time,
        drift=drift,
        noise=_noise(noise),
        smallest_gain=smallest_gain,
        scale=scale or "absolute",  # type: ignore[arg-type]
        better=better or "higher",  # type: ignore[arg-type]
        method=method,
        missing=missing,
        second_opinion=second_opinion,
        r_script=r_file is not None,
    )
    judgement = _told_of_its_ledger(judgement, where[0])
    _write_r(r_file, judgement.r_script)
    draw(judgement, figures, where[0].name)
    emit(judgement, as_json=as_json, details=details)


def _reopen(where: list[Path], others: list[str], *, as_json: bool) -> None:
    """Let a day go on that was closed; nothing is judged."""
    from doe.day.log.marks.closing import reopen_day
    from doe.errors import InputError

    if len(where) > 1 or others:
        besides = others[0] if others else f"{len(where)} folders"
        raise InputError(f"--reopen is for one day, by itself, not with {besides}: doe judge {where[0]} --reopen")
    opened = reopen_day(where[0])
    emit(opened, as_json=as_json, noted=True)
    for note in opened.notes:
        print(note, file=sys.stderr)


def _told_of_its_ledger(judgement: Judgement, table: Path) -> Judgement:
    """The same; where the table is the log of a day folder, which has a ledger, that is said."""
    from doe.day.files.which_folder import FILE_NAME, command
    from doe.day.log.reading import PULLS_CSV
    from doe.words.judgements import ledger_notes

    if table.name != PULLS_CSV or not (table.parent / FILE_NAME).is_file():
        return judgement
    note = ledger_notes.past_the_ledger(command("judge", table.parent))
    return replace(judgement, notes=(*judgement.notes, note))


def _only_for_archives(to: Path | None, jobs: int, cluster: str | None) -> None:
    from doe.errors import InputError

    given = {"--to": to, "--jobs": jobs != 1, "--cluster": cluster}
    used = [name for name, option in given.items() if option]
    if used:
        raise InputError(f"{', '.join(used)}: for a parent folder of many days")


def _check_r(file: Path | None) -> None:
    """Before any risk is spent: a name that can be written, and that is no file of a day."""
    from doe.errors import InputError

    if file is None:
        return
    if file.suffix.lower() != ".r":
        raise InputError(f"--r {file}: writes lines of R; give a name that ends in .R")
    if not file.parent.is_dir():
        raise InputError(f"--r {file}: there is no folder {file.parent}")


def _write_r(file: Path | None, script: str | None) -> None:
    if file is None:
        return
    from doe.day.storage import write_atomically
    from doe.errors import DoeError
    from doe.words.judgements.r_words import NOTHING_SHOWN

    if script is None:
        raise DoeError(f"{file} is not written: {NOTHING_SHOWN}")
    write_atomically(file, script)


def _one_or_each(install: list[str] | None) -> str | list[str] | None:
    if not install:
        return None
    return install[0] if len(install) == 1 else install


def _noise(folder: Path | None) -> dict[str, object] | None:
    if folder is None:
        return None
    from doe.day.files.dayfile import read_day_file

    return read_day_file(folder).own_noise
