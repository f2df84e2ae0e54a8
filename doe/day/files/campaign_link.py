"""What plan.json says of the days that were planned together: they share one risk, and each names all of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from doe.day.files.planfile import CAMPAIGN


@dataclass(frozen=True, slots=True)
class LinkedDay:
    """One of the days."""

    folder: str  #: its name, without the path
    date: str  #: ISO 8601
    share: float  #: of the campaign's planned information that is in when this day is done, 0 to 1


@dataclass(frozen=True, slots=True)
class CampaignLink:
    """Which of the days planned together a plan is for."""

    name: str  #: the same in each of its days
    number: int  #: 1 is the first day
    days: tuple[LinkedDay, ...]

    def to_dict(self) -> dict[str, Any]:
        """As in plan.json."""
        days = [{"folder": day.folder, "date": day.date, "share": day.share} for day in self.days]
        return {"name": self.name, "number": self.number, "days": days}

    @property
    def own_share(self) -> float:
        """How much of the planned information this day adds to those before it."""
        before = self.days[self.number - 2].share if self.number > 1 else 0.0
        return max(self.days[self.number - 1].share - before, 0.0)


def campaign_link(document: Mapping[str, Any]) -> CampaignLink | None:
    """The link that a plan.json holds, None where it holds none that can be read."""
    link = document.get(CAMPAIGN)
    try:
        days = tuple(LinkedDay(str(one["folder"]), str(one["date"]), float(one["share"])) for one in link["days"])  # type: ignore[index]
        found = CampaignLink(str(link["name"]), int(link["number"]), days)  # type: ignore[index]
    except (KeyError, TypeError, ValueError):
        return None
    return found if 1 <= found.number <= len(days) else None


def missing_days(links: Sequence[CampaignLink | None]) -> tuple[LinkedDay, ...]:
    """The days that were planned together with some days and are not among them."""
    there = {(link.name, link.number) for link in links if link}
    whole = {link.name: link for link in links if link}
    return tuple(
        day
        for name, link in whole.items()
        for number, day in enumerate(link.days, start=1)
        if (name, number) not in there
    )
