"""The days that are judged together: each plan names the day before it, and the folders lie side by side."""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import AFTER, CAMPAIGN, PLAN_JSON
from doe.day.files.which_folder import days_beside, is_day
from doe.errors import InputError

if TYPE_CHECKING:
    from doe.day.files.campaign_link import CampaignLink


def days_together(folder: Path, document: Mapping[str, Any]) -> list[Path]:
    """The days of a campaign in the order of their plans, this one among them; only this one where it is alone.

    Parameters
    ----------
    folder : Path
        Of one day.
    document : mapping
        What its plan.json holds.
    """
    if link := _campaign_link(document):
        found = {one.resolve().name: one for one in (*days_beside(folder), folder)}
        return [found[day.folder] for day in link.days if day.folder in found] or [folder]
    days, before = [folder], document.get(AFTER)
    beside = {one.resolve().name: one for one in days_beside(folder)}
    while isinstance(before, Mapping) and (earlier := beside.pop(str(before.get("folder")), None)) is not None:
        days.insert(0, earlier)
        before = _document(earlier).get(AFTER)
    links = {name: _document(one).get(AFTER) for name, one in beside.items()}
    while following := [name for name, link in links.items() if _goes_on_with(link, days[-1])]:
        days.append(beside[following[0]])
        del links[following[0]]
    return days


def earlier_day_missing(folder: Path, document: Mapping[str, Any]) -> str:
    """The name of the day that a plan goes on with, where no such folder lies next door; else ""."""
    before = document.get(AFTER)
    name = str(before.get("folder")) if isinstance(before, Mapping) else ""
    return name if name and not is_day(folder.resolve().parent / name) else ""


def _campaign_link(document: Mapping[str, Any]) -> CampaignLink | None:
    """The days planned together with one, None of a day that was planned alone."""
    if CAMPAIGN not in document:  # most days: the rest is loaded while a tester waits
        return None
    from doe.day.files.campaign_link import campaign_link

    return campaign_link(document)


def _goes_on_with(link: object, folder: Path) -> bool:
    """Whether a plan goes on with a day: by the folder's name and its date."""
    if not isinstance(link, Mapping) or link.get("folder") != folder.resolve().name:
        return False
    with suppress(InputError):
        return link.get("date") == read_day_file(folder).day.date.isoformat()
    return False


def _document(folder: Path) -> Mapping[str, Any]:
    """What plan.json of another day holds, nothing where it can't be read."""
    path = folder / PLAN_JSON
    with suppress(OSError, ValueError):
        document = json.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}  # a pipe would be waited for
        return document if isinstance(document, dict) else {}
    return {}
