"""A rehearsal in a tester's words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from doe.words.numbers import confidence_text, percent_in_column, with_unit
from doe.words.phrases import WIDTH
from doe.words.screen import Grid, Part, grid, laid_out_text
from doe.words.verdicts import KEYS, NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS, Verdict, heading

_VERDICTS: tuple[Verdict, ...] = (REAL_GAIN, REAL_LOSS, NO_DIFFERENCE, NOT_SETTLED)
_TITLES = {
    "nothing works": "If nothing works (every change gives nothing)",
    "smallest gain": "If every change gives exactly its smallest gain",
    "as given": "If the gains are as you gave them",
}


class Change(Protocol):
    """How one change came out; it has a share of days under each of `doe.words.verdicts.KEYS`."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def before_and_after(self) -> float: ...


class Scenario(Protocol):
    """One truth, rehearsed."""

    @property
    def name(self) -> str: ...
    @property
    def changes(self) -> Sequence[Change]: ...
    @property
    def family_coverage(self) -> float | None: ...
    @property
    def false_verdicts(self) -> float: ...


class Broken(Protocol):
    """What is left of the promise where something is otherwise than the plan believes."""

    @property
    def otherwise(self) -> str: ...
    @property
    def settled(self) -> float: ...
    @property
    def false_verdicts(self) -> float: ...
    @property
    def family_coverage(self) -> float | None: ...


def rehearsal_text(
    days: int,
    seed: int,
    scenarios: Sequence[Scenario],
    broken: Sequence[Broken],
    risk: float,
    width: int = WIDTH,
) -> str:
    """Write the shares of days on which each verdict came out, judged at a risk: a table for each truth."""
    blocks: list[list[Part]] = [[rehearsed(days, seed, risk)], *map(_scenario, scenarios)]
    return laid_out_text([*blocks, _broken_part(broken, len(scenarios[0].changes))], width)


def rehearsed(days: int, seed: int, risk: float) -> str:
    """What was simulated, and at which risk it was judged."""
    level = f"brackets of {confidence_text(risk, 4)} %, as the next verdict will have"
    return f"{days} simulated days of this plan for each truth (invented readings, seed {seed}; {level})."


_OTHERWISE = {
    "pull_sd": "pull-to-pull scatter {size}",
    "install_sd": "refit scatter {size}",
    "wander_sd": "wander {size}",
    "bow": "a drift bowed by {size}",
    "step": "a step of {size} in the longest time without a pull",
    "heavy_tails": "now and then a pull far out (same scatter on the whole)",
}


def otherwise_text(otherwise: Mapping[str, float], unit: str) -> str:
    """What is otherwise than the plan believes: "wander 0.5 hp"; "as planned" where nothing is."""
    parts = [_OTHERWISE[name].format(size=with_unit(f"{size:g}", unit)) for name, size in otherwise.items()]
    return ", ".join(parts) or "as planned"


def _broken_part(broken: Sequence[Broken], questions: int) -> list[Part]:
    """One row a truth: the promise, and what is left of it."""
    return ["What would break this promise", broken_grid(broken, questions), BROKEN_MEANS] if broken else []


BROKEN_MEANS = (
    "  settled: half for each smallest gain found, half for each change worth nothing told to be so;\n"
    "  a false verdict: on days on which nothing works; all hold: every interval holds its true gain, then"
)


def broken_grid(broken: Sequence[Broken], questions: int) -> Grid:
    """One row a truth."""
    head = (f"if the truth is (questions settled of {questions})", "settled", "days with a false verdict", "all hold")
    rows = []
    for one in broken:
        held = "-" if one.family_coverage is None else percent_in_column(one.family_coverage, 1)
        rows.append((one.otherwise, f"{one.settled:.2f}", percent_in_column(one.false_verdicts, 1), held))
    return grid(head, rows, right=(1, 2, 3), wraps=(0,))


def _scenario(scenario: Scenario) -> list[Part]:
    rows = [
        (
            f"{change.factor} {change.level}",
            *(percent_in_column(getattr(change, KEYS[verdict])) for verdict in _VERDICTS),
            f"'gain' on {percent_in_column(change.before_and_after)}",
        )
        for change in scenario.changes
    ]
    head = ("", *map(heading, _VERDICTS), "one pull before, one after")
    held = scenario.family_coverage
    cover = "" if held is None else f"; all intervals held on {percent_in_column(held, 1)}"
    return [
        _TITLES[scenario.name],
        grid(head, rows, right=range(1, len(head)), wraps=(0,)),
        f"  A wrong verdict on {percent_in_column(scenario.false_verdicts, 1)} of the days{cover}.",
    ]
