"""Days that were planned together: until the last of them is done every verdict is a look at their one risk."""

from __future__ import annotations

from collections.abc import Sequence

from doe.analysis.trials.from_folders import DayFolder, runs_due
from doe.day.files.campaign_link import CampaignLink, LinkedDay, campaign_link, missing_days


def links_of(days: Sequence[DayFolder]) -> list[CampaignLink | None]:
    """The link of each day, None where it was planned by itself or not at all."""
    return [campaign_link(day.plan.document) if day.plan else None for day in days]


def days_missing(days: Sequence[DayFolder]) -> tuple[LinkedDay, ...]:
    """The days that were planned together with these and are not named."""
    return missing_days(links_of(days))


def campaign_information(days: Sequence[DayFolder]) -> float | None:
    """Share of the planned information that is in, None where no day was planned with others.

    By the plan: what each day was to add, times the share of its pulls that were made. The risk of a look is the
    increment that this share may spend, and the increments add up to the whole risk whatever the true information is.
    """
    links = links_of(days)
    if not any(links):
        return None
    share = sum(link.own_share * _made(day) for link, day in zip(links, days, strict=True) if link)
    return min(share, 1.0)


def _made(day: DayFolder) -> float:
    """Share of the counted pulls of a day that are made; of those to come nothing is counted once it is over."""
    made = sum(pull.count == "yes" and pull.void is None for pull in day.pulls)
    due = sum(run.count == "yes" for run in runs_due(day))
    return made / (made + due) if made else 0.0
