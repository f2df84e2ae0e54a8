"""What plan.json and orders.txt hold besides the plan itself: how it was made, sealed and drawn."""

from __future__ import annotations

import hashlib
import json
import string
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from doe import __version__
from doe.day.files.seal import seal_entries
from doe.day.records import Run
from doe.day.schema import MATERIAL_KEYS, Configuration, DayFile
from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.exact import Promise
from doe.planning.search.choose import Choice
from doe.planning.search.randomise import Drawn
from doe.stats.multivariate_t import critical_value
from doe.words.significance import inner_level

DAY_DIGEST = "day_digest"  # key of plan.json
NO_OTHER_ORDER = "no other order keeps this plan's timetable and is worth as much"
_ALPHABET = string.ascii_uppercase + string.ascii_lowercase + string.digits


def letter(place: int) -> str:
    """One character for each configuration; beyond 62 of them, of other alphabets."""
    return _ALPHABET[place] if place < len(_ALPHABET) else chr(0x0391 + place)


def order_lines(drawn: Drawn) -> tuple[str, ...]:
    """The drawn order and the further ones, one letter a slot; nothing where there was nothing to draw."""
    numbers = np.unique(drawn.orders)
    if not (drawn.orders != drawn.orders[0]).any():
        return ()
    letters = np.array([letter(place) for place in range(len(numbers))])
    return tuple("".join(row) for row in letters[np.searchsorted(numbers, drawn.orders)])


def made_by(choice: Choice, runs: Sequence[Run], promise: Promise, seed: int, effort: str) -> dict[str, Any]:
    """What plan.json holds besides what ``doe plan --json`` prints."""
    arrays, drawn = choice.arrays, choice.drawn
    unable = not_randomised(choice)
    return {
        **seal_entries(arrays.day),
        DAY_DIGEST: drawn_from_day(arrays.day),
        "program": __version__,
        "generator": f"numpy {np.__version__} PCG64",
        "effort": effort,
        "evaluations": choice.searched.evaluations,
        "stopped_early": choice.searched.stopped,
        "skeleton": stint_list(arrays, choice.skeleton),
        "family": family(promise, float(arrays.confidence.min())),
        "drawn_from": {
            "kind": "pairs" if choice.pairs else "shuffled",
            "reference": drawn.reference,
            "threshold": drawn.threshold,
            "smallest_p": smallest_p(arrays, drawn),
        },
        "orders": None if unable else {"letters": letters(arrays, drawn), "slots": slots(drawn.plan, runs)},
        "not_randomised": unable,
    }


def drawn_from_day(day: DayFile) -> str:
    """SHA-256 of all of day.toml that a plan is drawn from: hours, cell, metric, noise, parts, wishes; not prices.

    Not the seal: hours and minutes may change during the day, but a plan was drawn for the old ones.
    """
    own: dict[str, Any] = dict.fromkeys(MATERIAL_KEYS, True)
    content = day.model_dump(
        mode="json",
        include={"day", "cell", "metric", "noise", "analysis", "factor", "wishes"},
        exclude={"day": {"currency", "per_hour"}, "factor": {"__all__": {**own, "change": {"__all__": own}}}},
    )
    for part in content["factor"]:
        if part["from_pull"] is None:  # a key that the plans of older versions didn't know
            del part["from_pull"]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def made_from(document: Mapping[str, Any], day: DayFile) -> bool:
    """Whether a plan was drawn from day.toml as it is now, by what plan.json holds; so it is where that isn't known."""
    return document.get(DAY_DIGEST, drawn_from_day(day)) == drawn_from_day(day)


def stint_list(arrays: DayArrays, plan: Batch) -> list[dict[str, Any]]:
    """A plan as stints."""
    return [
        {"configuration": dict(stint.configuration), "pulls": stint.pulls, "fresh": stint.fresh}
        for stint in arrays.stints(plan.order[0], plan.pulls[0], plan.fresh[0])
    ]


def letters(arrays: DayArrays, drawn: Drawn) -> dict[str, Configuration]:
    """What each letter of orders.txt means."""
    return {letter(place): arrays.configuration(int(number)) for place, number in enumerate(np.unique(drawn.orders))}


def slots(plan: Batch, runs: Sequence[Run]) -> list[list[int]]:
    """Run numbers of the counted pulls in each slot."""
    counted = iter([run.run for run in runs if run.counts])
    return [[next(counted) for _ in range(int(pulls))] for pulls in plan.pulls[0] if pulls > 0]


def smallest_p(arrays: DayArrays, drawn: Drawn) -> list[dict[str, Any]]:
    """Smallest randomisation p that each question can get."""
    return [
        {"factor": factor.name, "level": change.level, "p": p}
        for (factor, change), p in zip(arrays.day.questions, drawn.smallest_p(arrays), strict=True)
    ]


def not_randomised(choice: Choice) -> str | None:
    """Why there is nothing to compare the drawn order with, in words; None where there is."""
    if order_lines(choice.drawn):
        return None
    return f"{NO_OTHER_ORDER}; {choice.no_pairs_because}" if choice.no_pairs_because else NO_OTHER_ORDER


def family(promise: Promise, level: float) -> dict[str, float | None]:
    """Exact critical values of the family at its largest df, by the correlation of the gains."""
    asked = np.flatnonzero(promise.asked & (promise.precision.df > 0))
    if not len(asked):
        return {"df": None, "outer": None, "inner": None}
    covariance = promise.precision.covariance[np.ix_(asked, asked)]
    sd = np.sqrt(np.diag(covariance))
    df = float(promise.precision.df[asked].max())
    correlation = covariance / np.outer(sd, sd)
    return {
        "df": df,
        "outer": critical_value(correlation, df, level),
        "inner": critical_value(correlation, df, inner_level(level)),
    }
