"""The doors to the terminal: only visible text leaves, and no answer is lost where standard output fails."""

from __future__ import annotations

import errno
import io
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, TextIO, cast

from doe.cli.patience import quiet
from doe.words.phrases import NARROWEST, WIDEST, WIDTH
from doe.words.visible import visible

_FAILED = "standard output can't be written ({why})"
# What is already on its way out when the system says no: it may be there by halves, or not at all.
_Broken = (OSError, ValueError)


class Door:
    """A standard stream through which only visible text leaves. Has no `buffer`, so that nothing goes round it."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self.encoding, self.errors = stream.encoding, stream.errors

    def write(self, text: str) -> int:
        """Write text, what can't be seen written out."""
        return self._stream.write(visible(text))

    def write_coloured(self, text: str) -> int:
        """Write what `doe.cli.coloured` laid out, whose words are visible and whose signs are its own."""
        return self._stream.write(text)

    def writelines(self, lines: list[str]) -> None:
        """Write several texts."""
        for line in lines:
            self.write(line)

    def back(self) -> None:
        """Bring the cursor to the beginning of its line."""
        self._stream.write("\r")

    def flush(self) -> None:
        """Hand everything on."""
        self._stream.flush()

    def isatty(self) -> bool:
        """Whether somebody watches."""
        return self._stream.isatty()

    def fileno(self) -> int:
        """The system's number of the stream."""
        return self._stream.fileno()


class _Outcome:
    """What became of standard output."""

    lost = False


_outcome = _Outcome()


class _Closed(io.TextIOBase):
    """In the place of a stream that was closed before the program began."""

    encoding = "utf-8"
    errors = "backslashreplace"

    def write(self, text: str) -> int:
        """Refuse."""
        raise OSError(errno.EBADF, "it is closed", "standard output")


class _Nobody(_Closed):
    """In the place of a closed standard error: nothing else is left to tell it to."""

    def write(self, text: str) -> int:
        """Swallow."""
        return len(text)


@contextmanager
def doors() -> Iterator[None]:
    """Put a door before standard output and standard error, for as long as a command runs."""
    _fill_gaps()
    before = sys.stdout, sys.stderr
    _outcome.lost = False
    with suppress(AttributeError, *_Broken):
        sys.stdin.reconfigure(errors="surrogateescape")  # type: ignore[union-attr]
    for name, nowhere in (("stdout", _Closed), ("stderr", _Nobody)):
        stream = getattr(sys, name) or nowhere()
        _never_refuse_a_letter(stream)
        setattr(sys, name, cast(TextIO, Door(cast(TextIO, stream))))
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def _fill_gaps() -> None:
    """Give a closed standard stream's number to nobody: a file that got it would take what is meant for the stream."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            with suppress(OSError):
                os.open(os.devnull, os.O_RDWR)


def _never_refuse_a_letter(stream: Any) -> None:
    """A letter that the terminal's code page lacks is written out."""
    with suppress(AttributeError, *_Broken):
        stream.reconfigure(errors="backslashreplace")


def shows_colours() -> bool:
    """Whether standard output is a terminal that shows colours, and nobody asked for none (https://no-color.org)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def columns() -> int:
    """Letters of a line of standard output."""
    if not sys.stdout.isatty():
        return WIDTH
    return min(max(shutil.get_terminal_size((WIDTH, 24)).columns, NARROWEST), WIDEST)


def answer(text: str, *, noted: bool = False, coloured: bool = False) -> None:
    """Print a command's answer on standard output, and where that fails on standard error.

    Parameters
    ----------
    text : str
    noted : bool
        What the answer tells is on disk, so the exit status stays 0 wherever it is printed: it tells of the disk.
    coloured : bool
        It was laid out for a terminal by `doe.cli.coloured`.
    """
    quiet()
    why = _failure(text, coloured=coloured)
    if why is None:
        return
    _outcome.lost = _outcome.lost or not noted
    with suppress(*_Broken):
        print(f"{_FAILED.format(why=why)}; the answer:\n{text}", file=sys.stderr, flush=True)


def over(line: str, *, last: bool) -> None:
    """Write a line on standard error over the one before it, for a bar that grows; at the `last` the line ends."""
    if isinstance(sys.stderr, Door):
        sys.stderr.back()
    print(line, end="\n" if last else "", file=sys.stderr, flush=True)


def exit_status(status: int) -> int:
    """Hand on what is still held back; the status of a command that ended with `status`, 1 where output was lost."""
    why = _failure(None)
    if why is not None:
        with suppress(*_Broken):
            print(_FAILED.format(why=why), file=sys.stderr, flush=True)
    with suppress(*_Broken, AttributeError):
        sys.stderr.flush()
    return status or int(_outcome.lost or why is not None)


def _failure(text: str | None, *, coloured: bool = False) -> str | None:
    """Print a text, or only what is held back; why that failed. After a failure the stream leads nowhere."""
    try:
        if text is not None:
            write = sys.stdout.write_coloured if coloured and isinstance(sys.stdout, Door) else sys.stdout.write
            write(f"{text}\n")  # at one go: who reads the first line only (head) has it all, and no fault
        sys.stdout.flush()
    except _Broken as error:
        _lead_nowhere()
        return getattr(error, "strerror", None) or str(error)
    return None


def _lead_nowhere() -> None:
    """Let what standard output still holds back go: the interpreter would try it again at its end, and complain."""
    with suppress(*_Broken):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
        sys.stdout.flush()


def read_line() -> str:
    """One line of standard input as it was typed, "" where it has ended, is closed or can't be read."""
    from doe.day.encoding import as_text

    try:
        return as_text(sys.stdin.readline()) if sys.stdin is not None else ""
    except _Broken:
        return ""
