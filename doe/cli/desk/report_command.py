"""``doe report``: the page for a customer or an editor."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from doe.cli.asking import YesFlag, agreement
from doe.cli.options import JsonFlag, emit, found_each
from doe.cli.patience import working
from doe.words.result import Answer

Reader = Literal["file", "customer"]


@dataclass(frozen=True, slots=True, repr=False)
class Written(Answer):
    """Where the page lies."""

    report: Path

    def to_dict(self) -> dict[str, Any]:
        return {"report": str(self.report)}

    def to_text(self) -> str:
        return f"wrote {self.report}: open it in any browser; it is one file and needs no network"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("report")(report)


def report(
    folders: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="[FOLDER…]",
            help="The day folder (left out: this one, or above); several days of one campaign have one page.",
        ),
    ] = None,
    reader: Annotated[
        Reader,
        typer.Option("--for", help="The customer's copy holds back what testers typed, such as why a pull is void."),
    ] = "file",
    look: Annotated[bool, typer.Option("--look", help="An early look: shows the gains and spends risk.")] = False,
    final: Annotated[bool, typer.Option("--final", help="No more pulls today, although the plan is not done.")] = False,
    yes: YesFlag = False,
    as_json: JsonFlag = False,
) -> None:
    """One page with the answer, the day, its noise and every pull, to send or to print.

    Example: doe report my-day

    Example: doe report my-day --for customer

    Example: doe report day1 day2
    """
    named, folders = bool(folders), found_each(folders)
    working("judging, and drawing the page")
    if page := _page_of_noise(folders, named=named, used=look or final or reader != "file"):
        emit(Written(page), as_json=as_json)
        return
    from doe.analysis.judging.folders import judge_and_log
    from doe.errors import DoeError, InputError
    from doe.report.html import nothing_judged, write_report

    agreed = agreement("Show it?", yes=yes)
    try:
        judgement = judge_and_log(
            folders, look=look, final=final, agreed=agreed, second_opinion=True, curve=_traced(folders)
        )
    except InputError:
        raise
    except DoeError as error:  # a day on which nothing can be judged has its page all the same
        print(error, file=sys.stderr)
        judgement = nothing_judged(folders, str(error))
    emit(Written(write_report(folders, judgement, reader)), as_json=as_json)


def _traced(folders: list[Path]) -> bool:
    """Whether the days have traces, of which curves can be shown."""
    from doe.day.files.dayfile import read_day_file

    return any(read_day_file(folder).traces is not None for folder in folders)


def _page_of_noise(folders: list[Path], *, named: bool, used: bool) -> Path | None:
    """The page of a noise study or of an archive; None where the folders are days with questions."""
    from doe.analysis.archive.day_folders import is_archive
    from doe.day.files.dayfile import read_day_file
    from doe.errors import InputError

    archive = named and any(map(is_archive, folders))  # one that is named: nobody walks a disk unasked
    study = not archive and len(folders) == 1 and not read_day_file(folders[0]).questions
    if not (archive or study):
        return None
    if used:
        raise InputError("--look, --final and --for are for days with questions; a study or an archive has none")
    from doe.report.noise_page import write_noise_page

    if study:
        from doe.analysis.scatter.repeatability import noise_of_days

        title = read_day_file(folders[0]).day.title or f"Noise of {folders[0].resolve().name}"
        return write_noise_page(folders[0], noise_of_days(folders[0]), title)
    from doe.analysis.archive.noise_of_archive import noise_of_archive

    names = ", ".join(folder.resolve().name for folder in folders)
    return write_noise_page(folders[0], noise_of_archive(folders), f"Noise of {names}")
