"""Where the day stands: what was made in which order, what is fitted, and which planned runs are still due."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby

from doe.day.log.making import in_order_of_making, made_before
from doe.day.log.marks.asked import AHEAD, Doubt
from doe.day.log.sequence import planned_fresh
from doe.day.records import Pull, Run
from doe.day.schema import Configuration, DayFile
from doe.words.day import upnext_words
from doe.words.notes import Note


@dataclass(frozen=True)
class Standing:
    """The day at one moment.

    Parameters
    ----------
    day : DayFile
        The day.
    runs : sequence of Run
        The plan; empty without one.
    pulls : sequence of Pull
        The log, in the order of the pull numbers.
    taken : sequence of int
        Numbers of pulls that only a damaged table had: nobody gets them.
    later : sequence of Pull
        Pulls that were made after this moment, in the order of making: they fulfil their runs too.
    doubts : sequence of Doubt
        What nobody has answered.
    """

    day: DayFile
    runs: Sequence[Run]
    pulls: Sequence[Pull]
    taken: Sequence[int] = ()
    later: Sequence[Pull] = ()
    doubts: Sequence[Doubt] = ()

    @property
    def next_number(self) -> int:
        """The number of the next pull."""
        return max([*self.taken, *(pull.number for pull in (*self.pulls, *self.later))], default=0) + 1

    @cached_property
    def made(self) -> tuple[Pull, ...]:
        """The pulls in the order of making: one that was logged again stands in the place of the voided one."""
        return in_order_of_making(self.pulls)

    @property
    def last(self) -> Pull | None:
        """The pull made last."""
        return self.made[-1] if self.made else None

    @cached_property
    def timed(self) -> tuple[Pull, ...]:
        """As `made`, without the times of which nobody knows whether they are right."""
        unsure = {doubt.pull for doubt in self.doubts if doubt.code == AHEAD}
        return tuple(replace(one, time=None, minute=None) if one.number in unsure else one for one in self.made)

    @property
    def last_minute(self) -> float | None:
        """When the last pull ended whose time is not in question [minute of the day]."""
        return next((one.minute for one in reversed(self.timed) if one.minute is not None), None)

    @property
    def fitted(self) -> Configuration:
        """What is fitted as far as the log knows; before the first pull the baseline.

        A one-way part stays on, whatever the last pull says.
        """
        return {**(self.last.configuration if self.last else self.day.baseline), **self.stuck}

    @cached_property
    def stuck(self) -> Configuration:
        """The one-way levels that are on for good: factor -> level. Every pull that stands tells, counted or not."""
        return {name: pull.configuration[name] for name, pull in self.stuck_since.items()}

    @cached_property
    def stuck_since(self) -> dict[str, Pull]:
        """Factor -> the last pull that stands with a one-way level of it on."""
        return {
            factor.name: pull
            for pull in self.made
            for factor in self.day.factor
            if pull.void is None and (change := factor.change_of(pull.configuration[factor.name])) and change.one_way
        }

    @property
    def install(self) -> int:
        """The install that the engine is in."""
        return self.last.install if self.last else 1

    @cached_property
    def by_number(self) -> dict[int, Run]:
        """The planned runs by their number."""
        return {run.run: run for run in self.runs}

    @cached_property
    def stint(self) -> int:
        """The planned stint that the day is in; 0 before its first pull."""
        stints = [self.by_number[pull.run].stint for pull in self.made if pull.run in self.by_number]
        return stints[-1] if stints else 0

    @cached_property
    def fulfilled(self) -> set[int]:
        """The runs that have their pull: not voided, and with its number where it counts."""
        made = (*self.pulls, *self.later)
        return {pull.run for pull in made if pull.run in self.by_number and fulfils(self.day, pull)}

    def at(self, moment: dt.datetime) -> Standing:
        """The day as it stood at a moment before its last pull; itself where no pull was made after it."""
        begins = len(self.made)
        while begins and ((time := self.timed[begins - 1].time) is None or time > moment):
            begins -= 1
        later = self.made[begins:]
        if all(pull.time is None for pull in self.timed[begins:]):
            return self
        return replace(self, pulls=made_before(self.pulls, later[0].number), later=later)

    @cached_property
    def due(self) -> tuple[Run, ...]:
        """The runs that are still to be made, in order: of this stint, then of the later ones.

        What was left out in an earlier stint is not due any more: its parts are off. Nor is a settling pull, once a
        pull of its stint counts, or a run that would take a one-way part off (`lost`).
        """
        return tuple(run for run in self._open if not self._takes_off(run))

    @cached_property
    def lost(self) -> tuple[Run, ...]:
        """The runs that would be due but can't be made any more: a one-way part was put on before they were made."""
        return tuple(run for run in self._open if self._takes_off(run))

    @property
    def blocked(self) -> bool:
        """Whether nothing of what is left of the plan can be made any more."""
        return bool(self.lost) and not self.due

    def lost_notes(self, typed: str) -> tuple[Note, ...]:
        """What to say of the `lost` runs; `typed` is the folder as it stands in the lines to type."""
        if not self.lost:
            return ()
        on = [
            f"{name} {level}"
            for name, level in self.stuck.items()
            if any(run.configuration[name] != level for run in self.lost)
        ]
        return (upnext_words.lost(on, [run.run for run in self.lost], typed),)

    def _takes_off(self, run: Run) -> bool:
        """Whether a run was planned with something else than a one-way part that is on."""
        return any(run.configuration[name] != level for name, level in self.stuck.items())

    @cached_property
    def _open(self) -> tuple[Run, ...]:
        """The runs of this stint and the later ones that have no pull and need one, whatever is on."""
        counted = any(run.counts and run.stint == self.stint and run.run in self.fulfilled for run in self.runs)
        return tuple(
            run
            for run in self.runs
            if run.run not in self.fulfilled
            and (run.stint > self.stint or (run.stint == self.stint and not (counted and run.count == "settling")))
        )

    @cached_property
    def due_stints(self) -> tuple[tuple[Run, ...], ...]:
        """The runs that are due, by stint."""
        return tuple(tuple(group) for _, group in groupby(self.due, key=lambda run: run.stint))

    def fresh_ordered(self, run: Run) -> str | None:
        """The factor whose same part the plan orders to be fitted afresh before a run, None where its fitting began."""
        return None if run.install in self._begun else self._fresh_by_install.get(run.install)

    @cached_property
    def _fresh_by_install(self) -> dict[int, str]:
        """Planned install -> the factor whose same part is fitted afresh at its beginning."""
        return planned_fresh(self.day, self.by_number)

    @cached_property
    def _begun(self) -> set[int]:
        """The planned installs that have a pull."""
        return {self.by_number[pull.run].install for pull in self.made if pull.run in self.by_number}


def fulfils(day: DayFile, pull: Pull) -> bool:
    """Whether a pull does what its run asked for."""
    return pull.void is None and (pull.count != "yes" or day.metric.name in pull.values)


def refitted(day: DayFile, before: Configuration, after: Configuration) -> list[str]:
    """The refit factors that differ."""
    return [factor.name for factor in day.refit_factors if before[factor.name] != after[factor.name]]
