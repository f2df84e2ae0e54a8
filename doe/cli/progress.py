"""A progress bar on standard error, for people only: it is silent where nobody watches."""

from __future__ import annotations

import sys

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
    line = f"\r[{'#' * full}{'.' * (_WIDTH - full)}] {share:4.0%} {note}"
    print(line, end="\n" if share >= 1 else "", file=sys.stderr, flush=True)
