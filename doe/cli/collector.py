"""How often what is no longer needed is collected: never in a command that a tester waits for, seldom in any."""

from __future__ import annotations

import atexit
import gc
from collections.abc import Iterator
from contextlib import contextmanager

SELDOM = (200_000, 50, 1_000)  #: new objects, and rounds: loading a command makes some 100,000, and all of them stay


@contextmanager
def seldom_collected(brief: bool) -> Iterator[None]:
    """Keep the collector away from a brief command, and let it come seldom to another.

    It would walk through everything that is loaded, again and again, and once more when the program ends: a sixth of
    what `doe next` costs, a tenth of `doe judge`.
    """
    before = gc.get_threshold()
    if not gc.isenabled():
        yield
        return
    if brief:
        gc.disable()
    gc.set_threshold(*SELDOM)
    atexit.unregister(gc.freeze)
    atexit.register(gc.freeze)  # what is frozen isn't walked through at the end
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.enable()
