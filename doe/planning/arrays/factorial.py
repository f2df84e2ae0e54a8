"""Factorial candidates, behind one door: pyDOE2 on Python 3.11, pydoe from 3.12 on."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib import import_module
from itertools import count
from string import ascii_lowercase
from types import ModuleType

import numpy as np

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


_LARGEST_HALF = 6  # factors; the runs of a half fraction double with each


@cache
def two_level_rounds(factors: int) -> tuple[np.ndarray, ...]:
    """Balanced rounds of runs with each factor off or on, to be made one after the other, over and over.

    Of up to six factors the half fraction in whose runs an even number is on (of two factors both halves); of more a
    Plackett-Burman plan and the same folded over.

    Parameters
    ----------
    factors : int
        Two or more.

    Returns
    -------
    tuple of ndarray of int, each of shape (runs, factors)
        0 off, 1 on.
    """
    if factors == 2:
        return (np.array(full_factorial([2, 2])),)
    if factors <= _LARGEST_HALF:
        basic = ascii_lowercase[: factors - 1]
        last = ("-" if factors % 2 else "") + basic
        return (_zero_one(_library().fracfact(" ".join([*basic, last]))),)
    plan = _library().pbdesign(_runs(factors) - 1)[:, :factors]
    return _zero_one(plan), _zero_one(_library().fold(plan)[len(plan) :])


def _runs(factors: int) -> int:
    """Of the smallest Plackett-Burman plan that the libraries make: 2, 12 or 20 doubled as often as it takes."""
    return min(next(runs for k in count() if (runs := least << k) > factors) for least in (2, 12, 20))


def _zero_one(signs: np.ndarray) -> np.ndarray:
    """0 for a minus, 1 for a plus."""
    return (np.asarray(signs) > 0).astype(int)
