"""What comes after the last pull of a day: a verdict, a page, another day of the campaign, the noise of a study."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from doe.day.clocks.stamp import read_clock
from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import FIRST_DAY, as_typed, command, days_beside, next_door
from doe.day.log.marks.ledger_names import was_judged
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.words.day import ending_words

if TYPE_CHECKING:
    from doe.day.log.looks import Look

DONE, JUDGED, CLOSED, STUDIED, ANOTHER_DAY = "done", "judged", "closed", "study done", "another day is due"


class Ending(NamedTuple):
    """What is due once nothing is to be pulled any more."""

    state: str  #: one word of JSON
    says: str  #: why nothing is to be pulled
    command: str  #: the line to type

    @property
    def closes(self) -> bool:
        """Whether somebody said that no more pulls will be made."""
        return self.state == CLOSED


def is_closed(folder: Path) -> bool:
    """Whether somebody said that no more pulls will be made; not by a ledger that can't be read."""
    with suppress(InputError):
        return _closed(_looks(folder))
    return False


def ending_of(folder: Path, day: DayFile) -> Ending:
    """What is due after the last pull of a day folder.

    Where the ledger or the plan can't be read it is the verdict: `doe judge` tells what is wrong with them.
    """
    try:
        return _ending(folder, day)
    except InputError:
        return Ending(DONE, ending_words.DONE, command("judge", folder))


def _ending(folder: Path, day: DayFile) -> Ending:
    looks = _looks(folder)
    finals = [look for look in looks if look.final and not look.reopened]
    report = command("report", folder)
    if _closed(looks):
        return Ending(CLOSED, ending_words.CLOSED, report)
    if not day.questions:
        return Ending(STUDIED, ending_words.STUDIED, command("noise", folder, f"--save-to {_day_to_plan(folder, day)}"))
    from doe.day.pilot.coming.days_together import days_together, earlier_day_missing  # only then: somebody waits

    plan = followed_plan(folder, day)
    document = plan.document if plan else {}
    days = days_together(folder, document)
    judged = bool(finals) and finals[-1].pulls == _counted(folder, day)
    if judged and not any(one != folder and _has_hours(one) for one in days):
        return Ending(JUDGED, ending_words.judged(finals[-1].time), report)
    if missing := earlier_day_missing(folder, document):
        line = command("judge", "", f"{next_door(folder, missing)} {as_typed(folder) or '.'}")
        return Ending(DONE, ending_words.elsewhere(missing), line)
    if len(days) == 1:
        return Ending(DONE, ending_words.DONE, command("judge", folder))
    together = command("judge", "", *(as_typed(one) or "." for one in days))
    if unfinished := [one for one in days if one != folder and not _is_done(one)]:
        later = days[days.index(folder) :] if folder in days else days
        says = ending_words.goes_on(unfinished[0].resolve().name, "" if unfinished[0] in later else together)
        return Ending(ANOTHER_DAY, says, command("next", unfinished[0]))
    return Ending(DONE, ending_words.together(len(days)), together)


def _looks(folder: Path) -> list[Look]:
    """The ledger of a day; of most days, which nobody has judged yet, what reads it isn't loaded."""
    if not was_judged(folder):
        return []
    from doe.day.log.looks import read_looks

    return read_looks(folder)


def _closed(looks: list[Look]) -> bool:
    """Whether the last verdict closed the day."""
    if not looks:
        return False
    from doe.day.log.marks.closing import closing_of  # as in `_looks`

    return closing_of(looks) is not None


def _counted(folder: Path, day: DayFile) -> int:
    """How many pulls count: a verdict that saw fewer is not the last."""
    pulls = read_log(folder, day, followed_plan(folder, day), salvage=True).pulls
    return sum(pull.counts for pull in pulls)


def _is_done(folder: Path) -> bool:
    """Whether no pull of a day's plan is due; one that can't be read is not done."""
    from doe.day.pilot.beginning import stands  # what writes: loaded for a campaign only, while somebody waits

    with suppress(InputError):
        standing, _ = stands(folder, read_day_file(folder), salvage=True)
        return bool(standing.runs) and not (standing.due or standing.lost)
    return False


def _has_hours(folder: Path) -> bool:
    """Whether a day has pulls due and hours to make them in; one that was closed or can't be read has none."""
    with suppress(InputError):
        day = read_day_file(folder)
        plan = followed_plan(folder, day)
        if plan is None or is_closed(folder) or _is_done(folder):
            return False
        return day.minute_at(read_clock().moment) <= plan.finish_minute(day)
    return False


def _day_to_plan(folder: Path, study: DayFile) -> str:
    """The day next door that a study was made for: the first with questions from its date on, else its place."""
    found = []
    for one in days_beside(folder):
        with suppress(InputError):
            day = read_day_file(one)
            if day.questions and day.day.date >= study.day.date:
                found.append((day.day.date, as_typed(one)))
    return min(found)[1] if found else next_door(folder, FIRST_DAY)
