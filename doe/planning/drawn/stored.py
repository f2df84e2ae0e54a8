"""The plan that a day folder has: read back from its files as it was written."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from doe.day.files.planfile import PLAN_JSON, PlanFile, dropped_in
from doe.day.files.which_folder import command
from doe.day.log.planned.followed import followed_plan
from doe.day.pilot.coming.ways import Alternative, Lost
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.drawn.outlook import Cut, FalseVerdicts, Wandering
from doe.planning.drawn.result import Drop, Plan, Practice, Question, Replaced
from doe.planning.drawn.study_worth import RefitWorth, StudyWorth
from doe.planning.wishes.prices import Priced
from doe.words.notes import noted


def stored_plan(folder: Path, day: DayFile) -> Plan | None:
    """The plan of a folder, None without one.

    Parameters
    ----------
    folder : Path
    day : DayFile
        As it stands now.

    Returns
    -------
    Plan or None
        The order as it is followed, also where it was edited by hand; the promise as it was written. A plan of an
        earlier version of the program has fewer figures, and one without plan.json none.

    Raises
    ------
    InputError
        plan.csv or plan.json can't be read.
    """
    kept = followed_plan(folder, day)
    if kept is None:
        return None
    try:
        return _plan(day, kept)
    except (KeyError, TypeError) as error:
        raise InputError(
            f"{folder / PLAN_JSON}: not as the program wrote it ({error}); '{command('plan', folder, '--new')}' draws"
            " another plan"
        ) from None


def _plan(day: DayFile, kept: PlanFile) -> Plan:
    document = kept.document
    wandering, study = document.get("if_it_wanders"), document.get("study")
    return Plan(
        day=day,
        runs=tuple(kept.runs),
        questions=tuple(Question(**row) for row in document.get("questions", ())),
        seed=document.get("seed", 0),
        expected_settled=document.get("expected_settled", 0.0),
        compared={name: _practice(row) for name, row in document.get("compared", {}).items()},
        one_at_a_time_settled=document.get("one_at_a_time_settled"),
        break_even_interplay=document.get("break_even_interplay"),
        drops=tuple(map(_drop, document.get("drops", ()))),
        notes=(*map(noted, document.get("notes", ())), *kept.notes),
        orders=kept.orders,
        made=document,
        replaced=_replaced(document.get("replaced")),
        study=None if study is None else _study(study),
        if_cut=tuple(Cut(**row) for row in document.get("if_cut", ())),
        if_filled=document.get("if_filled"),
        wishes=tuple(Priced(**row) for row in document.get("wishes", ())),
        wishes_cost=document.get("wishes_cost"),
        if_it_wanders=None if wandering is None else _wandering(wandering),
    )


def _drop(row: Mapping[str, Any]) -> Drop:
    in_vain = row.get("in_vain")
    return Drop(**{**row, "in_vain": in_vain and tuple(in_vain)})


def _practice(row: Mapping[str, Any]) -> Practice:
    gains = tuple((gain["factor"], gain["level"], gain["value"]) for gain in row["detectable_gain"])
    return Practice(row["expected_settled"], gains, row.get("sets_of"))


def _replaced(row: Mapping[str, Any] | None) -> Replaced | None:
    """As plan.json has it; one of an older version has no ways to choose from."""
    if row is None:
        return None
    ways = tuple(
        Alternative(**{**one, "lost": tuple(Lost(**lost) for lost in one["lost"])}) for one in row.get("ways", ())
    )
    return Replaced(row["from_minute"], row["taken"], dict(row["compared"]), seen=0, ways=ways, dropped=dropped_in(row))


def _study(row: Mapping[str, Any]) -> StudyWorth:
    rows = tuple(RefitWorth(**one) for one in row["rows"])
    return StudyWorth(**{**row, "rows": rows})


def _wandering(kept: Mapping[str, Any]) -> Wandering:
    """As plan.json has it; one of an older version has no false verdicts."""
    false = tuple(FalseVerdicts(**one) for one in kept.get("false_verdicts", ()))
    return Wandering(kept["wander_sd"], kept["settled"], false)
