"""What is noted of one change: a code for programs, the sentence beside its line."""

from __future__ import annotations

import pytest

import doe
from doe.analysis.archive.verdicts_of_archive import _why_not


def why_nothing(part, power=None, **options):
    power = power or [400.0 + i * 0.7 % 1.3 for i in range(len(part))]
    return doe.judge({"part": part, "power": power}, value="power", change="part", baseline="off", **options)


@pytest.mark.parametrize(
    ("part", "power", "code"),
    [
        (["off", "on"], None, "nothing-repeated"),
        (["off", "off", "on", "on"], None, "refit-scatter-unknown"),
        (["off", "on", "off", "on", "off"], [400.0, 401, 400, 401, 400], "rounded-away"),
    ],
)
def test_why_there_is_no_interval_has_a_code(part, power, code):
    judgement = why_nothing(part, power)
    (note,) = judgement.changes[0].notes
    assert (note.code, note.where, note.severity) == (code, "part on", "fatal")
    document = judgement.to_dict()
    assert document["changes"][0]["notes"] == (note.text,) == judgement.to_frame()["notes"][0]
    assert note.to_dict() in document["notes"] and note.text not in document["warnings"]
    assert note.text in judgement.to_text(details=True) and _why_not(judgement.changes[0]) == note.text


@pytest.mark.parametrize(
    ("oil", "vacuum", "code"),
    [
        (["A", "B", "A", "B", "A", "A"], ["no", "yes", "no", "yes", "no", "no"], "always-together"),
        (["A", "A", "B", "B", "A", "B"], ["yes", "no", "yes", "no", "yes", "yes"], None),
    ],
)
def test_what_cannot_be_told_apart_has_a_code(oil, vacuum, code):
    third = ["no", "no", "no", "no", "yes", "no"]  # something that can be told, so that the day is judged
    rows = {"oil": oil, "vacuum": vacuum, "spark": third, "power": [400.0, 402.1, 400.4, 401.9, 403, 400.2]}
    judgement = doe.judge(rows, value="power", change=["oil", "vacuum", "spark"], baseline=["A", "no", "no"])
    found = {note.code for gain in judgement.changes for note in gain.notes if gain.gain is None}
    assert found == ({code} if code else set())
    assert {note["where"] for note in judgement.to_dict()["notes"] if note["code"] == code} == (
        {"oil B", "vacuum yes"} if code else set()
    )
