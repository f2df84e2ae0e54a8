"""Where the numbers of a filled-in sheet belong: to the step that their row names, once; what is odd is asked about."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from doe.day.log.rows import check_sign
from doe.day.names import name_key
from doe.day.pilot.entries import Entry
from doe.day.pilot.said import parse_value
from doe.day.pilot.slips.doubting import far_from
from doe.day.pilot.standing import Standing
from doe.day.records import Pull, Run
from doe.day.schema import DayFile
from doe.day.sheet.cells import moment_in, number_in
from doe.day.sheet.filled import FilledRow, FilledSheet
from doe.day.sheet.run_sheet import plan_mark
from doe.errors import InputError
from doe.words.day import sheet_notes
from doe.words.day import sheet_words as words
from doe.words.day.pull_words import fitted_text, value_text
from doe.words.notes import Note

TAKE, LEAVE_OUT = "y", "n"
_ON_THE_DAY = (dt.timedelta(0), dt.timedelta(days=1))  # a day may run past midnight


@dataclass(frozen=True, slots=True)
class Question:
    """Something odd in the box of a step, to be asked about before anything is logged."""

    run: int
    text: str
    takable: bool  #: whether `TAKE` is an answer


@dataclass(frozen=True, slots=True)
class Placed:
    """What a filled-in sheet comes to."""

    entries: tuple[Entry, ...] = ()
    already: int = 0  #: values that the log has
    left: tuple[Note, ...] = ()  #: what is not logged, and why
    questions: tuple[Question, ...] = ()
    planned_times: int = 0  #: entries without a time on the sheet


def placed(standing: Standing, sheet: FilledSheet, known: Sequence[str], answers: Mapping[int, str]) -> Placed:
    """Place every value of a sheet.

    Parameters
    ----------
    standing : Standing
        The day as the log has it now.
    sheet : FilledSheet
    known : sequence of str
        The marks of the plans that sheets of this day were made from.
    answers : mapping of int to str
        What was said to the question of a step: a number, `TAKE` or `LEAVE_OUT`.

    Raises
    ------
    InputError
        The sheet is of another plan, or something must be put right in it; every fault at once.
    ValueError
        An answer is none of these.
    """
    if sheet.mark != plan_mark(standing.runs) and sheet.mark not in known:
        raise InputError(words.other_plan(sheet.name, str(sheet.date)))
    rows = _rows_of_steps(sheet)
    placer = _Placer(standing, sheet, answers)
    for number in [*standing.by_number, *(number for number in rows if number not in standing.by_number)]:
        if number in rows:
            placer.take(number, rows[number])
    if placer.faults:
        raise InputError(placer.faults)
    return Placed(
        tuple(placer.entries), placer.already, tuple(placer.left), tuple(placer.questions), placer.planned_times
    )


def _rows_of_steps(sheet: FilledSheet) -> dict[int, FilledRow]:
    """The rows by their step.

    Raises
    ------
    InputError
        A value without a step, or a step that stands there twice.
    """
    faults = [words.no_step(sheet.name, row.row, row.step.line, row.value.line) for row in sheet.rows if not row.run]
    for number, count in Counter(row.run for row in sheet.rows if row.run).items():
        if count > 1:
            faults.append(words.step_twice(sheet.name, number, [row.row for row in sheet.rows if row.run == number]))
    if faults:
        raise InputError(faults)
    return {row.run: row for row in sheet.rows if row.run}


@dataclass
class _Placer:
    """Goes through the rows in the order of the plan."""

    standing: Standing
    sheet: FilledSheet
    answers: Mapping[int, str]
    entries: list[Entry] = field(default_factory=list)
    already: int = 0
    left: list[Note] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    planned_times: int = 0

    def __post_init__(self) -> None:
        metric, last = self.day.metric.name, self.standing.last
        logged = [pull.values[metric] for pull in self.standing.pulls if pull.void is None and metric in pull.values]
        written = [number_in(row.value, self.day.metric.unit) for row in self.sheet.rows]
        self._values = [*logged, *(number for number in written if number is not None)]
        self._before = last.time if last else None
        self._late = self._lateness(last)

    @property
    def day(self) -> DayFile:
        """The day file."""
        return self.standing.day

    def take(self, number: int, row: FilledRow) -> None:
        """One row: in the log already, left out, asked about, or an entry."""
        run = self.standing.by_number.get(number)
        if self._is_logged(number, row):
            return
        if row.value.kind == "blank":
            self.left.append(sheet_notes.note_only(number, row.note))
        elif run is None or run not in (*self.standing.due, *self.standing.lost):
            self.left.append(sheet_notes.no_step_now(number, row.value.line, known=run is not None))
        elif row.fitted and name_key(row.fitted) != name_key(fitted_text(self.day, run.configuration)):
            self._fault(row, words.otherwise_fitted(row.fitted, fitted_text(self.day, run.configuration)))
        elif self.answers.get(number) == LEAVE_OUT:
            self.left.append(sheet_notes.left_out(number, row.value.line))
        else:
            self._enter(run, row)

    def _is_logged(self, number: int, row: FilledRow) -> bool:
        """Whether the step has what stands there, or something else, which stays."""
        made = [pull for pull in self.standing.pulls if pull.run == number]
        value = number_in(row.value, self.day.metric.unit)
        if any(self._says(pull, value, row.value.line) for pull in made):
            self.already += 1
            return True
        counting = [pull for pull in made if pull.void is None]
        if counting and row.value.kind != "blank":
            pull = counting[-1]
            self.left.append(
                sheet_notes.logged_otherwise(number, pull.number, value_text(self.day, pull), row.value.line)
            )
        return bool(counting)

    def _says(self, pull: Pull, value: float | None, text: str) -> bool:
        """Whether a pull of the log is what a box says."""
        if value is None:
            return bool(text) and pull.void == f"spoiled: {text}"
        return pull.values.get(self.day.metric.name) == value

    def _enter(self, run: Run, row: FilledRow) -> None:
        """An entry, or the question before it."""
        answer = self.answers.get(run.run)
        value = number_in(row.value, self.day.metric.unit)
        if answer not in (None, TAKE):
            value = parse_value(str(answer))
        self._check_sign(row, value)
        moment = self._moment(run, row)
        columns = dict(self._columns(row))
        middle = far_from(value, self._values) if value is not None else None
        if answer is None and (value is None or middle is not None):
            self._ask(run, row, middle)
            return
        told = [row.note, f"by {row.initials}" if row.initials else "", "" if row.ended.text else words.TIME_OF_PLAN]
        self.planned_times += not row.ended.text
        self.entries.append(
            Entry(
                value=value,
                time=moment,
                columns=columns,
                note="; ".join(filter(None, told)),
                run=run.run,
                spoiled=row.value.line if value is None else None,
            )
        )

    def _ask(self, run: Run, row: FilledRow, middle: float | None) -> None:
        """What stands there is no number, or one far from the others."""
        cell = row.value
        if middle is not None:
            text, takable = words.far(cell.line, f"{middle:.4g}"), True
        elif cell.holds_two:
            text, takable = words.two_values(cell.line), False
        elif cell.kind == "text":
            text, takable = words.no_number(cell.line), True
        else:
            text, takable = words.not_typed(cell.kind, cell.line), False
        self.questions.append(Question(run.run, self._at(row, text), takable))

    def _moment(self, run: Run, row: FilledRow) -> dt.datetime:
        """The end of a pull: as written, else as far behind the plan as the one before."""
        planned = self._planned(run)
        try:
            said = moment_in(row.ended, self.day.day.date, self.day.turn)
        except (ValueError, InputError) as fault:
            self._fault(row, f"ended at: {fault}")
            said = None
        if said is not None and said.date() - self.day.day.date not in _ON_THE_DAY:
            self._fault(row, words.other_date(f"{said:%Y-%m-%d}", str(self.day.day.date)))
        moment = said or planned + dt.timedelta(minutes=self._late)
        if said is not None:
            self._late = (said - planned).total_seconds() / 60
            if self._before is not None and said <= self._before:
                self._fault(row, words.time_backwards(f"{said:%H:%M}", f"{self._before:%H:%M}"))
        self._before = moment
        return moment

    def _check_sign(self, row: FilledRow, value: float | None) -> None:
        """A number that the metric can't have."""
        try:
            _ = None if value is None else check_sign(self.day.metric.name, value)
        except ValueError as fault:
            self._fault(row, f"{self.day.metric.name} {fault}")

    def _columns(self, row: FilledRow) -> Iterator[tuple[str, float]]:
        """The further numbers that are filled in."""
        for name, cell in row.numbers.items():
            number = number_in(cell)
            if number is not None:
                yield name, number
            elif cell.kind != "blank":
                self._fault(row, words.no_further_number(name, cell.line))

    def _planned(self, run: Run) -> dt.datetime:
        """The end of a pull by the plan."""
        return self.day.begin + dt.timedelta(minutes=run.minute)

    def _lateness(self, last: Pull | None) -> float:
        """How far behind the plan the last pull of the log was [min]."""
        run = self.standing.by_number.get(last.run or 0) if last else None
        if last is None or run is None or last.time is None:
            return 0.0
        return (last.time - self._planned(run)).total_seconds() / 60

    def _fault(self, row: FilledRow, text: str) -> None:
        self.faults.append(self._at(row, text))

    def _at(self, row: FilledRow, text: str) -> str:
        return f"{self.sheet.name}, row {row.row}, step {row.run}: {text}"
