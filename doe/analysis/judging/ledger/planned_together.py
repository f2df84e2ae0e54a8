"""Days that were planned together: until the last of them is done every verdict is a look at their one risk."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from doe.analysis.trials.from_folders import DayFolder, runs_due
from doe.day.files.campaign_link import CampaignLink, LinkedDay, campaign_link, missing_days
from doe.day.files.which_folder import as_typed, command
from doe.day.pilot.coming.days_together import days_together
from doe.errors import InputError


def links_of(days: Sequence[DayFolder]) -> list[CampaignLink | None]:
    """The link of each day, None where it was planned by itself or not at all."""
    return [campaign_link(day.plan.document) if day.plan else None for day in days]


def days_missing(days: Sequence[DayFolder]) -> tuple[LinkedDay, ...]:
    """The days that were planned together with these and are not named."""
    return missing_days(links_of(days))


def pulled_next(days: Sequence[DayFolder]) -> Path | None:
    """The folder of the day that has pulls to make next: one of these, or one that was planned together with them.

    Of these the first that is not over; else a later one next door that its plan has pulls for, else an earlier one
    that was left out; None where there is none.
    """
    if still := [day.folder for day in days if not day.finished()]:
        return still[0]
    due = [day.folder for day in _left_out(days) if any(run.counts for run in runs_due(day))]
    return due[0] if due else None


def judges_all(days: Sequence[DayFolder]) -> str:
    """The line that judges all days that were planned together; "" where not all of them are over and next door."""
    return judge_line(over) if (over := _all_over(days)) else ""


def judge_line(folders: Sequence[Path]) -> str:
    """The line that judges some days, as it is typed."""
    if len(folders) == 1:
        return command("judge", folders[0])
    return command("judge", "", *[as_typed(folder) or "." for folder in folders])


def _all_over(days: Sequence[DayFolder]) -> list[Path]:
    """All days that were planned together, in their order; none where one is to come, or does not lie next door."""
    left_out = list(_left_out(days))
    if len(left_out) < len(days_missing(days)) or not all(day.finished() for day in left_out):
        return []
    together = sorted([*days, *left_out], key=lambda day: (day.day.day.date, day.day.day.start))
    return [day.folder for day in together]


def _left_out(days: Sequence[DayFolder]) -> Iterator[DayFolder]:
    """The days next door that were planned together with these and are not named, those after the last of them first.

    One that can't be read is none.
    """
    last = days[-1]
    there = days_together(last.folder, last.plan.document) if last.plan and days_missing(days) else []
    names = [folder.resolve().name for folder in there]
    behind = names.index(last.name) + 1 if last.name in names else 0
    named = {day.name for day in days}
    for folder in (*there[behind:], *there[:behind]):
        if folder.resolve().name not in named:
            with suppress(InputError):
                yield DayFolder.read(folder)


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
    made = sum(pull.counts for pull in day.pulls)
    due = sum(run.counts for run in runs_due(day))
    return made / (made + due) if made else 0.0
