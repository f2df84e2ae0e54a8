"""What day.toml may hold: one frozen model a table, with the words of the design and their limits."""

# Annotations are not postponed here: pydantic would compile each of them, and a tester waits.
import datetime as dt
import math
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from doe.day.bring.quantities import check_quantity
from doe.day.names import as_typed, legal_name, name_key, readable
from doe.day.times import as_time, check_year
from doe.words.significance import CONFIDENCE
from doe.words.verdicts import HIGHER, Better

# Strict: a quoted "4.0" or a true is a slip of the pen, not a number.
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]
Flag = Annotated[bool, Field(strict=True)]
Text = Annotated[str, Field(strict=True), AfterValidator(readable)]
Material = Annotated[str, Field(strict=True), AfterValidator(readable), AfterValidator(check_quantity)]
Name = Annotated[str, BeforeValidator(as_typed), AfterValidator(legal_name)]
ClockTime = Annotated[dt.time, BeforeValidator(as_time)]
Range = tuple[Number, Number]

Correction = Literal["SAE J1349", "ISO 1585", "DIN 70020", "SAE J607", "none"]
Drift = Literal["none", "linear", "quadratic", "wander"]

DAY_MINUTES = 24 * 60
LONGEST_NIGHT_MINUTES = 16 * 60  # of a day that passes midnight; a longer one is a slip of the pen

Configuration = dict[str, str]
"""What is fitted: factor name -> level, one entry per factor, in the order of day.toml."""

MATERIAL_KEYS = frozenset({"per_fitting", "per_fitting_cost", "price"})
"""Keys of a part and its levels that say what they take and cost: no order of pulls follows from them."""


class Table(BaseModel):
    """A table of day.toml: frozen, and no key that we don't know."""

    # Deferred: the reader of a table by itself, which nobody asks for, isn't made each time a tester waits.
    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class Break(Table):
    """A pause in which nobody pulls."""

    from_: ClockTime = Field(alias="from")
    minutes: Positive


class DaySection(Table):
    """[day]: the hours, and what one of them costs."""

    title: Text = ""
    date: Annotated[dt.date, AfterValidator(check_year)]
    start: ClockTime
    finish: ClockTime
    breaks: tuple[Break, ...] = ()
    currency: Text = ""
    per_hour: NotNegative | None = None


class Cell(Table):
    """[cell]: the dyno and how long things take on it."""

    name: Text = ""
    kind: Literal["engine", "chassis"] = "engine"
    warm_up_minutes: NotNegative = 0.0
    pull_minutes: Positive
    correction: Correction = "none"
    correct_to: Correction = "none"
    efficiency: Annotated[float, Field(strict=True, ge=0.5, le=1)] | None = None
    friction_power: Positive | None = None
    pressure: Literal["dry", "total"] | None = None
    altitude_m: Annotated[float, Field(strict=True, ge=-500, le=6000)] | None = None
    usual: Range | None = None


class Metric(Table):
    """[metric]: the number taken from a pull."""

    name: Name
    unit: Text = ""
    window_rpm: tuple[Positive, Positive] | None = None
    scale: Literal["absolute", "percent"] = "absolute"
    better: Better = HIGHER
    at_rpm: Positive | None = None
    weights: tuple[tuple[Positive, Positive, Positive], ...] = ()


class Scatter(Table):
    """What is known of the scatter of one metric; an SD without df is a guess."""

    pull_sd: Positive | None = None
    pull_df: Positive | None = None
    install_sd: NotNegative | None = None
    install_df: Positive | None = None
    wander_sd: NotNegative | None = None
    wander_df: Positive | None = None
    source: Text = ""


class Noise(Scatter):
    """[noise]: the scatter of the day's own metric, and in [noise.metric."NAME"] that of others."""

    metric: dict[Name, Scatter] = {}

    def of(self, metric: str, own: str) -> dict[str, Any] | None:
        """The keys of what is known of one metric's scatter, None where nothing is known of another than the day's own.

        Parameters
        ----------
        metric : str
        own : str
            The day's own metric.
        """
        if metric == own:
            return self.model_dump(exclude={"metric"})
        known = {name_key(name): scatter for name, scatter in self.metric.items()}.get(name_key(metric))
        return None if known is None else known.model_dump()


