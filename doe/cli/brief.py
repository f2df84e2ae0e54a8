"""Commands that a tester waits for with the engine hot: over in a moment, nothing they make is worth collecting."""

from __future__ import annotations

import atexit
import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected(brief: bool) -> Iterator[None]:
    """Keep the collector away, where the command is brief; else let it be.

    It would walk through everything that is loaded, again and again, and once more when the program ends: a sixth of
    what `doe next` costs.
    """
    if not (brief and gc.isenabled()):
        yield
        return
    gc.disable()
    atexit.unregister(gc.freeze)
    atexit.register(gc.freeze)  # what is frozen isn't walked through at the end
    try:
        yield
    finally:
        gc.enable()
