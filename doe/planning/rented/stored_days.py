"""The plans that some days have together, read back from their folders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.day.files.campaign_link import campaign_link, missing_days
from doe.day.schema import DayFile
from doe.planning.drawn.result import Plan
from doe.planning.drawn.stored import stored_plan
from doe.planning.rented.after_each import AfterDay, Look, Settled
from doe.planning.rented.several_days import TOGETHER, SeveralDays
from doe.planning.under_way.linked_days import planned_at
from doe.words.phrases import WIDTH
from doe.words.plans.rented_words import promise_gone
from doe.words.result import Told
from doe.words.screen import Part, Screen, filled


@dataclass(frozen=True, slots=True, repr=False)
class DaysAsTheyStand(Told):
    """The plans of some days since the rest of one was planned anew: what all promised together holds no more."""

    folders: tuple[Path, ...]  #: in the order of their dates
    plans: tuple[Plan, ...]  #: as each is followed now
    replanned: tuple[Path, ...]  #: whose rest was planned anew
    last: Path  #: of these the one that was planned anew last: its plan counts on what the others stand at

    def to_dict(self) -> dict[str, Any]:
        """Full precision; a plan each, as ``doe plan --json`` has it."""
        return {
            "replanned": [str(folder) for folder in self.replanned],
            "holds": str(self.last),
            "days": [
                {"folder": str(folder), "date": plan.day.day.date.isoformat(), **plan.to_dict()}
                for folder, plan in zip(self.folders, self.plans, strict=True)
            ],
        }

    def to_frame(self) -> Any:
        """One tidy row per question of each day's plan, with its folder (a pandas DataFrame)."""
        import pandas as pd

        frames = [plan.to_frame() for plan in self.plans]
        found = pd.concat(frames, keys=[str(folder) for folder in self.folders], names=["folder"])
        found.attrs["units"] = frames[0].attrs["units"]
        return found.reset_index(level="folder").reset_index(drop=True)

    def screen(self) -> Screen:
        """Why there is no promise of all days together, and the plan of each day."""
        parts: list[Part] = []
        for folder, plan in zip(self.folders, self.plans, strict=True):
            screen = plan.screen()
            parts += [str(folder), screen.first, *screen.parts]
        return Screen(self._why(), tuple(parts))

    def full_text(self, width: int = WIDTH) -> str:
        """The same with all that is known of each plan."""
        plans = [f"{folder}\n\n{plan.full_text(width)}" for folder, plan in zip(self.folders, self.plans, strict=True)]
        return "\n\n\n".join([filled(self._why(), width), *plans])

    def _why(self) -> str:
        return promise_gone([str(folder) for folder in self.replanned], str(self.last))


def stored_days(found: Sequence[tuple[Path, DayFile]]) -> SeveralDays | DaysAsTheyStand | None:
    """The days as they were planned together; None where they have no plans, or not one in common.

    Where the rest of one was planned anew they are shown as they stand now, without what they promised together.

    Parameters
    ----------
    found : sequence of (Path, DayFile)
        All days of the campaign, in the order of their dates.

    Raises
    ------
    InputError
        plan.csv or plan.json can't be read.
    """
    plans = [plan for folder, day in found if (plan := stored_plan(folder, day)) is not None]
    links = [campaign_link(plan.made) for plan in plans]
    names = {link.name if link else None for link in links}
    if len(plans) < len(found) or len(names) > 1 or None in names or missing_days(links):
        return None
    anew = [folder for (folder, _), plan in zip(found, plans, strict=True) if plan.replaced is not None]
    if anew:
        last = max(anew, key=planned_at)
        return DaysAsTheyStand(tuple(folder for folder, _ in found), tuple(plans), tuple(anew), last)
    kept = plans[-1].made.get(TOGETHER) or {}
    return SeveralDays(
        folders=tuple(folder for folder, _ in found),
        plans=tuple(plans),
        seed=plans[-1].seed,
        after_each=tuple(map(_after, kept.get("after_each", ()))),
        if_filled=kept.get("if_filled"),
        needless=tuple(kept.get("needless", ())),
    )


def _after(row: Mapping[str, Any]) -> AfterDay:
    look = row["look"]
    return AfterDay(
        row["day"],
        row["share"],
        row["settled"],
        tuple(Settled(**one) for one in row["questions"]),
        None if look is None else Look(**look),
    )