class Analysis(Table):
    """[analysis]: sealed with the plan."""

    confidence: Annotated[float, Field(strict=True, gt=0.5, lt=1)] = CONFIDENCE
    drift: Drift = "linear"


class Change(Table):
    """[[factor.change]]: a level other than the baseline, and what it takes to fit it."""

    level: Name
    minutes_on: NotNegative
    minutes_off: NotNegative
    settling_pulls: Annotated[int, Field(strict=True, ge=0)] = 0
    smallest_gain: Positive | None = None
    one_way: Flag = False
    per_fitting: Material = ""
    per_fitting_cost: NotNegative | None = None
    price: NotNegative | None = None
    supply: Annotated[int, Field(strict=True, ge=0)] | None = None


class Factor(Table):
    """[[factor]]: something that can be changed; its first level is the baseline.

    A noise study changes nothing: there a factor has no change, and `refit_minutes` and `settling_pulls` say what it
    takes to take the same part off and fit it again. With changes these two follow from them (`doe.day.clock`).
    `per_fitting` and `per_fitting_cost` are those of each level that has none of its own, the baseline's too. A part
    that came during the day has the first pull that could be made with it, `from_pull`: before that one it was at its
    baseline, whatever has no column for it.
    """

    name: Name
    baseline: Name
    refit: Flag = False
    alone: Flag = False
    refit_minutes: NotNegative | None = None
    settling_pulls: Annotated[int, Field(strict=True, ge=0)] | None = None
    per_fitting: Material = ""
    per_fitting_cost: NotNegative | None = None
    baseline_supply: Annotated[int, Field(strict=True, ge=0)] | None = None
    from_pull: Annotated[int, Field(strict=True, ge=1)] | None = None
    change: tuple[Change, ...] = ()

    @property
    def levels(self) -> tuple[str, ...]:
        """The baseline first, then the changes in file order."""
        return (self.baseline, *(change.level for change in self.change))

    def change_of(self, level: str) -> Change | None:
        """The change that a level is, None for the baseline."""
        return next((change for change in self.change if change.level == level), None)


class Wishes(Table):
    """[wishes]: what the tester would rather have of a plan, at a price in questions."""

    one_at_a_time: Flag = False
    max_changeovers: Annotated[int, Field(strict=True, ge=0)] | None = None
    min_pulls: Annotated[int, Field(strict=True, ge=1)] | None = None
    first: Text = ""
    last: Text = ""
    apart: tuple[tuple[Text, Text], ...] = ()


class Traces(Table):
    """[traces]: what the dyno's export calls things; a unit is never guessed."""

    columns: dict[Text, Text]
    units: dict[Text, Text] = {}
    delimiter: Literal[",", ";", "\t"] | None = None
    decimal: Literal[".", ","] | None = None
    unit_row: Flag = False
    folder: Text = ""
    title_lines: Annotated[int, Field(strict=True, ge=0)] = 0
    inertia_kg_m2: Positive | None = None
    smoother: Annotated[float, Field(strict=True, gt=0, le=50)] | None = None


class People(Table):
    """[people]: who the day is for, and who makes it."""

    customer: Text = ""
    operator: Text = ""


class Engine(Table):
    """[engine]: what it is called, and what plausibility checks need to know."""

    name: Text = ""
    displacement_l: Positive | None = None
    strokes: Literal[2, 4] = 4
    breathing: Literal["natural", "boosted"] = "natural"
    fuel: Text = ""


class Log(Table):
    """[log]: further columns of pulls.csv, fixed when it is created; a folder on another disk for a copy of the log."""

    columns: tuple[Name, ...] = ()
    mirror: Text = ""


class Files(Table):
    """[files]: for the tables that the program creates."""

    delimiter: Literal[",", ";", "\t"] = ","
    decimal: Literal[".", ","] = "."


