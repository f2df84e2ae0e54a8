"""A cluster that works for us: found, and asked before the work whether it can do it."""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from doe.errors import DoeError, InputError

if TYPE_CHECKING:
    from distributed import Client

_PATIENCE_SECONDS = 5.0


@contextmanager
def connected(address: str, sees: Path | None = None, patience_seconds: float | None = None) -> Iterator[int]:
    """Connect to a dask scheduler, and make it the place where joblib's dask backend works.

    Parameters
    ----------
    address : str
        HOST:PORT or tcp://HOST:PORT.
    sees : Path, optional
        A file or folder that every worker must see under the same path.
    patience_seconds : float, optional
        For each of the questions that are asked first; 5 unless said otherwise.

    Yields
    ------
    int
        Threads of all workers.

    Raises
    ------
    InputError
        The package for clusters is not installed here.
    DoeError
        No scheduler at the address, no workers, or workers or a scheduler that can't do our work, in words.
    """
    try:
        from distributed import Client, KilledWorker
        from distributed.comm import CommClosedError
    except ImportError:
        raise InputError(
            "--cluster: this needs dask.distributed; pip install 'dyno-doe[cluster]' installs it"
        ) from None
    patience_seconds = _PATIENCE_SECONDS if patience_seconds is None else patience_seconds
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what goes wrong is said below, in words
    client = _client(Client, address, patience_seconds)
    try:
        threads = _workers(client, address)
        _ask_workers(client, list(threads), sees, patience_seconds)
        _ask_scheduler(client, address, patience_seconds)
        with client.as_current():
            yield sum(threads.values())
    except (CancelledError, KilledWorker, CommClosedError) as error:
        what = str(error).partition("\n")[0] or type(error).__name__
        raise DoeError(f"--cluster {address}: lost during the work ({what}); nothing was finished") from None
    finally:
        client.close()


def _client(kind: type[Client], address: str, patience_seconds: float) -> Client:
    try:
        return kind(address, timeout=patience_seconds, set_as_default=False)
    except (OSError, ValueError) as error:  # a time-out is an OSError
        raise DoeError(f"--cluster {address}: no scheduler answers there ({type(error).__name__})") from None


def _workers(client: Client, address: str) -> dict[str, int]:
    """Threads of each worker by its address."""
    found = {name: int(n) for name, n in client.nthreads().items()}
    if not found:
        raise DoeError(f"--cluster {address}: the scheduler has no workers; start some, with doe installed on them")
    return found


def _ask_workers(client: Client, workers: list[str], sees: Path | None, patience_seconds: float) -> None:
    """Ask each worker for its doe and its sight of the folders, by a task that needs no package of ours."""

    def answer(path: str | None) -> tuple[str | None, bool]:
        import importlib.metadata
        import pathlib

        try:
            version = importlib.metadata.version("dyno-doe")
            __import__("doe")
        except ImportError:
            version = None
        return version, path is None or pathlib.Path(path).exists()

    path = None if sees is None else str(sees)
    asked = {w: client.submit(answer, path, workers=[w], allow_other_workers=False, pure=False) for w in workers}
    faults = [fault for w, future in asked.items() for fault in _faults(w, _result(future, patience_seconds), path)]
    if faults:
        raise DoeError("\n".join(f"--cluster: {fault}" for fault in faults))


def _result(future: Any, patience_seconds: float) -> Any:
    """The answer; None where none came in time."""
    try:
        return future.result(timeout=patience_seconds)
    except TimeoutError:
        return None


def _faults(worker: str, answer: tuple[str | None, bool] | None, path: str | None) -> list[str]:
    from importlib.metadata import version

    if answer is None:
        return [f"worker {worker} did not answer in time; is it busy or gone?"]
    theirs, sight = answer
    ours, faults = version("dyno-doe"), []
    if theirs is None:
        faults.append(f"worker {worker} has no doe; install dyno-doe {ours} there")
    elif theirs != ours:
        faults.append(f"worker {worker} has dyno-doe {theirs}, here it is {ours}; install the same everywhere")
    if not sight:
        faults.append(f"worker {worker} does not see {path}; the archive must lie on a disk shared under the same path")
    return faults


def _ask_scheduler(client: Client, address: str, patience_seconds: float) -> None:
    """Send a task that names a function of ours: a scheduler that can't load it never answers."""
    try:
        if client.submit(process_of, pure=False).result(timeout=patience_seconds):
            return
    except TimeoutError:
        why = "no answer in time"
    except Exception as error:  # whatever the scheduler's own environment lacks
        why = str(error.__cause__ or error).partition("\n")[0] or type(error).__name__
    raise DoeError(
        f"--cluster {address}: the scheduler can't hand out doe's work ({why}); install the same dyno-doe beside it"
    )


def process_of() -> int:
    """Return the number of the process that works."""
    return os.getpid()
