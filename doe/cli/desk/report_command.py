"""``doe report``: the page for a customer or an editor."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from doe.cli.asking import YesFlag, agreement
from doe.cli.options import DayFolder, JsonFlag, emit
from doe.words.result import Answer


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
    folder: DayFolder,
    look: Annotated[bool, typer.Option("--look", help="An early look: shows the gains and spends risk.")] = False,
    final: Annotated[bool, typer.Option("--final", help="No more pulls today, although the plan is not done.")] = False,
    yes: YesFlag = False,
    as_json: JsonFlag = False,
) -> None:
    """One page with verdicts, noise, plan and assumptions, to send or to print.

    Example: doe report my-day
    """
    from doe.analysis.judging.folders import judge_and_log
    from doe.report.html import write_report

    judgement = judge_and_log(folder, look=look, final=final, agreed=agreement("Show it?", yes=yes))
    emit(Written(write_report(folder, judgement)), as_json=as_json)
