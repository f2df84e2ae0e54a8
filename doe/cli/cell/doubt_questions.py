"""Asking about a pull that is logged already: nothing is held up, and what isn't answered stays marked."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from doe.day.log.marks.asked import Doubt
    from doe.day.pilot.recording import Recorded


def ask_about(folder: Path, recorded: Recorded) -> None:
    """Ask every question about the pulls that were just logged, where somebody sits at the terminal.

    Ctrl-C, or the end of standard input, leaves what is open open.
    """
    from doe.cli.asking import somebody_there

    if not recorded.doubts or not somebody_there():
        return
    from doe.words.day.doubt_words import LEFT_OPEN

    try:
        for doubt in recorded.doubts:
            if not _asked(folder, recorded, doubt):
                print(LEFT_OPEN, file=sys.stderr)
                return
    except KeyboardInterrupt:
        print(f"\n{LEFT_OPEN}", file=sys.stderr)


def _asked(folder: Path, recorded: Recorded, doubt: Doubt) -> bool:
    """One question, asked again until the answer is understood; whether there was one."""
    from doe.cli.options import emit
    from doe.cli.terminal import read_line
    from doe.day.pilot.recording import Recorded
    from doe.day.pilot.slips.answers_to_doubts import answer, question_of
    from doe.errors import InputError

    while True:
        print(f"pull {doubt.pull}: {question_of(doubt)} ", end="", file=sys.stderr, flush=True)
        line = read_line()
        if not line:
            return False
        try:
            done = answer(folder, recorded, doubt, line)
        except (ValueError, InputError) as fault:
            print(*(f"  {line}" for line in str(fault).splitlines()), sep="\n", file=sys.stderr)
            continue
        emit(done, as_json=False, noted=True)
        print(*done.notes, sep="\n", end="\n" * bool(done.notes), file=sys.stderr)
        if isinstance(done, Recorded):
            ask_about(folder, done)
        return True
