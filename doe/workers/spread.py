"""The same work on many things: in this process, over processes, or over the machines of a cluster.

The chunks depend on the number of things alone, the results come back in their order, and each is computed by itself:
so they are the same to the last bit whoever computes them.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import BrokenExecutor
from contextlib import ExitStack
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar
from warnings import catch_warnings, simplefilter

from doe.errors import DoeError, InputError

Item = TypeVar("Item")
Result = TypeVar("Result")

CHUNK = 20  # days of a tenth of a second together: long beside the cost of sending them, short beside a wave
_CHUNKS_A_WAVE = 8  # for each worker; what is handed out and not yet back is held in memory


def spread(
    work: Callable[[Item], Result],
    items: Iterable[Item],
    *,
    chunk: int = CHUNK,
    jobs: int = 1,
    cluster: str | None = None,
    sees: Path | None = None,
) -> Iterator[Result]:
    """Do the work on each item, and give the results in the order of the items.

    Parameters
    ----------
    work : callable
        Of a module, with one argument; both can be sent to another process.
    items : iterable
        Taken as they are needed: memory does not grow with their number.
    chunk : int
        Things that are sent together; the results do not depend on it.
    jobs : int
        Processes on this machine.
    cluster : str, optional
        Address of a dask scheduler; the work goes there instead.
    sees : Path, optional
        What the cluster's workers must see on their disks.

    Yields
    ------
    Result

    Raises
    ------
    InputError
        `jobs` below 1, or both `jobs` and a cluster.
    DoeError
        The cluster can't do the work, or somebody ended a process, and why.
    """
    if jobs < 1:
        raise InputError(f"--jobs {jobs}: expected 1 or more processes")
    if cluster is not None and jobs != 1:
        raise InputError("--jobs and --cluster: the cluster has its own workers; leave --jobs out")
    if cluster is None and jobs == 1:
        return map(work, items)
    return _over_workers(work, chunks(items, chunk), jobs, cluster, sees)


def _over_workers(
    work: Callable[[Item], Result], parts: Iterator[list[Item]], jobs: int, cluster: str | None, sees: Path | None
) -> Iterator[Result]:
    """Hand the chunks out in waves, as joblib's backend for a cluster gives nothing back before a wave is done."""
    import joblib

    with ExitStack() as stack:
        if cluster is None:
            stack.enter_context(joblib.parallel_config(backend="loky", inner_max_num_threads=1))
        else:
            from doe.workers.cluster import connected

            jobs = stack.enter_context(connected(cluster, sees))
            stack.enter_context(joblib.parallel_config(backend="dask"))
        given = "list" if cluster else "generator"  # processes give each chunk back as soon as it is done
        pool = stack.enter_context(joblib.Parallel(n_jobs=jobs, batch_size=1, return_as=given))
        while wave := list(islice(parts, jobs * _CHUNKS_A_WAVE)):
            try:
                yield from _done(pool(joblib.delayed(_on_chunk)(work, chunk) for chunk in wave))
            except BrokenExecutor:
                raise DoeError(
                    f"--jobs {jobs}: a process was ended from outside, most often for want of memory; try fewer"
                ) from None


def _done(parts: Iterable[list[Result]]) -> Iterator[Result]:
    """What comes out of a wave; whoever takes it may stop at any time, and joblib says nothing of what is left."""
    try:
        for results in parts:
            yield from results
    finally:
        if isinstance(parts, Generator):
            with catch_warnings():
                simplefilter("ignore", UserWarning)
                parts.close()


def chunks(items: Iterable[Item], most: int = CHUNK) -> Iterator[list[Item]]:
    """Things in their order, so many together."""
    rest = iter(items)
    while chunk := list(islice(rest, most)):
        yield chunk


def _on_chunk(work: Callable[[Any], Any], chunk: list[Any]) -> list[Any]:
    return [work(item) for item in chunk]
