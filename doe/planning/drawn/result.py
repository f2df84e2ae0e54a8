"""What a plan is: the runs on the clock, the promise for each question, what it was compared with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from doe.day.bring.needs import Needs, needs_of
from doe.day.clock import clock_text, minutes_used
from doe.day.pilot.coming.ways import Alternative
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.planning.arrays.assumptions import unit_of
from doe.planning.drawn.outlook import Cut, Wandering
from doe.planning.drawn.saving import save_plan
from doe.planning.drawn.study_worth import StudyWorth
from doe.planning.wishes.prices import Priced
from doe.words.notes import Note, texts
from doe.words.phrases import WIDTH
from doe.words.plans.plan_screen import plan_screen
from doe.words.plans.plan_words import plan_text
from doe.words.result import Told
from doe.words.screen import Screen, filled


@dataclass(frozen=True, slots=True)
class Question:
    """What the day can show of one change; gains and SEs in the unit of the gains."""

    factor: str
    level: str
    smallest_gain: float | None  #: below it nobody would buy the part
    detectable_gain: float | None  #: found with 80 % power by this question alone; None where nothing can be shown
    power: float | None  #: chance to show the smallest gain, by this question alone; None without a smallest gain
    family_power: float | None  #: chance of `real gain` if the change gives exactly its smallest gain
    no_difference_power: float | None  #: chance of `no difference that matters` if it gives nothing
    se: float | None
    df: float | None
    answerable: bool  #: family power 0.8 or more
    dropped: bool  #: not in this plan


@dataclass(frozen=True, slots=True)
class Practice:
    """What a usual way of testing would show on the same clock."""

    expected_settled: float
    detectable_gain: tuple[tuple[str, str, float | None], ...]  #: factor, level, gain
    sets_of: int | None = None  #: pulls a set, where sets are made in turn

    def to_dict(self) -> dict[str, Any]:
        """As in ``doe plan --json``."""
        return {
            "expected_settled": self.expected_settled,
            "detectable_gain": [{"factor": f, "level": level, "value": x} for f, level, x in self.detectable_gain],
            "sets_of": self.sets_of,
        }


@dataclass(frozen=True, slots=True)
class Drop:
    """A question that was left out, and what leaving it out bought."""

    factor: str
    level: str
    cost: float | None  #: how many questions fewer are settled when it is asked too; None when it does not fit
    minutes_missing: float | None  #: how much longer the day would have to be for it to fit at all
    no_interval: bool = False  #: it would have too few fittings for an interval, even in the best order with it
    in_vain: tuple[int, float] | None = None  #: plans tried, of up to how many hours, where no longer day did


@dataclass(frozen=True, slots=True)
class Replaced:
    """How the rest of a day was planned anew."""

    minute: float  #: from which it was planned, from the day's start
    taken: str  #: which of the plans was taken
    worths: Mapping[str, float]  #: questions settled by each, as the search measures them
    seen: int  #: pulls, voids and undoings that the journal had then
    ways: tuple[Alternative, ...] = ()  #: all of them; none where an older version kept the plan
    dropped: tuple[tuple[str, str], ...] = ()  #: no more pulls with these, as the tester said: factor, level


@dataclass(frozen=True, slots=True, repr=False)
class Plan(Told):
    """A day's plan, or the plan for the rest of it."""

    day: DayFile
    runs: tuple[Run, ...]
    questions: tuple[Question, ...]
    seed: int
    expected_settled: float  #: sum of (family_power + no_difference_power) / 2
    compared: Mapping[str, Practice] = field(default_factory=dict)
    one_at_a_time_settled: float | None = None  #: of the best plan that never has two changes on together
    break_even_interplay: float | None = None  #: beyond it, one at a time is better
    drops: tuple[Drop, ...] = ()
    notes: tuple[Note, ...] = ()
    orders: tuple[str, ...] = ()  #: what orders.txt holds
    made: Mapping[str, Any] = field(default_factory=dict)  #: how it was made: what plan.json holds besides
    replaced: Replaced | None = None  #: set when the day had begun
    study: StudyWorth | None = None  #: of a noise study: what its refits buy
    if_cut: tuple[Cut, ...] = ()  #: what is settled if the day must stop early; the last is the whole plan
    if_filled: float | None = None  #: questions settled when the whole day is taken; None where the plan takes it
    wishes: tuple[Priced, ...] = ()  #: what the tester wished, each with its price
    wishes_cost: float | None = None  #: questions that all wishes cost together; None without one
    if_it_wanders: Wandering | None = None  #: what is settled if the engine wanders though nobody stated it
    drawn_before: str = ""  #: said first of a plan that is only shown
    line: str = "doe plan"  #: that plans this day, as it is typed; no part of the document

    @property
    def minutes_available(self) -> float:
        """From start to finish, less the breaks [min]."""
        return self.day.length_minutes - self.day.paused_minutes()

    @property
    def minutes_used(self) -> float:
        """The last pull's end, less the breaks passed [min]."""
        return minutes_used(self.day, self.runs)

    @property
    def needs(self) -> Needs:
        """What must lie ready for it, and what it costs."""
        return needs_of(self.day, self.runs, self.replaced.minute if self.replaced else 0.0)

    @property
    def cautions(self) -> tuple[str, ...]:
        """The notes as a person reads them."""
        return tuple(texts(self.notes))

    @property
    def mixed(self) -> bool:
        """Whether two changes are ever on together."""
        baseline = self.day.baseline
        return any(sum(run.configuration[name] != level for name, level in baseline.items()) > 1 for run in self.runs)

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe plan --json`` prints, at full precision."""
        return {
            "minutes_available": self.minutes_available,
            "minutes_used": self.minutes_used,
            "seed": self.seed,
            "runs": [_run_dict(run) for run in self.runs],
            "questions": [asdict(question) for question in self.questions],
            "expected_settled": self.expected_settled,
            "compared": {name: practice.to_dict() for name, practice in self.compared.items()},
            "one_at_a_time_settled": self.one_at_a_time_settled,
            "break_even_interplay": self.break_even_interplay,
            "drops": [asdict(drop) for drop in self.drops],
            "if_cut": [asdict(cut) for cut in self.if_cut],
            "if_filled": self.if_filled,
            "if_it_wanders": asdict(self.if_it_wanders) if self.if_it_wanders else None,
            "wishes": [asdict(wish) for wish in self.wishes],
            "wishes_cost": self.wishes_cost,
            "bring": self.needs.to_dict(),
            **({"alternatives": [asdict(way) for way in self.replaced.ways]} if self.replaced else {}),
            "cautions": list(self.cautions),
            "notes": [note.to_dict() for note in self.notes],
            **({"study": asdict(self.study)} if self.study else {}),
        }

    def to_frame(self) -> Any:
        """One tidy row per question (a pandas DataFrame)."""
        import pandas as pd

        frame = pd.DataFrame([asdict(question) for question in self.questions])
        frame.attrs["units"] = dict.fromkeys(("smallest_gain", "detectable_gain", "se"), unit_of(self.day))
        return frame

    def runs_frame(self) -> Any:
        """One row a pull, in the order of the day (a pandas DataFrame); a column for each part."""
        import pandas as pd

        rows = [{**_run_dict(run), **run.configuration} for run in self.runs]
        names = [name for name in _run_dict(self.runs[0]) if name != "configuration"] if self.runs else []
        frame = pd.DataFrame(rows, columns=[*names, *self.day.baseline])
        frame.attrs["units"] = {"minute": "min"}
        return frame

    def screen(self) -> Screen:
        """What to do first, what each question has for a chance, and the day by the clock."""
        return plan_screen(self, unit_of(self.day), partial(clock_text, self.day))

    def full_text(self, width: int = WIDTH) -> str:
        """The same sentence, and behind it all that is known of the plan."""
        text = plan_text(self, unit_of(self.day), partial(clock_text, self.day), width)
        first = [filled(words, width) for words in (self.screen().first, self.drawn_before) if words]
        return "\n\n".join([*first, text])

    def save(self, folder: Path | str) -> tuple[Note, ...]:
        """Write plan.csv, plan.json and orders.txt into the day folder; the plan before is kept as plan.1.csv.

        Returns
        -------
        tuple of Note
            What is to be said of the journal's copy on another disk, [log] mirror.

        Raises
        ------
        InputError
            Pulls have been logged there, and this is no plan for the rest of the day.
        """
        document = {**self.to_dict(), **self.made}
        seen = self.replaced.seen if self.replaced else None
        return save_plan(
            Path(folder), self.day, self.runs, document, self.orders, rest=self.replaced is not None, seen=seen
        )


def _run_dict(run: Run) -> dict[str, Any]:
    """One run as in ``doe plan --json``."""
    return {
        "run": run.run,
        "clock": run.clock,
        "minute": run.minute,
        "install": run.install,
        "stint": run.stint,
        "do": run.do,
        "configuration": dict(run.configuration),
        "count": run.count,
    }
