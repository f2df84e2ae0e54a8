"""Factorial candidates, behind one door: pyDOE2 on Python 3.11, pydoe from 3.12 on."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib import import_module
from types import ModuleType

from doe.errors import DoeError

_LIBRARIES = ("pyDOE2", "pydoe")


@cache
def _library() -> ModuleType:
    """The library that this Python has."""
    for name in _LIBRARIES:
        try:
            return import_module(name)
        except ImportError:
            continue
    raise DoeError(f"none of the libraries {', '.join(_LIBRARIES)} is installed; 'pip install dyno-doe' brings one")


def full_factorial(levels: Sequence[int]) -> list[tuple[int, ...]]:
    """Every combination of levels, the first factor's changing fastest.

    Parameters
    ----------
    levels : sequence of int
        Number of levels of each factor.

    Returns
    -------
    list of tuple of int
        One level per factor, counted from 0.
    """
    return [tuple(int(level) for level in row) for row in _library().fullfact(list(levels))]
