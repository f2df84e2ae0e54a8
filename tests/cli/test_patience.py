"""Who waits longer than a second is told what for: once, on a terminal only, never across an answer or a question."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event
from unittest import mock

from doe.cli import asking, patience, terminal


class Terminal(io.StringIO):
    """Somebody watches; `written` is set when a line is there."""

    def __init__(self) -> None:
        super().__init__()
        self.written = Event()

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        size = super().write(text)
        if "\n" in text:
            self.written.set()
        return size


@contextmanager
def watched() -> Iterator[Terminal]:
    """Standard error is a terminal; put in its place inside a test, for pytest takes it back between its phases."""
    screen = Terminal()
    with mock.patch.object(sys, "stderr", screen):
        yield screen
        patience.quiet()


def test_it_is_said_once_the_patience_is_over(monkeypatch):
    monkeypatch.setattr(patience, "PATIENCE", 0.0)
    with watched() as screen:
        patience.working("judging")
        screen.written.wait()
    assert screen.getvalue() == "judging ...\n"


def test_an_answer_or_a_question_that_comes_first_ends_it():
    with watched() as screen:
        patience.working("judging")
        terminal.answer("done")
        assert patience._waiting.timer is None
        patience.working("judging")
        asking.agreement("Show it?", yes=True)("This is the second verdict.")
        assert patience._waiting.timer is None
    assert screen.getvalue() == "This is the second verdict.\n"


def test_where_nobody_watches_nothing_is_started():
    with mock.patch.object(sys, "stderr", io.StringIO()):
        patience.working("judging")
    assert patience._waiting.timer is None
