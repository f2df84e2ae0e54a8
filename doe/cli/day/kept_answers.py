"""What was answered before somebody stopped, kept in the folder that is to become a day."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from doe.cli.day.questions_in_turn import Given
from doe.day.storage import write_atomically

KEPT = ".answers.json"


def kept_answers(folder: Path, *, study: bool) -> list[Given]:
    """The answers of before, shown as they are taken; none where they were for another kind of day."""
    with suppress(OSError, ValueError, TypeError, KeyError):
        told = json.loads((folder / KEPT).read_text(encoding="utf-8"))
        if told["study"] is study:
            given = [(str(question), str(text)) for question, text in told["answers"]]
            print("answered before:", *(f"  {question}: {text}" for question, text in given), sep="\n", file=sys.stderr)
            return given
    return []


def keep_answers(folder: Path, given: Sequence[Given], *, study: bool) -> None:
    """Keep them; the folder is made where it is not there.

    Raises
    ------
    OSError
        It can't be written in.
    """
    folder.mkdir(parents=True, exist_ok=True)
    told = {"study": study, "answers": [list(one) for one in given]}
    write_atomically(folder / KEPT, json.dumps(told, ensure_ascii=False, indent=1) + "\n")


def forget_answers(folder: Path) -> None:
    """The day is written: they are not needed any more."""
    with suppress(OSError):
        (folder / KEPT).unlink(missing_ok=True)
