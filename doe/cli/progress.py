"""A progress bar on standard error, for people only: it is silent where nobody watches."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from doe.cli.terminal import over

_WIDTH = 24


def bar(share: float, note: str = "") -> None:
    """Draw the bar.

    Parameters
    ----------
    share : float
        What is done, 0 to 1; at 1 the line ends.
    note : str
        Stands behind the bar.
    """
    if not sys.stderr.isatty():
        return
    full = round(_WIDTH * share)
    over(f"[{'#' * full}{'.' * (_WIDTH - full)}] {share:4.0%} {note}", last=share >= 1)


def counted_bar(places: Sequence[Path]) -> Callable[[int], None]:
    """Return what draws the bar of an archive's day folders; they are counted only where somebody watches.

    Parameters
    ----------
    places : sequence of Path
        Day folders, or parents of day folders.

    Returns
    -------
    callable
        Takes the number of folders that are done.
    """
    if not sys.stderr.isatty():
        return lambda done: None
    from doe.analysis.archive.day_folders import day_folders

    total = sum(1 for _ in day_folders(places))
    return lambda done: bar(done / total, f"{done} of {total} days")
