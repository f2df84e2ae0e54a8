"""Fittings: one occasion of putting a part on, numbered for each refit factor by itself.

A fitting lasts until that factor is next changed or fitted afresh. A part left alone while another is changed keeps
its fitting: one number for "anything was refitted" would count a part that went on once as often as the oil was
changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from doe.day.names import name_key
from doe.day.records import Pull, Run
from doe.day.schema import DayFile, Factor

_FLUIDS = ("oil", "fuel", "coolant", "fluid", "water", "petrol", "gasoline", "diesel", "grease", "lubricant")


def fresh_text(factor: Factor, level: str) -> str:
    """The order to fit the same part again: "drain, refill the same 15W-50"."""
    fluid = any(word in name_key(factor.name) for word in _FLUIDS)
    return f"{'drain, refill' if fluid else 'take off, refit'} the same {level}"


def fittings_of(day: DayFile, rows: Sequence[Run | Pull]) -> dict[str, list[int]]:
    """Fitting number of each row, for each refit factor; the first is 1.

    Parameters
    ----------
    rows : sequence of Run or Pull
        Everything that was made or is planned, voided and settling pulls included, in the order of making. A pull
        logged later in another's place (the same install number) is taken where its install was.

    Returns
    -------
    dict of str to list of int
        One list a refit factor, aligned with `rows`.
    """
    numbers = {factor.name: [1] * len(rows) for factor in day.refit_factors}
    order = sorted(range(len(rows)), key=lambda at: rows[at].install)
    for earlier, later in pairwise(order):
        refitted = refitted_between(day, rows[earlier], rows[later])
        for name, own in numbers.items():
            own[later] = own[earlier] + (name in refitted)
    return numbers


def refitted_between(day: DayFile, before: Run | Pull, after: Run | Pull) -> tuple[str, ...]:
    """The refit factors that get a new fitting between two rows: changed, or the same part fitted afresh."""
    if after.install == before.install and after.configuration == before.configuration:
        return ()
    names = [factor.name for factor in day.refit_factors]
    first = [factor.name for factor in day.refit_factors if not factor.from_pull]
    changed = [name for name in names if before.configuration[name] != after.configuration[name]]
    if after.install == before.install:
        return tuple(changed)
    fresh = (
        _fresh_of_pull(after, changed, names, first) if isinstance(after, Pull) else _fresh_of_run(day, after, changed)
    )
    return (*changed, *(name for name in fresh if name not in changed))


def _fresh_of_pull(pull: Pull, changed: list[str], names: list[str], first: list[str]) -> list[str]:
    """The factor that was fitted afresh: the one recorded, else the only one there is, or was when the day began."""
    if pull.fresh in names:
        return [str(pull.fresh)]
    own = first if len(first) == 1 else names
    return own if len(own) == 1 and not changed else []


def _fresh_of_run(day: DayFile, run: Run, changed: list[str]) -> list[str]:
    """The factor that a plan orders to be fitted afresh: the one that `do` speaks of, else the first."""
    factors = day.refit_factors
    ordered = [factor.name for factor in factors if fresh_text(factor, run.configuration[factor.name]) in run.do]
    if ordered or changed:
        return ordered
    named = [factor.name for factor in factors if run.configuration[factor.name] in run.do]
    return (named or [factor.name for factor in factors])[:1]
