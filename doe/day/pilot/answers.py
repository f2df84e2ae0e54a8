"""The three answers of a command that notes something in the journal: it is noted, it is not, or nobody can tell."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from doe.day.storage import UnsureWriteError
from doe.errors import DoeError, InputError, UnsureError


class Wording(NamedTuple):
    """How a command says that what it was asked for is not noted."""

    nothing: str  #: after the faults of a wrong command line or file
    undone: str
    remedy: str
    unsure: str
    meanwhile: str


PULL = Wording(
    nothing="nothing was logged",
    undone="NOT logged",
    remedy="write the number down, free the disk or the folder's permissions, and log it again",
    unsure="NOT SURE whether it is logged",
    meanwhile="write the number down and do not type it again yet",
)
VOID = Wording(
    nothing="nothing was changed",
    undone="NOT changed",
    remedy="the pull counts as it did before; free the disk or the folder's permissions, and type it again",
    unsure="NOT SURE whether it is changed",
    meanwhile="do not type it again yet",
)


@contextmanager
def answering(folder: Path, words: Wording) -> Iterator[None]:
    """What is raised inside says which answer it is; only a failed journal leaves one open. Nothing else gets out.

    Raises
    ------
    InputError
        The command line or a file is wrong: nothing is noted.
    DoeError
        The disk, or another process: nothing is noted.
    UnsureError
        The journal's line may be on the disk or not.
    """
    try:
        yield
    except InputError as error:
        raise type(error)([*error.faults, words.nothing]) from None
    except UnsureWriteError as error:
        raise UnsureError(
            f"{words.unsure}: {_cause(folder, error)}; {words.meanwhile}: 'doe check' will tell whether it is"
        ) from None
    except OSError as error:
        raise DoeError(f"{words.undone}: {_cause(folder, error)}; {words.remedy}") from None


def _cause(folder: Path, error: OSError) -> str:
    """What the system said, and of which file."""
    return f"{error.filename or folder} can't be read or written ({error.strerror or error})"
