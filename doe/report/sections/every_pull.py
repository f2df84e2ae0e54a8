"""The table of every pull, and all that the page stands on as JSON for those who go on computing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from doe.day.files.limits import outside
from doe.day.pull_columns import pull_dict
from doe.day.records import Pull
from doe.report.rendering import as_data
from doe.report.sections.day_parts import DayParts
from doe.words.fitted import changed_text
from doe.words.numbers import under_each_other

_COUNT = {"yes": "counts", "settling": "throw-away", "warm-up": "warm-up"}


def pull_rows(parts: DayParts, *, reasons: bool) -> list[dict[str, str]]:
    """One row a pull: as the tester logged it; with `reasons` what was typed in words too."""
    values = [pull.values.get(parts.day.metric.name) for pull in parts.pulls]
    shown = under_each_other(values, figures=6)  # of a trace the log has more than anybody reads; the data keep them
    return [_row(parts, pull, value, reasons=reasons) for pull, value in zip(parts.pulls, shown, strict=True)]


def _row(parts: DayParts, pull: Pull, value: str, *, reasons: bool) -> dict[str, str]:
    void = "void" if pull.void is not None else ""
    marked = ", outside limits" if not void and outside(parts.day, pull.values) else ""
    said = "; ".join(filter(None, (pull.void or "", pull.note))) if reasons else ""
    return {
        "pull": str(pull.number),
        "step": str(pull.run or ""),
        "time": f"{pull.time:%H:%M}" if pull.time else "",
        "fitted": changed_text(pull.configuration, parts.day.baseline),
        "fitting": str(pull.install),
        "value": value,
        "count": void or _COUNT[pull.count] + marked,
        "quiet": "quiet" if void or pull.count != "yes" else "",
        "said": said,
    }


def has_words(days: Sequence[DayParts]) -> bool:
    """Whether a tester typed anything beside the numbers."""
    return any(pull.void or pull.note for parts in days for pull in parts.pulls)


def embedded(
    document: Mapping[str, Any], days: Sequence[DayParts], more: Mapping[str, Any], *, reasons: bool
) -> Markup:
    """The data as JSON that no text in it can end.

    Parameters
    ----------
    document : mapping
        The judgement, as ``doe judge --json`` prints it.
    days : sequence of DayParts
    more : mapping
    reasons : bool
        Whether words that a tester typed are in it.
    """
    content = {
        "judgement": document,
        "days": [
            {
                "name": parts.name,
                "date": parts.day.day.date.isoformat(),
                "head": parts.head,
                "pulls": [_pull(pull, reasons=reasons) for pull in parts.pulls],
            }
            for parts in days
        ],
        **more,
    }
    return as_data(content)


def _pull(pull: Pull, *, reasons: bool) -> dict[str, Any]:
    told = pull_dict(pull)
    if reasons:
        return told
    return {**told, "void": None if pull.void is None else "held back", "note": "", "trace": ""}
