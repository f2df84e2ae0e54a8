"""The table of every pull: what counts, and which of them began outside [limits]."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

from doe.report.sections.every_pull import pull_rows


def test_a_counted_pull_outside_the_limits_is_marked_and_not_made_pale(day, pulls):
    limited = day.model_copy(update={"limits": {"oil_temp_c": (85.0, 95.0)}})
    counted = next(pull for pull in pulls if pull.count == "yes" and pull.void is None)
    void = next(pull for pull in pulls if pull.void is not None)
    hot, fair, gone = (
        replace(pull, values={**pull.values, "oil_temp_c": degrees})
        for pull, degrees in ((counted, 99.0), (counted, 90.0), (void, 99.0))
    )
    rows = pull_rows(SimpleNamespace(day=limited, pulls=(hot, fair, gone)), reasons=True)
    assert [row["count"] for row in rows] == ["counts, outside limits", "counts", "void"]
    assert [row["quiet"] for row in rows] == ["", "", "quiet"]
