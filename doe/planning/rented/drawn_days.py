"""From the searched days to their plans: each order drawn, each plan with the promise of all days, linked and sealed.

Each day's order is drawn given the other days as they were searched, not as they are drawn: so the orders that all days
might have had are every combination of theirs, and one randomisation test goes over all of them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from doe import __version__
from doe.day.files.campaign_link import CampaignLink, LinkedDay
from doe.day.files.planfile import CAMPAIGN
from doe.day.files.seal import seal_entries, seal_of
from doe.day.schema import DayFile
from doe.planning.arrays.batch import tidy
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.documents import (
    DAY_DIGEST,
    NO_OTHER_ORDER,
    drawn_from_day,
    family,
    letters,
    order_lines,
    slots,
    smallest_p,
    stint_list,
)
from doe.planning.drawn.exact import Promise
from doe.planning.drawn.promises import promised
from doe.planning.drawn.result import Plan
from doe.planning.rented.exchange_days import OneDay, Together, given_others, others
from doe.planning.search.choose import ALL_KEEP
from doe.planning.search.randomise import Drawn, draw
from doe.words.day.pull_words import quoted
from doe.words.plans import plan_notes


def drawn_orders(together: Together, whole: float, seed: int) -> list[Drawn]:
    """An order of each day.

    Parameters
    ----------
    together : Together
    whole : float
        Questions that the whole days settle: the draws of all days together go no further below it than one day's may.
    seed : int
    """
    days = together.days
    least = together.settled - max(together.settled - ALL_KEEP * whole, 0.0) / len(days)
    found = []
    for number, day in enumerate(days):
        assert day.plan is not None
        random = np.random.default_rng([seed, 3, number])
        found.append(draw(given_others(days, number), day.plan, random, least=(least,)))
    return found


def with_orders(together: Together, drawn: Sequence[Drawn]) -> list[OneDay]:
    """The days with the orders drawn."""
    return [replace(day, plan=tidy(own.plan)) for day, own in zip(together.days, drawn, strict=True)]


def linked_days(files: Sequence[DayFile], folders: Sequence[Path], shares: Sequence[float]) -> tuple[LinkedDay, ...]:
    """What each plan says of all days."""
    return tuple(
        LinkedDay(folder.resolve().name, day.day.date.isoformat(), share)
        for folder, day, share in zip(folders, files, shares, strict=True)
    )


def plans_of(
    searched: Together,
    drawn: Sequence[Drawn],
    files: Sequence[DayFile],
    folders: Sequence[Path],
    *,
    shares: Sequence[float],
    seed: int,
    effort: str,
) -> tuple[Plan, ...]:
    """A plan a day, each with the promise of all days.

    Parameters
    ----------
    searched : Together
    drawn : sequence of Drawn
    files : sequence of DayFile
        As they stand in the folders, for the seals.
    folders : sequence of Path
    shares : sequence of float
        Of the planned information, by the end of each day.
    seed : int
    effort : str
    """
    days = with_orders(searched, drawn)
    linked = linked_days(files, folders, shares)
    name = hashlib.sha256(json.dumps([seed, *map(seal_of, files), *map(str, linked)]).encode()).hexdigest()[:12]
    notes = (plan_notes.planned_together([quoted(str(folder)) for folder in folders]),) if len(days) > 1 else ()
    found = []
    for number, (one, day) in enumerate(zip(days, files, strict=True)):
        assert one.plan is not None
        arrays = replace(one.arrays, history=others(days, number))
        plan, promise = promised(arrays, one.plan, seed)
        made = {
            **seal_entries(day),
            DAY_DIGEST: drawn_from_day(day),
            CAMPAIGN: CampaignLink(name, number + 1, linked).to_dict(),
            "effort": effort,
            **_how_drawn(arrays, plan, searched.days[number], promise, drawn[number]),
        }
        found.append(replace(plan, notes=(*notes, *plan.notes), orders=order_lines(drawn[number]), made=made))
    return tuple(found)


def _how_drawn(arrays: DayArrays, plan: Plan, searched: OneDay, promise: Promise, drawn: Drawn) -> Mapping[str, Any]:
    """Of what, and from which orders."""
    assert searched.plan is not None
    told = bool(order_lines(drawn))
    return {
        "program": __version__,
        "generator": f"numpy {np.__version__} PCG64",
        "skeleton": stint_list(arrays, searched.plan),
        "family": family(promise, float(arrays.confidence.min())),
        "drawn_from": {
            "kind": "shuffled",
            "reference": drawn.reference,
            "threshold": drawn.threshold,
            "smallest_p": smallest_p(arrays, drawn),
        },
        "orders": {"letters": letters(arrays, drawn), "slots": slots(drawn.plan, plan.runs)} if told else None,
        "not_randomised": None if told else NO_OTHER_ORDER,
    }