class DayFile(Table):
    """A valid day.toml."""

    day: DaySection
    cell: Cell
    metric: Metric
    noise: Noise = Field(default_factory=Noise.model_construct)
    analysis: Analysis = Field(default_factory=Analysis.model_construct)
    factor: tuple[Factor, ...]
    traces: Traces | None = None
    engine: Engine | None = None
    people: People | None = None
    limits: dict[str, Range] = {}
    log: Log = Field(default_factory=Log.model_construct)
    files: Files = Field(default_factory=Files.model_construct)
    wishes: Wishes = Field(default_factory=Wishes.model_construct)

    @property
    def baseline(self) -> Configuration:
        """The configuration that every change is compared with."""
        return {factor.name: factor.baseline for factor in self.factor}

    @property
    def questions(self) -> tuple[tuple[Factor, Change], ...]:
        """Every change with its factor, in file order; none in a noise study."""
        return tuple((factor, change) for factor in self.factor for change in factor.change)

    @property
    def came(self) -> dict[str, str]:
        """The parts that came during the day, each with its baseline: what was on before."""
        return {factor.name: factor.baseline for factor in self.factor if factor.from_pull}

    @property
    def refit_factors(self) -> tuple[Factor, ...]:
        """The factors whose parts make a new install when they are fitted."""
        return tuple(factor for factor in self.factor if factor.refit)

    @property
    def own_noise(self) -> dict[str, Any]:
        """The keys of [noise]: what is known of the scatter of the day's own metric."""
        return self.noise.of(self.metric.name, self.metric.name) or {}

    @property
    def drift(self) -> Drift:
        """The drift that the analysis can use: wander needs its SD, without it the drift is taken as linear."""
        wander_unknown = self.analysis.drift == "wander" and not self.noise.wander_sd
        return "linear" if wander_unknown else self.analysis.drift

    @property
    def length_minutes(self) -> float:
        """From start to finish, breaks included [min]."""
        return minutes_between(self.day.start, self.day.finish)

    @property
    def turn(self) -> float:
        """The time of day before which one without a date is of the date after [min since midnight].

        0 where the day ends on its date; else half way between its finish and its start.
        """
        start, finish = minute_of(self.day.start), minute_of(self.day.finish)
        return (start + finish) / 2 if finish < start else 0.0

    @cached_property
    def begin(self) -> dt.datetime:
        """When the day starts, local time without offset."""
        return dt.datetime.combine(self.day.date, self.day.start)

    @property
    def end(self) -> dt.datetime:
        """When the day finishes, local time without offset."""
        return self.begin + dt.timedelta(minutes=self.length_minutes)

    def minute_at(self, moment: dt.datetime) -> float:
        """Minutes from the day's start at a moment of local time; its offset is not looked at [min]."""
        local = moment.replace(tzinfo=None) if moment.tzinfo else moment
        return (local - self.begin).total_seconds() / 60

    def is_on(self, moment: dt.datetime) -> bool:
        """Whether a moment lies on the day's date, or on the one on which it finishes."""
        return moment.date() in (self.begin.date(), self.end.date())

    @property
    def latest_finish_minute(self) -> float:
        """The latest finish that a day may have, in minutes from its start [min]."""
        return max(DAY_MINUTES - 1 - minute_of(self.day.start), LONGEST_NIGHT_MINUTES)

    def paused_minutes(self, until: float = math.inf) -> float:
        """Minutes of the breaks that are over at a minute of the day; by default of all breaks [min]."""
        return sum(end - begin for begin, end in self.pauses if end <= until)

    @cached_property
    def pauses(self) -> tuple[tuple[float, float], ...]:
        """The breaks as (begin, end), in minutes from the day's start, in order."""
        begins = sorted((minutes_between(self.day.start, pause.from_), pause.minutes) for pause in self.day.breaks)
        return tuple((begin, begin + minutes) for begin, minutes in begins)


def minute_of(time: dt.time) -> float:
    """Minutes since midnight."""
    return time.hour * 60 + time.minute + time.second / 60


def minutes_between(start: dt.time, time: dt.time) -> float:
    """Minutes from the start of a day to a time of day, which lies past midnight where it is the earlier one."""
    return (minute_of(time) - minute_of(start)) % DAY_MINUTES


def keys_of(table: type[BaseModel]) -> dict[str, Any]:
    """The keys that a table may hold, as they are written in the file, with their fields."""
    return {field.alias or name: field for name, field in table.model_fields.items()}
