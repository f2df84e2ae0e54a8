"""What the tables of day.toml must hold to make sense together: hours, breaks, noise, names."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple, TypeVar

from pydantic import ValidationError

from doe.cell.units import kind_of
from doe.day.files.price_checks import price_faults
from doe.day.files.toml_faults import Fault, as_toml
from doe.day.names import name_key
from doe.day.pull_columns import column_names
from doe.day.schema import (
    LONGEST_NIGHT_MINUTES,
    Cell,
    DayFile,
    DaySection,
    Factor,
    Files,
    Log,
    Metric,
    Noise,
    Table,
    Traces,
    minutes_between,
)

# Columns of the tables that the program writes, and names that stand for something else in the readings.
PLAN_COLUMNS = ("run", "clock", "minute", "install", "stint", "do", "count")
RESERVED = tuple(dict.fromkeys((*column_names(), *PLAN_COLUMNS, "fresh", "kept", "name", "value")))

AnyTable = TypeVar("AnyTable", bound=Table)


class Parts(NamedTuple):
    """The tables of a day file that are sound by themselves; None where one is missing or faulty."""

    raw: Mapping[str, Any]
    day: DayFile | None = None  #: the whole file, where all its tables are

    def table(self, key: str, model: type[AnyTable]) -> AnyTable | None:
        """One table, if it is sound."""
        own = getattr(self.day, key, None)
        return own if isinstance(own, model) else _sound(model, self.raw.get(key, {}))

    @property
    def factors(self) -> list[Mapping[str, Any]]:
        """Every [[factor]] as it stands in the file."""
        listed = self.raw.get("factor")
        return [item for item in listed if isinstance(item, Mapping)] if isinstance(listed, list) else []

    @property
    def sound_factors(self) -> Sequence[Factor | None]:
        """The same, None in the place of one that is faulty."""
        return self.day.factor if self.day is not None else [_sound(Factor, raw) for raw in self.factors]


def _sound(model: type[AnyTable], raw: Any) -> AnyTable | None:
    """The table, None when its own keys are faulty."""
    try:
        return model.model_validate(raw)
    except ValidationError:
        return None


def sense_faults(raw: Mapping[str, Any], day: DayFile | None) -> list[Fault]:
    """Every fault that lies between keys, as far as the tables concerned are sound by themselves.

    Parameters
    ----------
    raw : mapping
        The tables as they stand in the file.
    day : DayFile or None
        The same where each table is sound.
    """
    parts = Parts(raw, day)
    return [fault for check in CHECKS for fault in check(parts)]


def _check_hours(parts: Parts) -> Iterator[Fault]:
    """Finish after start, the warm-up and one pull inside, breaks inside and apart."""
    day, cell = parts.table("day", DaySection), parts.table("cell", Cell)
    if day is None:
        return
    length = minutes_between(day.start, day.finish)
    if length == 0 or (day.finish < day.start and length > LONGEST_NIGHT_MINUTES):
        yield Fault(
            "[day]",
            f"finish = {day.finish:%H:%M}: expected a time after start, {day.start:%H:%M}; past midnight at most"
            f" {LONGEST_NIGHT_MINUTES / 60:g} hours after it",
        )
        return
    yield from _check_breaks(day, length)
    if cell and cell.warm_up_minutes + cell.pull_minutes > length:
        yield Fault(
            "[cell]",
            f"warm_up_minutes = {cell.warm_up_minutes:g}: expected warm-up and one pull to fit into the day,"
            f" which has {length:g} minutes",
        )


def _check_breaks(day: DaySection, length: float) -> Iterator[Fault]:
    """Each break lies inside the day, and after the one before it."""
    begins = [minutes_between(day.start, pause.from_) for pause in day.breaks]
    for number, (pause, begin) in enumerate(zip(day.breaks, begins, strict=True), start=1):
        place, shown = f"[day] / break {number}", f"from = {pause.from_:%H:%M}, minutes = {pause.minutes:g}"
        if begin + pause.minutes > length:
            yield Fault(place, f"{shown}: expected a break inside the day, {day.start:%H:%M} to {day.finish:%H:%M}")
        for other, earlier in enumerate(day.breaks[: number - 1], start=1):
            apart = begin >= begins[other - 1] + earlier.minutes or begin + pause.minutes <= begins[other - 1]
            if not apart:
                yield Fault(place, f"{shown}: it overlaps break {other}; expected breaks apart from each other")


def _check_metric(parts: Parts) -> Iterator[Fault]:
    """The window goes upwards, and the metric does not carry the name of a fixed column."""
    metric = parts.table("metric", Metric)
    if metric is None:
        return
    if metric.window_rpm and metric.window_rpm[0] >= metric.window_rpm[1]:
        low, high = metric.window_rpm
        yield Fault("[metric]", f"window_rpm = [{low:g}, {high:g}]: expected the lower speed first")
    for number, (low, high, _) in enumerate(metric.weights, start=1):
        if low >= high:
            yield Fault("[metric]", f"weights, entry {number}: [{low:g}, {high:g}, …]: expected the lower speed first")
    yield from _check_reserved("[metric]", "name", metric.name)


def _check_usual(parts: Parts) -> Iterator[Fault]:
    """The range of usual openings goes upwards."""
    cell = parts.table("cell", Cell)
    if cell and cell.usual and cell.usual[0] >= cell.usual[1]:
        low, high = cell.usual
        yield Fault("[cell]", f"usual = [{low:g}, {high:g}]: expected the lower number first")


def _check_correction(parts: Parts) -> Iterator[Fault]:
    """What is corrected already is not corrected again."""
    cell = parts.table("cell", Cell)
    if cell and cell.correct_to != "none" and cell.correction != "none":
        yield Fault(
            "[cell]",
            f'correct_to = "{cell.correct_to}": expected "none", because the numbers already contain'
            f' {cell.correction}; only numbers with correction = "none" can be corrected',
        )
    metric = parts.table("metric", Metric)
    if cell and metric and cell.correct_to != "none" and kind_of(metric.unit) not in ("power", "torque"):
        yield Fault("[metric]", f'unit = "{metric.unit}": expected a power or a torque to correct')
    for key in ("efficiency", "friction_power", "pressure", "altitude_m"):
        if cell and cell.correct_to == "none" and getattr(cell, key) is not None:
            yield Fault("[cell]", f"{key}: it belongs to a correction; expected correct_to beside it")


def _check_noise(parts: Parts) -> Iterator[Fault]:
    """Degrees of freedom belong to an SD above 0, and the day's own metric stands in [noise] itself."""
    noise, metric = parts.table("noise", Noise), parts.table("metric", Metric)
    if noise is None:
        return
    tables = {"[noise]": noise, **{f'[noise.metric."{name}"]': known for name, known in noise.metric.items()}}
    for place, known in tables.items():
        for source in ("pull", "install", "wander"):
            df, sd = getattr(known, f"{source}_df"), getattr(known, f"{source}_sd")
            if df is not None and not sd:
                yield Fault(
                    place, f"{source}_df = {df:g}: expected {source}_sd above 0 beside it, the SD that it is the df of"
                )
    for name in noise.metric:
        if metric is not None and name_key(name) == name_key(metric.name):
            yield Fault(
                f'[noise.metric."{name}"]', "this is the day's own metric; expected its scatter in [noise] itself"
            )
    yield from _check_twice([(f'[noise.metric."{name}"]', name) for name in noise.metric], lambda where: where, "name")


