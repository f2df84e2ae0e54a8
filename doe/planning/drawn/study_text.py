"""What the refits of a noise study buy, as a tester reads it."""

from __future__ import annotations

from doe.day.schema import DayFile
from doe.planning.arrays.assumptions import unit_of
from doe.planning.drawn.study_worth import PAIRS, PULLS, RefitWorth, StudyWorth

_BACK = 3  # fewer fittings than planned that are shown
FEW = 4  # fittings
_FAR = 20.0  # a limit further out is no limit


def worth_lines(day: DayFile, worth: StudyWorth, planned: int) -> list[str]:
    """The table, its assumptions and what it says of one refit more.

    Parameters
    ----------
    day : DayFile
    worth : StudyWorth
    planned : int
        Fittings of the plan.

    Returns
    -------
    list of str
    """
    unit = unit_of(day) if day.noise.pull_sd else "pull SDs"
    head = [
        ("", "", "", "df of the", "which is then", "the coming day"),
        ("fittings", "pulls", "done at", "refit scatter", "at most", f"finds [{unit}]"),
        ("no study", "", "", "-", "-", "-" if worth.without is None else f"{worth.without:.2f}"),
    ]
    rows = [*head, *(_row(row, planned) for row in worth.rows if row.fittings >= planned - _BACK)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head[0]))]
    lines = ["  " + "  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    ratio = f"refit scatter {worth.install_ratio:.2g} times the pull scatter"
    taken = f"taken for granted: {ratio}" if worth.assumed else f"by [noise]: {ratio}"
    return [
        f"What each refit of the same parts buys ({taken})",
        *lines,
        "  at most: times the refit scatter that the study finds, 39 times in 40",
        f"  the coming day: one part tried in {PAIRS} back-to-back pairs, {PULLS} pulls a fitting; it finds such a gain"
        " 8 times in 10",
        f"  below {FEW} fittings the refit scatter is hardly known, and intervals may miss more often than they say",
    ]


def _row(row: RefitWorth, planned: int) -> tuple[str, ...]:
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
