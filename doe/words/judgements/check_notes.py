"""What is said of a day on which something went wrong: what it is, which pulls, how it would read, what to do.

Every function takes `reading`, how the verdicts read with the thing allowed for (`would_read`), as its last argument;
what is shown in brief has it only where a verdict would be another (`with_reading`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from doe.words.judgements.gain_notes import wander_size
from doe.words.notes import Note
from doe.words.numbers import digits_for, span, two_figures, with_unit
from doe.words.phrases import listed
from doe.words.verdicts import Verdict

_IN_ROW = "in row "  # how a pull of a table is named
_THING = {True: "pull", False: "pulls"}
_FEW = 6  # pulls that are named, where many are meant
_DEGREES = {1: "along a straight line", 2: "along a curve with one bend", 3: "along a curve with two bends"}


@dataclass(frozen=True, slots=True)
class Reading:
    """A change whose verdict would be another."""

    name: str
    verdict: Verdict | None  #: None where it could not be told any more
    limits: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Size:
    """How much, in the unit of the readings."""

    value: float
    unit: str

    def __str__(self) -> str:
        return with_unit(f"{self.value:+.3g}", self.unit)

    def __neg__(self) -> Size:
        return Size(-self.value, self.unit)


class StudyTest(Protocol):
    """A study against the day."""

    @property
    def component(self) -> str: ...
    @property
    def f(self) -> float: ...
    @property
    def df(self) -> float: ...
    @property
    def study_df(self) -> float: ...
    @property
    def too_small(self) -> bool: ...


def would_read(readings: Sequence[Reading], unit: str, *, more: bool) -> str:
    """How the verdicts read with something allowed for, for the end of a note.

    Parameters
    ----------
    readings : sequence of Reading
        The changes whose verdict would be another.
    unit : str
        Of the gains.
    more : bool
        Whether something else was allowed for before.
    """
    return _so_read("with this and the above allowed for" if more else "with it allowed for", readings, unit)


def with_reading(note: Note, readings: Sequence[Reading], reading: str) -> Note:
    """The note with the changes whose verdict would be another; in brief as well, where there are any."""
    brief = f"{note.brief}; {reading}" if note.brief and readings else note.brief
    return replace(note, brief=brief, doubts=tuple(one.name for one in readings))


def _so_read(how: str, readings: Sequence[Reading], unit: str) -> str:
    if not readings:
        return f"{how}, every verdict stays"
    return f"{how}, {listed([_reading(one, unit) for one in readings])}"


def without_marked(names: Sequence[str], readings: Sequence[Reading] | None, unit: str) -> Note:
    """How the verdicts read without the pulls outside [limits].

    Parameters
    ----------
    names : sequence of str
        Of these pulls.
    readings : sequence of Reading or None
        The changes whose verdict would be another; None where no pull is left.
    unit : str
        Of the gains.
    """
    more = [f"{len(names) - _FEW} more"] if len(names) > _FEW + 1 else []
    which = f"{_THING[len(names) == 1]} {listed([*(names[:_FEW] if more else names), *more])}"
    if readings is None:
        text = f"{which}, all that count, are outside [limits]: nothing is left to compare with"
    else:
        text = f"{which} {'is' if len(names) == 1 else 'are'} outside [limits] and count; " + _so_read(
            f"without {'it' if len(names) == 1 else 'them'}", readings, unit
        )
    return Note("without-marked", "[limits]", text, "serious" if readings or readings is None else "minor")


def coarse_readings(step: Size, scatter: float, hidden: float, readings: Sequence[Reading], unit: str) -> Note:
    """Readings in steps that are large beside their scatter.

    Parameters
    ----------
    step : Size
    scatter : float
        Between pulls, in the unit of the readings.
    hidden : float
        By how much rounding can move a gain, in the gains' unit.
    readings : sequence of Reading
        The changes whose verdict would be another.
    unit : str
        Of the gains.
    """
    steps = f"the readings go in steps of {with_unit(f'{step.value:.3g}', step.unit)}"
    moved = f"rounding can move a gain by {two_figures(hidden, unit)}, and the brackets don't know it"
    reading = would_read(readings, unit, more=False)
    text = (
        f"{steps} and scatter by less than half of one ({two_figures(scatter, step.unit)}): {moved}; note one digit"
        f" more next time; {reading}"
    )
    brief = f"{steps}, more than they scatter: {moved}; note one digit more next time"
    return with_reading(Note("coarse-readings", "", text, "serious", brief=brief), readings, reading)


def _reading(reading: Reading, unit: str) -> str:
    if reading.verdict is None:
        return f"{reading.name} could not be told"
    limits = ""
    if reading.limits is not None:
        low, high = reading.limits
        limits = f" ({span(low, high, digits_for((high - low) / 2), unit)})"
    return f"{reading.name} would read '{reading.verdict}'{limits}"


def pulls_named(names: Sequence[str]) -> str:
    """``pull 4``, ``pulls 4 to 6``, ``rows 5 to 7`` of a table."""
    ends = [names[0], names[-1]]
    rows = all(name.startswith(_IN_ROW) for name in ends)
    first, last = (name.removeprefix(_IN_ROW) for name in ends) if rows else ends
    thing = "row" if rows else "pull"
    if len(names) < 3:
        return f"{thing} {first}" if first == last else f"{thing}s {first} and {last}"
    return f"{thing}s {first} to {last}"


def level_name(factor: str, level: str | None) -> str:
    """A level as a label may say it; None is the baseline."""
    return f"the {factor}'s baseline" if level is None else f"{factor} {level}"


def stands_out(pull: str, value: float, standard_errors: float, reading: str) -> Note:
    """A pull that lies further from the others than chance lets one; infinite where they don't scatter."""
    far = "without it the others would repeat to the last digit"
    if math.isfinite(standard_errors):
        far = f"{standard_errors:+.1f} standard errors"
    out = "then take the row out" if pull.startswith(_IN_ROW) else "then `doe void` it"
    text = (
        f"pull {pull} stands out ({value:g}; {far}): it counts, unless you know what went wrong ({out}), and an "
        f"odd number is no reason; {reading}"
    )
    return Note("pull-stands-out", f"pull {pull}", text, "serious")