def _check_factors(parts: Parts) -> Iterator[Fault]:
    """Each factor can be changed or refitted, and each of its levels has a name of its own."""
    if parts.raw.get("factor") == []:
        yield Fault("[[factor]]", "expected at least one part or fluid that is changed or refitted")
    for number, (raw, factor) in enumerate(zip(parts.factors, parts.sound_factors, strict=True), start=1):
        place = f'[[factor]] {number} "{raw.get("name", "")}"'
        yield from _check_levels(place, raw)
        if factor is None:
            continue
        if not factor.change and not (factor.refit and factor.refit_minutes is not None):
            yield Fault(
                place,
                "it has no [[factor.change]]; expected one, or, in a noise study, refit = true and refit_minutes ="
                " the minutes to take the part off and fit it again",
            )
        if factor.change and (factor.refit_minutes is not None or factor.settling_pulls is not None):
            yield Fault(
                place,
                "refit_minutes and settling_pulls of the factor itself are for a noise study, without changes;"
                " expected minutes_on, minutes_off and settling_pulls in [[factor.change]] only",
            )


def _check_levels(place: str, raw: Mapping[str, Any]) -> Iterator[Fault]:
    """No level of a factor stands twice, whatever its capitals and spaces."""
    changes = raw.get("change")
    levels = [("baseline", raw.get("baseline"))] + [
        (f"change {number}", change.get("level"))
        for number, change in enumerate(changes if isinstance(changes, list) else [], start=1)
        if isinstance(change, Mapping)
    ]
    yield from _check_twice(levels, lambda where: place if where == "baseline" else f"{place} / {where}", "level")


