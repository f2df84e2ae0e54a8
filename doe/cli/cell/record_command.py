"""``doe record``: log a pull."""

# Annotations are not postponed here: typer would compile those of `record` twice, and a tester waits.
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer.core import TyperCommand

from doe.cli.options import JsonFlag, emit, found
from doe.cli.terminal import read_line

if TYPE_CHECKING:
    from doe.day.pilot.entries import Entry
    from doe.day.pilot.said import Said
    from doe.day.schema import DayFile
    from doe.errors import InputError

_FRESH, _KEPT = "--fresh", "--kept"


class RecordCommand(TyperCommand):
    """Takes a negative number for a number, and --fresh and --kept with or without a part."""

    def parse_args(self, ctx, args):  # type: ignore[no-untyped-def]
        """Read the command line."""
        return super().parse_args(ctx, list(_with_part_or_without(args)))


def _with_part_or_without(args: list[str]) -> list[str]:
    """A --fresh or --kept that no part follows gets an empty one."""
    from doe.day.pilot.said import is_number_like

    out = []
    for at, word in enumerate(args):
        out.append(word)
        following = args[at + 1] if at + 1 < len(args) else "-"
        if word in (_FRESH, _KEPT) and (
            following.startswith("-") or is_number_like(following) or Path(following).is_dir()
        ):
            out[-1] = f"{word}="
    return out


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("record", cls=RecordCommand, context_settings={"ignore_unknown_options": True})(record)


def record(
    context: typer.Context,
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[FOLDER] [VALUE …]",
            help="The day folder (left out: this one), and the number of the pull, or of several pulls.",
        ),
    ] = None,
    set_: Annotated[
        list[str] | None, typer.Option("--set", metavar="FACTOR=LEVEL", help="What was fitted, where not as planned.")
    ] = None,
    time: Annotated[str | None, typer.Option(metavar="HH:MM", help="End of the pull; left out: now.")] = None,
    trace: Annotated[
        str | None,
        typer.Option(
            metavar="FILE",
            help="The dyno's export of this pull; [traces] of day.toml says how to read it.",
        ),
    ] = None,
    newest: Annotated[
        bool, typer.Option("--newest", help="The trace is the file that the dyno wrote last ([traces] folder).")
    ] = False,
    sweep: Annotated[
        int | None, typer.Option(metavar="N", help="Which sweep, where the trace's file holds several; the first is 1.")
    ] = None,
    column: Annotated[
        list[str] | None, typer.Option(metavar="NAME=VALUE", help="A further number, such as oil_temp_c=88.")
    ] = None,
    note: Annotated[str, typer.Option(metavar="TEXT", help="Anything worth remembering.")] = "",
    count: Annotated[
        str | None,
        typer.Option(metavar="yes|settling|warm-up", help="Whether it counts; left out: as planned."),
    ] = None,
    install: Annotated[
        int | None, typer.Option(metavar="N", help="Fitting (install) number; left out: follows from what is fitted.")
    ] = None,
    run: Annotated[int | None, typer.Option(metavar="N", help="The step of the plan that it fulfils.")] = None,
    fresh: Annotated[
        str | None,
        typer.Option(_FRESH, metavar="[FACTOR]", help="The same part was taken off and fitted again before it."),
    ] = None,
    kept: Annotated[
        list[str] | None,
        typer.Option(
            _KEPT,
            metavar="[FACTOR]",
            help="Not refitted: the fresh refit that the plan orders was not done; on the day's first pull, this part"
            " stayed on since the day before (repeatable).",
        ),
    ] = None,
    redo: Annotated[
        int | None, typer.Option(metavar="PULL", help="In place of this pull, which then doesn't count.")
    ] = None,
    spoiled: Annotated[
        str | None, typer.Option(metavar="WHY", help="The pull was made and gave no number; it is due again.")
    ] = None,
    from_sheet: Annotated[
        Path | None,
        typer.Option(
            "--from-sheet",
            metavar="FILE",
            help="The filled-in spreadsheet of 'doe sheet --xlsx': logs every number on it that is not logged yet.",
        ),
    ] = None,
    as_json: JsonFlag = False,
) -> None:
    """Log a pull: what is fitted comes from the plan, the time from the clock.

    Example: doe record 431.2

    Example: doe record my-day 431.2 430.8 431.5

    Example: doe record --trace exports/pull-7.csv

    Example: doe record --newest

    Example: doe record 431.2 --set oil=15W-50 --note "drain plug would not come out"

    Example: doe record my-day --from-sheet my-day/sheet.xlsx
    """
    from doe.day.pilot.said import Said

    _refuse_unknown_options(words or [], [option for one in context.command.params for option in one.opts])
    folder, values = _folder_and_values(words or [])
    if from_sheet is not None:
        from doe.cli.cell.from_sheet import log_sheet

        log_sheet(folder, from_sheet, _beside_sheet(context, values), as_json=as_json)
        return
    if newest:
        trace = _newest(folder, trace)
    said = Said(
        tuple(values), tuple(set_ or ()), time, trace, tuple(column or ()), note, count, install, run, fresh,
        None if kept is None else tuple(kept), redo, spoiled,
    )  # fmt: skip
    _log(folder, said, sweep, as_json=as_json)


def _beside_sheet(context: typer.Context, values: list[str]) -> list[str]:
    """What was said besides a sheet, which says all of it by itself."""
    given = [f"--{name.rstrip('_').replace('_', '-')}" for name, value in context.params.items()
             if value and name not in ("words", "from_sheet", "as_json")]  # fmt: skip
    return [*values, *given]


