"""What material and prices in day.toml must hold to make sense: money has a currency."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from doe.day.files.toml_faults import Fault, as_toml

_PRICES = ("per_fitting_cost", "price")


def price_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    """A price without a currency: what it costs can't be told."""
    day = raw.get("day")
    table = day if isinstance(day, Mapping) else {}
    if table.get("currency"):
        return
    for place, key, value in _prices(raw, table):
        yield Fault(place, f'{key} = {as_toml(value)}: expected currency = "EUR", or another, in [day] beside it')


def _prices(raw: Mapping[str, Any], day: Mapping[str, Any]) -> Iterator[tuple[str, str, Any]]:
    if "per_hour" in day:
        yield "[day]", "per_hour", day["per_hour"]
    for number, factor in enumerate(_tables(raw.get("factor")), start=1):
        place = f'[[factor]] {number} "{factor.get("name", "")}"'
        yield from ((place, key, factor[key]) for key in _PRICES if key in factor)
        for nth, change in enumerate(_tables(factor.get("change")), start=1):
            yield from ((f"{place} / change {nth}", key, change[key]) for key in _PRICES if key in change)


def _tables(listed: Any) -> list[Mapping[str, Any]]:
    return [item for item in listed if isinstance(item, Mapping)] if isinstance(listed, list) else []
