"""What the refits of a noise study buy, as a tester reads it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.numbers import with_unit
from doe.words.screen import Part, grid

_BACK = 3  # fewer fittings than planned that are shown
FEW = 4  # fittings
_FAR = 20.0  # a limit further out is no limit


class RefitWorth(Protocol):
    """A study with so many fittings, and what it is worth."""

    @property
    def fittings(self) -> int: ...
    @property
    def pulls(self) -> int: ...
    @property
    def until(self) -> str: ...
    @property
    def fits(self) -> bool: ...
    @property
    def install_df(self) -> float: ...
    @property
    def times_larger(self) -> float: ...
    @property
    def detectable_gain(self) -> float: ...


class StudyWorth(Protocol):
    """The worth of a study, and the coming day that it is told for."""

    @property
    def rows(self) -> Sequence[RefitWorth]: ...
    @property
    def without(self) -> float | None: ...
    @property
    def install_ratio(self) -> float: ...
    @property
    def assumed(self) -> bool: ...
    @property
    def pairs(self) -> int: ...
    @property
    def pulls(self) -> int: ...


def worth_lines(worth: StudyWorth, planned: int, unit: str) -> list[Part]:
    """The table, its assumptions and what it says of one refit more.

    Parameters
    ----------
    worth : StudyWorth
    planned : int
        Fittings of the plan.
    unit : str
        Of the gains.

    Returns
    -------
    list of (str or Grid)
    """
    head = ("fittings", "pulls", "done at", "df of the refit scatter", "which is then at most",
            f"the coming day finds [{unit}]")  # fmt: skip
    without = "-" if worth.without is None else f"{worth.without:.2f}"
    rows = [("no study", "", "", "-", "-", without)]
    rows += [_row(row, planned) for row in worth.rows if row.fittings >= planned - _BACK]
    ratio = f"refit scatter {worth.install_ratio:.2g} times the pull scatter"
    taken = f"taken for granted: {ratio}" if worth.assumed else f"by [noise]: {ratio}"
    return [
        f"What each refit of the same parts buys ({taken})",
        grid(head, rows, right=(1, 3, 5), wraps=(0,)),
        "  at most: times the refit scatter that the study finds, 39 times in 40",
        f"  the coming day: one part tried in {worth.pairs} back-to-back pairs, {worth.pulls} pulls a fitting;"
        " it finds such a gain 8 times in 10",
        f"  below {FEW} fittings the refit scatter is hardly known, and intervals may miss more often than they say",
    ]


def study_line(worth: StudyWorth, planned: int, unit: str) -> str:
    """What a study of so many fittings buys, in a sentence; "" where it isn't among the rows."""
    row = next((row for row in worth.rows if row.fittings == planned), None)
    if row is None:
        return ""
    without = "" if worth.without is None else f", without a study {with_unit(f'{worth.without:.2f}', unit)}"
    found = with_unit(f"{row.detectable_gain:.2f}", unit)
    return f"With this study the coming day finds a gain of {found} 8 times in 10{without}."


def _row(row: RefitWorth, planned: int) -> tuple[str, str, str, str, str, str]:
    mark = " (this plan)" if row.fittings == planned else "" if row.fits else " (too late)"
    limit = f"{row.times_larger:.1f} times" if row.times_larger < _FAR else "no limit"
    return (
        f"{row.fittings}{mark}",
        str(row.pulls),
        row.until,
        f"{row.install_df:.1f}",
        limit,
        f"{row.detectable_gain:.2f}",
    )
