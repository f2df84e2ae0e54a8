"""What is said before something that can't be taken back, and asked where somebody sits at the terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Annotated

import typer

from doe.cli.patience import quiet

YesFlag = Annotated[bool, typer.Option("--yes", help="Yes to what it asks first; without a terminal it never waits.")]


def agreement(question: str, *, yes: bool) -> Callable[[str], bool]:
    """A function that says what is at stake and waits for an answer, where there is somebody to give one.

    Parameters
    ----------
    question : str
        Asked behind what is said, such as "Show it?".
    yes : bool
        The answer was given on the command line.
    """

    def agreed(at_stake: str) -> bool:
        quiet()
        print(at_stake, file=sys.stderr)
        if yes or not somebody_there():
            return True
        print(f"{question} [y/N] ", end="", file=sys.stderr, flush=True)
        return sys.stdin.readline().strip().lower() in ("y", "yes")

    return agreed


def somebody_there() -> bool:
    """Whether a person can read a question and type an answer."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()
