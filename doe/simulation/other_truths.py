"""Truths other than a plan believes: what would break its promise."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import Any, cast

from doe.day.records import Run
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.words.plans.rehearsal_words import otherwise_text

_A_GAP = 1e-6  # minutes; below, one pull followed the other


@dataclass(frozen=True, slots=True)
class OtherTruth:
    """What is otherwise in the cell than day.toml says; all sizes in the unit of the gains.

    Attributes
    ----------
    pull_sd, install_sd, wander_sd : float, optional
        None: as day.toml says. The judge is still told what day.toml says.
    bow : float
        How far the middle of the day stands off the straight line from its first pull to its last.
    step : float
        A jump for good, in the longest time without a pull, or half-way through a day that has none.
    heavy_tails : bool
        Pulls scatter as Student's t with 3 degrees of freedom does: most closer together, some far out.
    """

    pull_sd: float | None = None
    install_sd: float | None = None
    wander_sd: float | None = None
    bow: float = 0.0
    step: float = 0.0
    heavy_tails: bool = False

    def noise(self, day: DayFile) -> dict[str, float]:
        """The SDs that are true; 0 where neither this nor the day file says anything."""
        names = ("pull_sd", "install_sd", "wander_sd")
        own = {name: getattr(self, name) for name in names}
        return {name: (getattr(day.noise, name) or 0.0) if own[name] is None else own[name] for name in names}

    def text(self, unit: str) -> str:
        """In words, "as planned" where nothing is otherwise."""
        said = {field.name: getattr(self, field.name) for field in fields(self)}
        return otherwise_text({name: value for name, value in said.items() if value != getattr(AS_PLANNED, name)}, unit)


AS_PLANNED = OtherTruth()


def one_at_a_time(
    *,
    pull_sd: Sequence[float] = (),
    install_sd: Sequence[float] = (),
    wander_sd: Sequence[float] = (),
    bow: Sequence[float] = (),
    step: Sequence[float] = (),
    heavy_tails: bool = False,
) -> tuple[OtherTruth, ...]:
    """One truth for each size that is given, each with one thing otherwise.

    Raises
    ------
    InputError
        An SD that is not above 0 (a wander may be 0), or a bow or step of 0, which changes nothing.
    """
    sizes = {"pull_sd": pull_sd, "install_sd": install_sd, "wander_sd": wander_sd, "bow": bow, "step": step}
    wrong = list(_impossible(sizes))
    if wrong:
        raise InputError(wrong)
    given = [(name, value) for name, values in sizes.items() for value in values]
    found = [replace(AS_PLANNED, **cast(dict[str, Any], {name: value})) for name, value in given]
    return (*found, replace(AS_PLANNED, heavy_tails=True)) if heavy_tails else tuple(found)


def _impossible(sizes: dict[str, Sequence[float]]) -> Iterator[str]:
    """What no cell can have."""
    for name, values in sizes.items():
        option = "--" + name.replace("_", "-")
        for value in values:
            if name in ("bow", "step"):
                if value == 0:
                    yield f"{option} {value:g}: expected another number than 0, which changes nothing"
            elif value < 0 or (name == "pull_sd" and value == 0):
                least = "more than 0" if name == "pull_sd" else "0 or more"
                yield f"{option} {value:g}: expected {least}"


def longest_break(runs: Sequence[Run], pull_minutes: float) -> float:
    """The minute at which the longest time without a pull begins; half-way through where there is none [min]."""
    gaps = [(later.minute - pull_minutes - run.minute, run.minute) for run, later in pairwise(runs)]
    longest, begin = max(gaps, default=(0.0, 0.0))
    return begin if longest > _A_GAP else (runs[0].minute + runs[-1].minute) / 2
