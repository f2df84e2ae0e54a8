"""Single keys while something else is waited for: on a terminal without Enter, else one a line."""

from __future__ import annotations

import contextlib
import os
import queue
import select
import sys
import threading
import time
from collections.abc import Iterator
from typing import Protocol

from doe.cli.terminal import read_line

ENTER = "\n"
_WINDOWS_S = 0.05  # between two looks at a keyboard that can't be waited for


class Keys(Protocol):
    """Where keys come from."""

    def within(self, seconds: float) -> str | None:
        """The next key, None where none is pressed for so long; "" at the end of the input."""

    def line(self) -> str:
        """A line, typed as lines are."""

    def forget(self) -> None:
        """Drop what was pressed before anything was asked."""


@contextlib.contextmanager
def keys() -> Iterator[Keys]:
    """The keyboard, for as long as it is needed."""
    if sys.stdin is None or not sys.stdin.isatty():
        yield _Lines()
    elif os.name == "nt":  # pragma: no cover
        yield _WindowsKeyboard()
    else:
        with _unbuffered():
            yield _Keyboard()


class _Lines:
    """Lines of a pipe or a file: the first letter of each is the key."""

    def __init__(self) -> None:
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._fill, daemon=True).start()

    def _fill(self) -> None:
        while True:
            line = read_line()
            self._lines.put(line)
            if not line:
                return

    def within(self, seconds: float) -> str | None:
        try:
            line = self._lines.get(timeout=seconds)
        except queue.Empty:
            return None
        return line.strip()[:1].lower() or line[:1]

    def line(self) -> str:
        return self._lines.get().strip()

    def forget(self) -> None:
        """Nothing: whoever writes into a pipe can't see what is asked."""


class _Keyboard:
    """A terminal that hands on each key at once."""

    def within(self, seconds: float) -> str | None:
        number = sys.stdin.fileno()
        ready, _, _ = select.select([number], [], [], seconds)
        if not ready:
            return None
        key = os.read(number, 64).decode("utf-8", "replace")[:1]
        return "" if key in ("", "\x04") else ENTER if key == "\r" else key.lower()

    def line(self) -> str:
        with _buffered():
            return read_line().strip()

    def forget(self) -> None:
        import termios

        termios.tcflush(sys.stdin.fileno(), termios.TCIFLUSH)


@contextlib.contextmanager
def _unbuffered() -> Iterator[None]:
    """No Enter is needed, and no key is shown; Ctrl-C goes on ending the program."""
    import termios
    import tty

    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)
    tty.setcbreak(number)
    try:
        yield
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)


@contextlib.contextmanager
def _buffered() -> Iterator[None]:
    """Lines again, shown as they are typed."""
    import termios

    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)
    lines = termios.tcgetattr(number)
    lines[3] |= termios.ICANON | termios.ECHO
    termios.tcsetattr(number, termios.TCSADRAIN, lines)
    try:
        yield
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)


class _WindowsKeyboard:  # pragma: no cover
    """The keyboard of a Windows console."""

    def within(self, seconds: float) -> str | None:
        import msvcrt

        until = time.monotonic() + seconds
        while not msvcrt.kbhit():  # type: ignore[attr-defined]
            if time.monotonic() >= until:
                return None
            time.sleep(_WINDOWS_S)
        key = str(msvcrt.getwch())  # type: ignore[attr-defined]
        return "" if key in ("\x03", "\x04", "\x1a") else ENTER if key == "\r" else key.lower()

    def line(self) -> str:
        return read_line().strip()

    def forget(self) -> None:
        import msvcrt

        while msvcrt.kbhit():  # type: ignore[attr-defined]
            msvcrt.getwch()  # type: ignore[attr-defined]