def fitting_stands_out(
    groups: Sequence[str], names: Sequence[str], size: Size, standard_errors: float, like: str | None, reading: str
) -> Note:
    """A fitting or set that lies off, or two neighbours in opposite directions.

    Parameters
    ----------
    groups : sequence of str
        One or two.
    names : sequence of str
        Of their pulls.
    size : Size
        By how much it lies off.
    standard_errors : float
    like : str or None
        The label that would explain it; "" for the two exchanged; None where none does.
    reading : str
    """
    where = f"{' and '.join(groups)} ({pulls_named(names)})"
    off = f"the first {size}, the other {-size}" if len(groups) > 1 else str(size)
    if like is None:
        seen = f"{where} stand{'s' * (len(groups) == 1)} out"
        todo = "void the pulls if something went wrong, and say what"
    elif like:
        seen, todo = f"{where} looks like {like}", "if that is what was on, put the log right, and say how you know"
    else:
        seen, todo = f"{where} look exchanged", "if they were, put the log right, and say how you know"
    text = f"{seen} ({off}, {standard_errors:+.1f} standard errors): {todo}; {reading}"
    return Note("fitting-stands-out", groups[0], text, "serious", brief=f"{seen} ({off}): {todo}")


def drift_bends(degree: int, reading: str) -> Note:
    """A drift that the model has too simple; `degree` is the one that fits."""
    shape = _DEGREES.get(degree, "along a curve with more bends")
    remedy = {1: 'next time give the times and `drift = "linear"`', 2: '`drift = "quadratic"` next time'}.get(
        degree, "shorter sets next time, each with a return to the baseline"
    )
    return Note("drift-bends", "drift", f"the engine drifted {shape} today: {remedy}; {reading}", "serious")


def step_at_break(pull: str, size: Size, reading: str) -> Note:
    """An engine that came back from the break another one; `pull` is the last before it."""
    text = (
        f"at the longest break, after {pulls_named([pull])}, the readings step by {size}: the baseline on both "
        f"sides of the break next time; {reading}"
    )
    return Note("step-at-break", pulls_named([pull]), text, "serious")


def cold_start(size: Size, reading: str) -> Note:
    """First pulls of the day that lie off the later ones."""
    text = (
        f"the first pulls of the day lie off the later ones, the first by {size}: a cold engine? Warm it up longer next"
        f" time, and take out those that you know were cold (`doe void`, or the rows of a table); {reading}"
    )
    return Note("cold-start", "", text, "serious")


def not_warm(size: Size, refits: bool, reading: str) -> Note:
    """First pulls after a changeover that lie off the later ones."""
    after = "a refit" if refits else "a change"
    text = (
        f"the first pull after {after} lies off the later ones by {size}: not warm yet? One more throw-away pull "
        f"after {after} next time; {reading}"
    )
    return Note("trend-after-changeovers", "", text, "serious")


def carried_over(factor: str, size: Size | None, reading: str) -> Note:
    """What was on before and still acts; `size` where the factor has one change only."""
    much = "" if size is None else f" by {size}"
    text = (
        f"{factor}: what was on before still shows{much} in the next fitting (carried over): more throw-away pulls "
        f"after each change next time, or flush it; {reading}"
    )
    return Note("carry-over", factor, text, "serious")


def wanders(pull_sds: float, *, insured: bool, reading: str) -> Note:
    """An engine that wanders."""
    already = "the brackets allow for it; " if insured else ""
    todo = f"{already}more and shorter sets next time"
    text = f"this day wanders {wander_size(pull_sds)}: {todo}; {reading}"
    return Note("wanders", "wander", text, "serious", brief=f"this day wanders: {todo}")


def scatter_differs(change: str, with_it: float, without: float, unit: str, reading: str) -> Note:
    """Pulls that scatter more on one side of a change."""
    text = (
        f"pulls with {change} scatter by {two_figures(with_it, unit)}, those without by "
        f"{two_figures(without, unit)}: look at what makes them differ "
        f"(knock, temperature, a slipping clutch), and give the noisier side more pulls next time; {reading}"
    )
    return Note("scatter-differs", change, text, "serious")


_SCATTER = {"pull": "pull-to-pull scatter", "install": "refit scatter"}


def clash(test: StudyTest, reading: str) -> Note:
    """A day that scatters more, or less, than its noise study says."""
    what = _SCATTER[test.component]
    numbers = f"(F = {test.f:.3g} on {test.df:g} and {test.study_df:.3g} df)"
    if test.too_small:
        text = (
            f"today's {what} is larger than the noise study's {numbers}: the study is too small for this day, and the "
            f"intervals are too short; measure it anew, or leave it out of [noise] next time; {reading}"
        )
        brief = f"today's {what} is above the study's: brackets too short; measure it anew"
        return Note("study-too-small", what, text, "serious", brief=brief)
    text = (
        f"today's {what} is smaller than the noise study's {numbers}: the intervals are longer than they need be; "
        f"{reading}"
    )
    return Note("study-too-large", what, text, "minor")
