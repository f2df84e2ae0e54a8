"""What can go wrong, in words a person can act on. The lowest room: every other may raise these, it imports none."""

from __future__ import annotations

from collections.abc import Iterable


class DoeError(Exception):
    """The work could not be done, and the message says why (exit status 1)."""

    exit_status = 1


class InputError(DoeError):
    """The command line or a file is wrong (exit status 2).

    Parameters
    ----------
    faults : str or iterable of str
        One line a fault: the file, the place in it, what is wrong, what is expected.
    """

    exit_status = 2

    def __init__(self, faults: str | Iterable[str]) -> None:
        self.faults: tuple[str, ...] = (faults,) if isinstance(faults, str) else tuple(faults)
        super().__init__("\n".join(self.faults))

    @property
    def in_short(self) -> str:
        """The first fault, and how many more there are."""
        return self.faults[0] + (f" (and {len(self.faults) - 1} more)" if len(self.faults) > 1 else "")


class SeveralSweepsError(InputError):
    """A trace holds more than one sweep, and nobody said which is the pull.

    Parameters
    ----------
    file : str
    sweeps : int
        How many.
    """

    def __init__(self, file: str, sweeps: int) -> None:
        self.sweeps = sweeps
        super().__init__(f"{file}: {sweeps} sweeps in one file; export each pull alone, or say --sweep 1 to {sweeps}")


class UnsureError(DoeError):
    """Nobody can tell whether it was done; the message says what to do, and what not (exit status 3)."""

    exit_status = 3


class ConfoundedError(DoeError):
    """Two effects can't be told apart; the message names both and the pull that would part them."""
