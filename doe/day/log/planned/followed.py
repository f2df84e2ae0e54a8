"""The plan as the journal has it: each plan is an event with all its rows, and the plan's files are views of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from doe.day.files.planfile import ORDERS, PLAN_CSV, PLAN_JSON, PlanFile, read_plan, replaced_runs, runs_of_rows
from doe.day.log.chain import read_note
from doe.day.log.journal import scan_journal
from doe.day.log.lines import JOURNAL
from doe.day.records import Event, Run
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.words.day import log_notes

PLAN, REPLAN = "plan", "replan"
UNDOES = "undoes"  # in a payload: the number of the event whose plan was taken back
_BY_HAND = f"{PLAN_CSV} was edited by hand, so the order is not the one that was drawn"


def followed_plan(folder: Path, day: DayFile) -> PlanFile | None:
    """The plan that the tester follows, None without one. Nothing is written.

    It is plan.csv as it stands; one that can't be read, or is gone, is taken from the journal. Seed, promise, seal and
    orders are those of the journal, where it has the plan. What is odd is in `notes`.

    Raises
    ------
    InputError
        plan.csv or plan.json can't be read, and the journal has no plan.
    """
    logged = LoggedPlan(folder, day)
    if not logged.runs:
        return read_plan(folder, day)
    try:
        plan = read_plan(folder, day)
    except InputError as error:
        return replace(logged.plan, notes=(log_notes.plan_from_journal(error.faults),))
    if plan is None or logged.is_behind(plan):
        return logged.plan if logged.unwritten else replace(logged.plan, notes=(log_notes.lost_plan(),))
    if not same_runs(plan.runs, logged.runs):
        note = log_notes.plan_by_hand(changed_steps(plan.runs, logged.runs))
        return replace(_by_hand(logged.files), runs=plan.runs, notes=(note,))
    odd = (log_notes.other_document(names),) if (names := logged.differing(plan)) else ()
    return replace(logged.plan, runs=plan.runs, notes=(*logged.plan.notes, *odd))


def planned_runs(folder: Path, plan: PlanFile | None, day: DayFile | None = None) -> dict[int, Run]:
    """Every run that was ever planned in a folder, by its number.

    Parameters
    ----------
    folder : Path
    plan : PlanFile, optional
        The one that is followed.
    day : DayFile, optional
        A part that came later was at its baseline in the plans before it.
    """
    logged = [run for event in plan_events(scan_journal(folder).events) for run in runs_of_event(event, None)]
    known = {run.run: run for run in logged}
    try:
        known |= replaced_runs(folder)
    except InputError:
        if not logged:
            raise
    if day and day.came:
        known = {n: replace(run, configuration={**day.came, **run.configuration}) for n, run in known.items()}
    return known | {run.run: run for run in (plan.runs if plan else ())}


class LoggedPlan:
    """The last plan that the journal has, or that of its events that are given, and whether its files can be behind.

    An edit of plan.csv by hand has rows only: the rest is that of the plan before, whose drawn order is gone.

    Attributes
    ----------
    runs : tuple of Run
        None where the journal has no plan, or day.toml has other parts now.
    files : PlanFile
        What the plan's files hold.
    event : int
        Its number, 0 without one.
    unwritten : bool
        The plan is in the journal and its files may not be: no note says that they were written.
    """

    def __init__(self, folder: Path, day: DayFile, events: Sequence[Event] | None = None) -> None:
        self._events = plan_events(scan_journal(folder).events) if events is None else list(events)
        self._day = day
        self.runs = runs_of_event(self._events[-1], day) if self._events else ()
        told = [event.payload for event in self._events if not is_by_hand(event)]
        document, orders = (told[-1].get(key) for key in ("document", "orders")) if told else (None, None)
        self.files = PlanFile(
            self.runs,
            dict(document) if isinstance(document, dict) else {},
            tuple(order for order in orders if isinstance(order, str)) if isinstance(orders, list) else (),
        )
        noted = read_note(folder)
        self.event = self._events[-1].n if self._events else 0
        self.unwritten = self.event > (noted.plan if noted else 0)

    @property
    def plan(self) -> PlanFile:
        """The plan as it is to be judged."""
        if not is_by_hand(self._events[-1]):
            return self.files
        before = runs_of_event(self._events[-2], self._day) if len(self._events) > 1 else ()
        return replace(_by_hand(self.files), notes=(log_notes.plan_by_hand(changed_steps(self.runs, before)),))

    def has_document(self, plan: PlanFile) -> bool:
        """Whether plan.json and orders.txt hold what the plan was logged with."""
        return not self.differing(plan)

    def differing(self, plan: PlanFile) -> list[str]:
        """The files among plan.json and orders.txt that don't hold what the plan was logged with."""
        document = {key: value for key, value in plan.document.items() if key != "format"}
        same = {PLAN_JSON: document == self.files.document, ORDERS: plan.orders == self.files.orders}
        return [name for name, is_same in same.items() if not is_same]

    def is_behind(self, plan: PlanFile) -> bool:
        """Whether the files are those of the plan before: the machine stopped between journal and files."""
        if not self.unwritten:
            return False
        before = [runs_of_event(event, self._day) for event in self._events[:-1]]
        return any(same_runs(plan.runs, runs) for runs in before) and not (
            same_runs(plan.runs, self.runs) and self.has_document(plan)
        )


def plan_events(events: Sequence[Event]) -> list[Event]:
    """The events that make a plan."""
    return [event for event in events if event.event in (PLAN, REPLAN)]


def is_by_hand(event: Event) -> bool:
    """Whether a plan was not drawn but found in plan.csv."""
    return event.payload.get("by_hand") is True


def runs_of_event(event: Event, day: DayFile | None) -> tuple[Run, ...]:
    """The runs of an event, none where they can't be read."""
    rows = event.payload.get("rows")
    sound = isinstance(rows, list) and rows and all(isinstance(row, dict) for row in rows)
    try:
        return runs_of_rows(rows, JOURNAL, day) if isinstance(rows, list) and sound else ()
    except InputError:
        return ()


def _by_hand(plan: PlanFile) -> PlanFile:
    """A plan whose rows are not those that were drawn any more."""
    document: Mapping[str, Any] = {**plan.document, "orders": None, "not_randomised": _BY_HAND}
    return replace(plan, document=dict(document), orders=())


def _key(run: Run) -> tuple[Any, ...]:
    """What a run asks for; the words and the clock beside it follow from that."""
    return run.run, run.minute, run.install, run.stint, sorted(run.configuration.items()), run.count


def same_runs(runs: Sequence[Run], others: Sequence[Run]) -> bool:
    """Whether two plans ask for the same."""
    return [_key(run) for run in runs] == [_key(run) for run in others]


def changed_steps(runs: Sequence[Run], before: Sequence[Run]) -> list[str]:
    """The steps in which two plans differ."""
    now, then = ({run.run: _key(run) for run in one} for one in (runs, before))
    steps = [f"step {number}" for number in sorted({*now, *then}) if now.get(number) != then.get(number)]
    return steps or ["the order of the steps"]