def _check_twice(named: list[tuple[str, Any]], place: Callable[[str], str], key: str) -> Iterator[Fault]:
    """A name that stood before, matched without case or space."""
    seen: dict[str, str] = {}
    for where, value in named:
        if value is None or isinstance(value, list | Mapping):
            continue
        shown = as_toml(value)
        spelling = name_key(shown.strip('"'))
        if spelling in seen:
            yield Fault(place(where), f"{key} = {shown}: the same as {seen[spelling]}; expected a name of its own")
        seen.setdefault(spelling, where)


def _check_names(parts: Parts) -> Iterator[Fault]:
    """Factors, metric and [log] columns become columns of one table: each needs a name of its own."""
    log = parts.table("log", Log)
    columns = list(log.columns) if log else []
    metric = parts.table("metric", Metric)
    named = [("[metric] name", metric.name if metric else None)]
    named += [
        (f'[[factor]] {number} "{raw.get("name")}"', raw.get("name")) for number, raw in enumerate(parts.factors, 1)
    ]
    named += [(f"[log] columns, entry {number}", column) for number, column in enumerate(columns, 1)]
    yield from _check_twice(named, lambda where: where, "name")
    for where, value in named[1:]:
        if isinstance(value, str):
            yield from _check_reserved(where, "name", value.strip())
            if "=" in value and where.startswith("[[factor]]"):
                yield Fault(
                    where, f'name = "{value}": expected a name without "=", which parts a factor from its level'
                )


def _check_reserved(place: str, key: str, name: str) -> Iterator[Fault]:
    """Refuse the name of a column that the program's tables have anyway."""
    if name_key(name) in RESERVED:
        yield Fault(place, f'{key} = "{name}": a fixed column of the tables is called so; expected another name')


def _check_limits(parts: Parts) -> Iterator[Fault]:
    """Limits go upwards."""
    limits = parts.raw.get("limits")
    for name, limit in limits.items() if isinstance(limits, Mapping) else ():
        try:
            low, high = (float(value) for value in limit)
        except (TypeError, ValueError):
            continue
        if low >= high:
            yield Fault("[limits]", f"{name} = [{low:g}, {high:g}]: expected the lower limit first")


def _check_files(parts: Parts) -> Iterator[Fault]:
    """A comma can't be both."""
    files = parts.table("files", Files)
    if files and files.delimiter == files.decimal:
        yield Fault("[files]", 'delimiter = ",", decimal = ",": expected delimiter = ";" with a decimal comma')


def _check_prices(parts: Parts) -> Iterator[Fault]:
    """Money has a currency."""
    yield from price_faults(parts.raw)


def _check_traces(parts: Parts) -> Iterator[Fault]:
    """A trace has a speed and something that is read against it, and units that measure what their columns hold."""
    traces = parts.table("traces", Traces) if "traces" in parts.raw else None
    if traces is None:
        return
    from doe.cell.traces.layout import layout_faults  # only then: a tester waits for what is loaded

    for fault in layout_faults(traces.columns, traces.units):
        yield Fault("[traces]", fault)
    metric = parts.table("metric", Metric)
    if metric is not None:
        yield from _check_traced_metric(metric)


def _check_traced_metric(metric: Metric) -> Iterator[Fault]:
    """A metric that traces give needs what it is taken over, and a unit to be given in."""
    from doe.cell.traces.wanted import kind_of_metric  # as `layout_faults`

    kind = kind_of_metric(metric.name)
    if kind in ("power", "torque") and kind_of(metric.unit) != kind:
        yield Fault("[metric]", f'unit = "{metric.unit}": expected a unit of {kind}, in which a trace gives it')
    for key, wanted in (("window_rpm", "mean "), ("weights", "weighted "), ("at_rpm", " at rpm")):
        if kind and wanted in metric.name and not getattr(metric, key):
            yield Fault("[metric]", f'name = "{metric.name}": expected {key} beside it, which a trace needs for it')


CHECKS = (
    _check_hours,
    _check_usual,
    _check_correction,
    _check_metric,
    _check_noise,
    _check_factors,
    _check_names,
    _check_limits,
    _check_files,
    _check_prices,
    _check_traces,
)
