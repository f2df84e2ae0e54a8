"""What a claims file may hold: a published test, its steps in order, and what it claims of them.

Nothing is asked for that a reader can't know: only names are required.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, PlainValidator

from doe.claims.reading.printed import as_printed, pulls_or_number, single_pulls
from doe.day.names import as_typed, name_key, readable
from doe.day.schema import Engine, Flag, NotNegative, Number, Positive, Table, Text

Shown = Literal["mean", "best", "last", "only", "unknown"]
PaidBy = Literal["nobody", "seller", "publisher", "unknown"]
Temperatures = Literal["held", "stated", "not stated"]

#: the gain that such parts usually give, as a share of the baseline, where the reader states none
TYPICAL_SHARE = 0.01


def _listed(value: Any) -> Any:
    """A list; one name by itself is a list of one."""
    return [value] if isinstance(value, str) else value


def _dated(value: Any) -> Any:
    """A text; a date, a month or a year as typed."""
    return value.isoformat() if isinstance(value, dt.date) else as_typed(value)


def _named(text: str) -> str:
    """Refuse an empty name."""
    if not text:
        raise ValueError("a name, not an empty text")
    return text


def _above_zero(number: Decimal) -> Decimal:
    """Refuse what no dyno prints."""
    if number <= 0:
        raise ValueError("a number above 0")
    return number


Word = Annotated[str, BeforeValidator(as_typed), AfterValidator(_named), AfterValidator(readable), Field(strict=True)]
Words = Annotated[tuple[Word, ...], BeforeValidator(_listed)]
SomeWords = Annotated[tuple[Word, ...], BeforeValidator(_listed), Field(min_length=1)]
Dated = Annotated[str, BeforeValidator(_dated), AfterValidator(readable), Field(strict=True)]
Printed = Annotated[Decimal, BeforeValidator(as_printed)]
PrintedPositive = Annotated[Decimal, BeforeValidator(as_printed), AfterValidator(_above_zero)]
PrintedReading = Annotated[Decimal, PlainValidator(pulls_or_number), AfterValidator(_above_zero)]
PullCount = Annotated[int, Field(strict=True, ge=1)]


class AboutTest(Table):
    """[test]: what is printed about the test as a whole."""

    title: Text = ""
    published: Dated = ""
    paid_by: PaidBy = "unknown"
    cell: Text = ""  #: whose dyno or which cell; tests from one cell are not independent
    correction: Text = "unknown"
    temperatures: Temperatures = "not stated"
    unit: Text = ""
    torque_unit: Text = ""
    metric: Text = ""
    window_rpm: tuple[Positive, Positive] | None = None  #: that the metric is taken over


class NoiseTable(Table):
    """[noise]: the scatter, as the test states it or as the reader assumes it; SDs in the unit of the test."""

    pull_sd: Positive | None = None
    pull_df: Positive | None = None
    install_sd: NotNegative | None = None
    install_df: Positive | None = None
    drift_sd: NotNegative | None = None  #: of the wander from one step to the next
    source: Text = ""


class Prior(Table):
    """[prior]: what such parts usually do."""

    chance_of_nothing: Annotated[float, Field(strict=True, gt=0, lt=1)] = 0.5
    typical_gain: Positive | None = None  #: by default 1 % of the baseline


class Protocol(Table):
    """[protocol]: what testing the part would take; the defaults are common practice, no published source."""

    pull_minutes: Positive = 4.0
    warm_up_minutes: NotNegative = 40.0
    minutes_on: NotNegative | None = None  #: by default 30 for a part that is refitted, 2 for a switch
    minutes_off: NotNegative | None = None
    settling_pulls: Annotated[int, Field(strict=True, ge=0)] | None = None


class Step(Table):
    """[[step]]: one set of pulls as printed."""

    name: Word
    changed: Words = ()  #: what was changed since the step before
    back_to: Word | None = None  #: an earlier step whose parts are all back on
    refit: Flag = False  #: parts were taken off and fitted: a new install begins
    pulls: PullCount | None = None
    shown: Shown = "unknown"
    value: PrintedReading | None = None  #: or a list: the single pulls
    at_rpm: PrintedPositive | None = None
    torque: PrintedPositive | None = None
    torque_unit: Text | None = None  #: by default that of [test]
    torque_at_rpm: PrintedPositive | None = None  #: by default at_rpm
    per_litre: PrintedPositive | None = None
    correction: Text | None = None  #: by default that of [test]
    engine: Word | None = None
    day: Dated | None = None
    oil_temp_c: Number | None = None
    water_temp_c: Number | None = None
    air_temp_c: Number | None = None

    @property
    def numbers(self) -> int:
        """Pulls behind the printed value; 1 where nobody says."""
        return len(self.singles) or self.pulls or 1

    @property
    def singles(self) -> tuple[Decimal, ...]:
        """The single pulls, where they are printed."""
        return single_pulls(self.value)

    @property
    def selection(self) -> Shown:
        """Which of the pulls was printed; one pull leaves no choice, and of all of them the mean is taken."""
        if len(self.singles) > 1:
            return "mean"
        return "only" if self.pulls == 1 or self.singles else self.shown


class Claim(Table):
    """[[claim]]: a gain that the test claims."""

    name: Word
    about: SomeWords
    from_: SomeWords = Field(alias="from")
    to: SomeWords
    gain: Printed | None = None
    percent: Printed | None = None
    smallest_gain: Positive | None = None  #: below it nobody would buy the part


class ClaimsFile(Table):
    """A valid claims file."""

    test: AboutTest = AboutTest()
    engine: Engine = Engine()
    noise: NoiseTable = NoiseTable()
    prior: Prior = Prior()
    protocol: Protocol = Protocol()
    step: tuple[Step, ...]
    claim: tuple[Claim, ...]

    @cached_property
    def places(self) -> dict[str, int]:
        """Place of each step, by the key of its name."""
        return {name_key(step.name): place for place, step in enumerate(self.step)}

    def from_places(self, claim: Claim) -> list[int]:
        """Places of the steps that a claim starts from."""
        return [self.places[name_key(name)] for name in claim.from_]

    def to_places(self, claim: Claim) -> list[int]:
        """Places of the steps that a claim leads to."""
        return [self.places[name_key(name)] for name in claim.to]

    def used(self, claim: Claim) -> list[Step]:
        """The steps of a claim, in the order of the test."""
        return [self.step[place] for place in sorted({*self.from_places(claim), *self.to_places(claim)})]
