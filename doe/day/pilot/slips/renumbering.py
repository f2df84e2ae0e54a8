"""The installs of pulls that are put right: a fitting is new where a part changed or was fitted afresh."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from doe.day.log.sequence import planned_fresh
from doe.day.pilot.standing import refitted
from doe.day.records import Pull, Run
from doe.day.schema import Configuration, DayFile


@dataclass(frozen=True, slots=True)
class Meant:
    """What a pull is taken for."""

    configuration: Configuration
    run: int | None
    count: str
    install: int | None = None  #: None: follows


def with_installs(
    day: DayFile,
    runs: Mapping[int, Run],
    order: Sequence[Pull],
    meant: Mapping[int, Meant],
    recorded: Collection[int],
) -> dict[int, Meant]:
    """Every pull from the first one on that is taken for something else, with its install.

    Parameters
    ----------
    day : DayFile
    runs : mapping of int to Run
        The plan, by step.
    order : sequence of Pull
        All pulls in the order of making, as they are.
    meant : mapping of int to Meant
        Some of them, as they are put right.
    recorded : collection of int
        Pulls before which a tester said that the same part was fitted afresh.
    """
    ordered = planned_fresh(day, runs)
    found: dict[int, Meant] = {}
    begun: set[int] = set()  # planned installs that have a pull
    before: tuple[Pull, Meant] | None = None
    for pull in order:
        now = meant.get(pull.number) or Meant(pull.configuration, pull.run, pull.count)
        planned = runs[now.run].install if now.run is not None and now.run in runs else None
        first = planned is not None and planned not in begun
        begun |= {planned} if planned is not None else set()
        if not found and pull.number not in meant:
            before = pull, Meant(now.configuration, now.run, now.count, pull.install)
            continue
        fresh = pull.number in recorded or (first and now.run != pull.run and planned in ordered)
        install = now.install or _install(day, before, pull, now, fresh=fresh)
        found[pull.number] = Meant(now.configuration, now.run, now.count, install)
        before = pull, found[pull.number]
    return found


def _install(day: DayFile, before: tuple[Pull, Meant] | None, pull: Pull, now: Meant, *, fresh: bool) -> int:
    """The install of a pull behind another one."""
    if before is None:
        return pull.install
    was, then = before
    last = then.install or 1
    if refitted(day, then.configuration, now.configuration) or fresh:
        return last + 1
    if refitted(day, was.configuration, pull.configuration) or now.run != pull.run:
        return last  # the change that began a fitting was none, or the plan's order for it is not this pull's any more
    return last + (pull.install > was.install)
