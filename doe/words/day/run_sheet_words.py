"""The sentences on a run sheet: what to do with it, what to bring, where one may stop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from doe.words.day.bring_words import Needs, cost_line, fitting_lines, work_line
from doe.words.numbers import percent, several
from doe.words.phrases import listed


class Chance(Protocol):
    """What a stop could show of one change."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def real(self) -> float | None: ...
    @property
    def none(self) -> float | None: ...


HOW_TO = (
    "One line is one pull. What stands in bold is done before it, and nothing else is touched.",
    "A throw-away pull is made and written down like the others; it does not count.",
    "If the clock is off, write beside it when the pull ended. If a pull gives no number, write why into its box.",
    "A heavy line ends a fitting: below it a part or fluid is fitted anew.",
)
STOP_RULE = (
    "Stop where a set of pulls ends. Stopping is no fault: 'doe judge --final' judges what was made; what that can't"
    " settle stays open."
)


def bring(needs: Needs, switched: Sequence[str], baseline: Mapping[str, str]) -> list[str]:
    """What must lie ready for the steps of a sheet, counted from the plan."""
    lines = fitting_lines(needs.fittings, baseline)
    lines += [f"{words} (switched, nothing to fit)" for words in switched]
    return [*lines, work_line(needs), *([cost_line(needs.cost)] if needs.cost else [])]


def stop_line(chances: Sequence[Chance]) -> list[str]:
    """What a stop could show, change by change."""
    return [f"{chance.factor} {chance.level}: {_chance(chance)}" for chance in chances]


def _chance(chance: Chance) -> str:
    if chance.real is None or chance.none is None:
        return "nothing yet"
    if chance.real < 0.005 and chance.none < 0.005:
        return "nothing yet"
    return f"{percent(chance.real, exact=True)} if worth having, {percent(chance.none, exact=True)} if worth nothing"


def made_already(steps: int) -> str:
    """A sheet for the rest of a day."""
    return f"For the rest of the day: {several(steps, 'planned pull')} {'is' if steps == 1 else 'are'} made already."


def count_line(counted: int, thrown: int, fittings: int) -> str:
    """How much there is to do."""
    parts = [f"{several(counted, 'pull')} that {'counts' if counted == 1 else 'count'}"]
    parts += [several(thrown, "throw-away pull")] if thrown else []
    parts += [several(fittings, "fitting")] if fittings else []
    return f"{listed(parts)}."
