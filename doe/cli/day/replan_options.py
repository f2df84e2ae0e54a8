"""Options of ``doe plan`` for the rest of a day: which way, what joins, shown only, taken back."""

from __future__ import annotations

from typing import Annotated

import typer

TakeOption = Annotated[
    int | None,
    typer.Option("--take", metavar="N", help="--from-now: the way with this number, not the best (1 keeps the order)."),
]
PreviewFlag = Annotated[
    bool, typer.Option("--preview", help="--from-now: show the ways and the plan; nothing is written.")
]
AddOption = Annotated[
    list[str] | None,
    typer.Option(
        "--add", metavar="FACTOR=LEVEL:GAIN", help="--from-now: a part that has arrived joins, worth having from GAIN."
    ),
]
FittingMinutes = Annotated[
    float | None,
    typer.Option(
        "--fitting-minutes",
        metavar="MIN",
        min=0,
        help="--add: a part that is taken apart and fitted, on or off in so many minutes; it may be new to day.toml.",
    ),
]
SwitchingMinutes = Annotated[
    float | None,
    typer.Option(
        "--switching-minutes",
        metavar="MIN",
        min=0,
        help="--add: the same of what is only switched or set, a lever or a number.",
    ),
]
UndoFlag = Annotated[bool, typer.Option("--undo", help="Take the last plan back: the one before is followed again.")]
