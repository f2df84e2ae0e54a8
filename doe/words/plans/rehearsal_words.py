"""A rehearsal in a tester's words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from doe.words.numbers import confidence_text, percent_in_column, with_unit
from doe.words.phrases import columns
from doe.words.verdicts import KEYS, NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS, Verdict, heading

_WIDTHS: Mapping[Verdict, int] = {REAL_GAIN: 10, REAL_LOSS: 11, NO_DIFFERENCE: 15, NOT_SETTLED: 13}
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


def rehearsal_text(days: int, seed: int, scenarios: Sequence[Scenario], broken: Sequence[Broken], risk: float) -> str:
    """Write the shares of days on which each verdict came out, judged at a risk: a table for each truth."""
    questions = len(scenarios[0].changes)
    return "\n\n".join([rehearsed(days, seed, risk), *map(_scenario, scenarios), *_broken_lines(broken, questions)])


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


def _broken_lines(broken: Sequence[Broken], questions: int) -> list[str]:
    """One row a truth: the promise, and what is left of it."""
    if not broken:
        return []
    return ["\n".join(["What would break this promise", *columns(broken_rows(broken, questions)), BROKEN_MEANS])]


BROKEN_MEANS = (
    "  settled: half for each smallest gain found, half for each change worth nothing told to be so;\n"
    "  a false verdict: on days on which nothing works; all hold: every interval holds its true gain, then"
)


def broken_rows(broken: Sequence[Broken], questions: int) -> list[tuple[str, ...]]:
    """The head, and one row a truth."""
    truth = f"if the truth is (questions settled of {questions})"
    rows: list[tuple[str, ...]] = [(truth, "settled", "days with a false verdict", "all hold")]
    for one in broken:
        held = "-" if one.family_coverage is None else percent_in_column(one.family_coverage, 1)
        rows.append((one.otherwise, f"{one.settled:.2f}", percent_in_column(one.false_verdicts, 1), held))
    return rows


def _scenario(scenario: Scenario) -> str:
    names = [f"{c.factor} {c.level}" for c in scenario.changes]
    width = max(map(len, names)) + 2
    heads = "".join(f"{heading(verdict):>{w}}" for verdict, w in _WIDTHS.items())
    lines = [
        _TITLES[scenario.name],
        f"  {'':<{width}}{heads}{'one pull before, one after':>28}",
    ]
    for name, c in zip(names, scenario.changes, strict=True):
        cells = "".join(f"{percent_in_column(getattr(c, KEYS[verdict])):>{w}}" for verdict, w in _WIDTHS.items())
        naive = f"'gain' on {percent_in_column(c.before_and_after)}"
        lines.append(f"  {name:<{width}}{cells}{naive:>28}")
    held = scenario.family_coverage
    cover = "" if held is None else f"; all intervals held on {percent_in_column(held, 1)}"
    lines.append(f"  A wrong verdict on {percent_in_column(scenario.false_verdicts, 1)} of the days{cover}.")
    return "\n".join(lines)
