"""What is said where a command takes longer than a second and somebody waits: one line on standard error, once."""

from __future__ import annotations

import sys
from threading import Timer

PATIENCE = 1.0  # seconds without a word that nobody minds


class _Waiting:
    """The one timer that runs, if any."""

    timer: Timer | None = None


_waiting = _Waiting()


def working(what: str) -> None:
    """Say what is being done, unless `quiet` comes first; nothing where nobody watches.

    Parameters
    ----------
    what : str
        "judging"
    """
    quiet()
    if not sys.stderr.isatty():
        return
    _waiting.timer = Timer(PATIENCE, _say, (what,))
    _waiting.timer.daemon = True  # a command that is done waits for nobody
    _waiting.timer.start()


def quiet() -> None:
    """Something else is said now: an answer, or a question."""
    if _waiting.timer is not None:
        _waiting.timer.cancel()
        _waiting.timer = None


def _say(what: str) -> None:
    print(f"{what} ...", file=sys.stderr, flush=True)