def _log(folder: Path, said: "Said", sweep: int | None, *, as_json: bool) -> None:
    """Ask where the number is missing, log, print."""
    from dataclasses import replace

    from doe.day.files.dayfile import read_day_file
    from doe.day.pilot.beginning import FolderError
    from doe.day.pilot.recording import record_pulls
    from doe.day.pilot.said import entries_of
    from doe.errors import InputError

    try:
        day = read_day_file(folder)
    except InputError as fault:
        _keep(folder, said, fault, sweep, as_json=as_json)
        return
    _place_files(folder)
    entries = entries_of(folder, day, said)
    if said.trace and not said.spoiled and _gives_metric(day):
        from doe.cli.cell.traced_pull import with_trace

        entries = [with_trace(folder, day, entries[0], sweep)]
    elif sweep is not None:
        raise InputError("--sweep: it belongs to --trace, on a day whose [traces] give the metric")
    elif not said.values and not said.spoiled:
        entries = [replace(entries[0], value=_ask(folder, entries[0]))]
    try:
        recorded = record_pulls(folder, entries)
    except FolderError as fault:
        # What was asked for, or read off a trace, is a typed number from now on.
        values = said.values or tuple(str(entry.value) for entry in entries if entry.value is not None)
        _keep(folder, replace(said, values=values), fault, sweep, as_json=as_json)
        return
    emit(recorded, as_json=as_json, noted=True)
    for note in recorded.notes:
        print(note, file=sys.stderr)
    if recorded.doubts and not as_json:
        from doe.cli.cell.doubt_questions import ask_about as ask_about_pulls

        ask_about_pulls(folder, recorded)
    if recorded.mirrored.ask and not as_json:
        from doe.cli.cell.mirror_question import ask_about

        ask_about(folder, recorded.mirrored.ask)


def _keep(folder: Path, said: "Said", fault: "InputError", sweep: int | None, *, as_json: bool) -> None:
    """Log what was typed where the folder can't be read."""
    from doe.cli.cell.waiting import log_waiting

    log_waiting(folder, said, fault, sweep=sweep, as_json=as_json)


def _place_files(folder: Path) -> None:
    """Give what waits in files its place first."""
    from doe.day.log.journal import scan_any
    from doe.day.log.marks.without_place import waiting

    if waiting(scan_any(folder).events):  # else the traces' physics isn't loaded for nothing
        from doe.cli.cell.waiting import place_files

        place_files(folder)


def _gives_metric(day: "DayFile") -> bool:
    """Whether the number is taken from a trace."""
    from doe.day.traced import gives_metric

    return gives_metric(day)


def _newest(folder: Path, trace: str | None) -> str:
    """The file that the dyno wrote last."""
    from doe.day.clocks.stamp import read_clock
    from doe.day.files.dayfile import read_day_file
    from doe.day.pilot.traced.exports import newest_export, newest_meanwhile
    from doe.errors import InputError

    if trace is not None:
        raise InputError("--newest and --trace contradict each other: which file is it?")
    try:
        day = read_day_file(folder)
    except InputError as fault:  # the file is kept, as a typed number is, until it can be read
        return str(newest_meanwhile(folder, fault, read_clock().moment).resolve())
    return str(newest_export(folder, day).resolve())


def _refuse_unknown_options(words: list[str], options: list[str]) -> None:
    """A word that begins with a dash is an option or a negative number."""
    from doe.day.pilot.said import is_number_like
    from doe.day.suggest import nearest
    from doe.errors import InputError

    for word in words:
        if word.startswith("-") and not is_number_like(word):
            close = nearest(word.partition("=")[0], options)
            hint = f"did you mean '{close}'?" if close else "'doe record --help' lists them"
            raise InputError(f"no such option: {word}; {hint}")


def _folder_and_values(words: list[str]) -> tuple[Path, list[str]]:
    """The first word is the folder, unless it is a number."""
    from doe.day.pilot.said import is_number_like
    from doe.errors import InputError

    folder, values = found(Path()), list(words)
    if words and _is_folder(words[0]):
        folder, values = found(Path(words[0])), words[1:]
    strange = [word for word in values if not is_number_like(word)]
    if strange:
        raise InputError(f"'{strange[0]}' is neither a number nor a folder; expected a number such as 431.2")
    return folder, values


def _is_folder(word: str) -> bool:
    """Whether a word is the day folder; one whose name is a number only where no day lies here."""
    from doe.day.files.which_folder import FILE_NAME, is_day
    from doe.day.pilot.said import is_number_like

    if not Path(word).is_dir():
        return Path(word).name == FILE_NAME and Path(word).is_file()
    return not is_number_like(word) or (is_day(Path(word)) and not is_day(Path()))


def _ask(folder: Path, entry: "Entry") -> float:
    """The number, asked for on the terminal after showing what is fitted; asked again until it can be read.

    Of a pull that is logged again the number that it had, where nobody answers: standard input has ended, or is none.
    """
    from doe.day.pilot.recording import foreseen
    from doe.day.pilot.said import parse_value
    from doe.errors import InputError
    from doe.words.day.pull_words import pull_line

    day, decided = foreseen(folder, entry)
    kept = decided.pull.values.get(day.metric.name)
    print(pull_line(day, decided.pull, made=False), *decided.notices, sep="\n", file=sys.stderr)
    question = f"{day.metric.name}, {day.metric.unit}".rstrip(", ") + (f" [{kept:.10g}]" if kept is not None else "")
    waits = sys.stdin is not None and sys.stdin.isatty()
    while True:
        piped = None if waits else read_line()
        if piped == "" and kept is not None:
            return kept
        print(f"{question}: ", end="", file=sys.stderr, flush=True)
        line = read_line() if piped is None else piped
        if not line.strip():
            if line and kept is not None:
                return kept
            raise InputError("no number: nothing was logged")
        try:
            return parse_value(line.strip())
        except ValueError as fault:
            print(f"  {fault}", file=sys.stderr)
