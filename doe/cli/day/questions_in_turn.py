"""Questions asked one after the other: one can go back to the one before, and no answer is lost."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TypeVar

from doe.cli.terminal import read_line

Answer = TypeVar("Answer")

BACK = ("back", "<")
Given = tuple[str, str]
"""A question as it was asked, and what was typed."""


class StoppedError(Exception):
    """The answers ended before the last question: Ctrl-C, or nothing more to read.

    Attributes
    ----------
    given : tuple of Given
        What was answered until then.
    """

    def __init__(self, given: Sequence[Given]) -> None:
        super().__init__()
        self.given = tuple(given)


class _BackError(Exception):
    """The question before shall be asked again."""


class Answers:
    """Asks; what was answered before is taken first, as long as the questions are the same."""

    def __init__(self, known: Sequence[Given] = ()) -> None:
        self.given: list[Given] = []
        self._known = list(known)

    def ask(self, question: str, default: str | None, convert: Callable[[str], Answer]) -> Answer:
        """One answer; an empty line takes the default. Asked again until it can be converted."""
        if self._known:
            asked, text = self._known.pop(0)
            try:
                if asked == question:
                    return self._take(question, text, convert)
            except ValueError:
                pass
            self._known.clear()
        while True:
            text = self._typed(f"{question}{f' [{default}]' if default else ''}: ") or default or ""
            try:
                return self._take(question, text, convert)
            except ValueError as fault:
                print(f"  expected {str(fault).removeprefix('expected ')}", file=sys.stderr)

    def _take(self, question: str, text: str, convert: Callable[[str], Answer]) -> Answer:
        value = convert(text)
        self.given.append((question, text))
        return value

    def _typed(self, prompt: str) -> str:
        """One line."""
        print(prompt, end="", file=sys.stderr, flush=True)
        try:
            line = read_line()
        except KeyboardInterrupt:
            line = ""
        if not line:
            print(file=sys.stderr)
            raise StoppedError(self.given)
        if line.strip().casefold() in BACK:
            if self.given:
                raise _BackError
            print("  this is the first question", file=sys.stderr)
            return self._typed(prompt)
        return line.strip()


def answered(flow: Callable[[Answers], Answer], known: Sequence[Given] = ()) -> Answer:
    """Walk through the questions of a flow, back and forth.

    Parameters
    ----------
    flow : callable
        Asks; the same answers lead it to the same next question.
    known : sequence of Given
        Answers of before.

    Raises
    ------
    StoppedError
        The answers ended before the last question.
    """
    while True:
        answers = Answers(known)
        try:
            return flow(answers)
        except _BackError:
            known = answers.given[:-1]
