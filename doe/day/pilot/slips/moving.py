"""What a stretch of pulls is taken for: with other parts, or so many sets of the plan later."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from doe.day.log.making import with_replaced
from doe.day.pilot.slips.renumbering import Meant
from doe.day.pilot.standing import Standing, fulfils
from doe.day.records import Pull, Run
from doe.errors import InputError


def relabelled(standing: Standing, pulls: Sequence[Pull], settings: Mapping[str, str]) -> dict[int, Meant]:
    """The pulls with other parts, each with the step that it fulfils now.

    A step stays where it asks for these parts; else a pull takes an open one with them, of the set that the day was in
    or of the next, and where there is none it is outside the plan.
    """
    free = _Free(standing, pulls)
    found = {}
    for pull in pulls:
        configuration = {**pull.configuration, **settings}
        run = standing.by_number.get(pull.run or 0)
        if run is None or run.configuration != configuration:
            stint = _stint_before(standing, pull, {one.number for one in pulls})
            near = [one for one in standing.runs if one.stint in _two_from(standing, stint)]
            run = None if pull.void else free.take(near, configuration, pull.count)
        elif not pull.void:
            free.taken.add(run.run)
        found[pull.number] = Meant(configuration, run.run if run else None, run.count if run else pull.count)
    return found


def moved(standing: Standing, pulls: Sequence[Pull], later: int) -> dict[int, Meant]:
    """The pulls so many sets later: each takes the next step of that set; one that didn't count doesn't count there.

    Raises
    ------
    InputError
        There is no plan, or no set so much later.
    """
    if not standing.runs:
        raise InputError("--later: there is no plan here, so there are no sets; say what was on: --set FACTOR=LEVEL")
    stints = list(dict.fromkeys(run.stint for run in standing.runs))
    free = _Free(standing, pulls)
    found = {}
    for pull in pulls:
        run = standing.by_number.get(pull.run or 0)
        own = run.stint if run else _stint_before(standing, pull, ()) or stints[0]
        at = stints.index(own) + later
        if not 0 <= at < len(stints):
            where = "after" if later > 0 else "before"
            raise InputError(f"--later {later}: pull {pull.number} is of set {stints.index(own) + 1} of {len(stints)};"
                             f" there is no such set {where} it")  # fmt: skip
        wanted = [one for one in standing.runs if one.stint == stints[at]]
        count = None if pull.count == "yes" else pull.count
        target = None if pull.void else free.take(wanted, wanted[0].configuration, count)
        now = target.count if target else pull.count
        found[pull.number] = Meant(wanted[0].configuration, target.run if target else None, now)
    return found


class _Free:
    """The steps that no other pull fulfils, given out one by one."""

    def __init__(self, standing: Standing, pulls: Sequence[Pull]) -> None:
        mine = {pull.number for pull in pulls}
        others = [pull for pull in standing.pulls if pull.number not in mine and fulfils(standing.day, pull)]
        self.taken = {pull.run for pull in others if pull.run is not None}

    def take(self, runs: Sequence[Run], configuration: Mapping[str, str], count: str | None) -> Run | None:
        """The first of these that is free, with these parts and this count; None where there is none."""
        for run in runs:
            if run.run not in self.taken and run.configuration == configuration and count in (None, run.count):
                self.taken.add(run.run)
                return run
        return None


def _stint_before(standing: Standing, pull: Pull, without: Collection[int]) -> int:
    """The planned set that the day was in before a pull; 0 before its first."""
    stint = 0
    for one in with_replaced(standing.pulls):
        if one.number == pull.number:
            break
        if one.number not in without and one.run in standing.by_number:
            stint = standing.by_number[one.run].stint
    return stint


def _two_from(standing: Standing, stint: int) -> tuple[int, ...]:
    """A planned set and the one after it."""
    later = [run.stint for run in standing.runs if run.stint > stint]
    return (stint, min(later)) if later else (stint,)
