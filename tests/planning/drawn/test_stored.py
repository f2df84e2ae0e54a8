"""A plan read back from its folder says what it said when it was drawn."""

from __future__ import annotations

import json

import pytest

from doe.errors import InputError
from doe.planning.drawn.documents import made_from
from doe.planning.drawn.plan import plan_day
from doe.planning.drawn.stored import stored_plan
from doe.planning.under_way.replan import replan


@pytest.fixture
def folder(tmp_path, make_text):
    (tmp_path / "day.toml").write_text(make_text(), encoding="utf-8")
    return tmp_path


def test_it_says_what_it_said(folder) -> None:
    drawn = plan_day(folder, seed=1, effort="quick")
    assert stored_plan(folder, drawn.day) is None
    drawn.save(folder)
    kept = stored_plan(folder, drawn.day)
    assert kept.to_text(details=True) == drawn.to_text(details=True)
    assert kept.to_dict() == drawn.to_dict()
    assert made_from(kept.made, drawn.day)
    assert not made_from(kept.made, drawn.day.model_copy(update={"noise": drawn.day.noise.model_copy(
        update={"pull_sd": 2.0})}))  # fmt: skip


def test_the_plan_for_the_rest_of_a_day_says_what_it_said(folder) -> None:
    plan_day(folder, seed=1, effort="quick").save(folder)
    rest = replan(folder, now=60.0, seed=2, effort="quick")
    rest.save(folder)
    kept = stored_plan(folder, rest.day)
    assert kept.to_text(details=True) == rest.to_text(details=True)


def test_a_noise_study_says_what_it_said(tmp_path, make_text) -> None:
    part = '[[factor]]\nname = "oil"\nbaseline = "base"\nrefit = true\nrefit_minutes = 12\nsettling_pulls = 1\n'
    (tmp_path / "day.toml").write_text(make_text(factors=part), encoding="utf-8")
    drawn = plan_day(tmp_path, seed=1)
    drawn.save(tmp_path)
    assert stored_plan(tmp_path, drawn.day).to_text(details=True) == drawn.to_text(details=True)


def test_a_document_written_by_somebody_else_is_refused_in_words(folder) -> None:
    drawn = plan_day(folder, seed=1, effort="quick")
    drawn.save(folder)
    (folder / "pulls.journal").unlink()
    document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    (folder / "plan.json").write_text(json.dumps({**document, "questions": [{"part": "oil"}]}), encoding="utf-8")
    with pytest.raises(InputError, match=r"not as the program wrote it.*--new' draws another"):
        stored_plan(folder, drawn.day)


def test_a_plan_without_its_document_still_shows_its_order(folder) -> None:
    drawn = plan_day(folder, seed=1, effort="quick")
    drawn.save(folder)
    for name in ("plan.json", "orders.txt", "pulls.journal"):
        (folder / name).unlink(missing_ok=True)
    kept = stored_plan(folder, drawn.day)
    assert kept.runs == drawn.runs
    assert "The day" in kept.to_text(details=True)
