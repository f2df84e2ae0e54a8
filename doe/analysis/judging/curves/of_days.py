"""The gain curves of day folders: the traces of the pulls that were judged, on the routes of their verdicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.analysis.judging.ask import Ask, questions_of
from doe.analysis.judging.curves.binned import BIN_RPM, FEWEST_BINS, Binned, binned
from doe.analysis.judging.curves.curve_result import Curves, GainCurve, PullCurve
from doe.analysis.judging.curves.gain_curves import CurveOfChange, gain_curves
from doe.analysis.judging.curves.traced_pulls import PullOfDay, swept
from doe.analysis.judging.curves.zones import zones
from doe.analysis.judging.estimates import estimate
from doe.analysis.trials.from_folders import CountedPulls, DayFolder
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.cell.traces.wanted import kind_of_metric
from doe.cell.units import kind_of
from doe.day.schema import DayFile
from doe.day.traced import wanted_of
from doe.words.judgements import curve_notes
from doe.words.verdicts import HIGHER, Better

_NOTABLY = 1.05  # a band that is wider by less needs no word


@dataclass(frozen=True, slots=True)
class _Quantity:
    """What the curves are of."""

    kind: str
    unit: str
    of_metric: bool  #: whether the smallest gains are in it


def pulls_of_days(days: Sequence[DayFolder], metric: str, kept: np.ndarray, names: Sequence[str]) -> list[PullOfDay]:
    """The counted pulls of all days, of which the rows `kept` were judged, with their names."""
    counted = [(day, pull) for day in days for pull in CountedPulls.of(day, metric).counted]
    return [PullOfDay(counted[row][0], counted[row][1], name) for row, name in zip(kept.tolist(), names, strict=True)]


def curves_of_days(pulls: Sequence[PullOfDay], trial: Trial, values: np.ndarray, known: KnownNoise, ask: Ask) -> Curves:
    """Gain curves of the pulls of a trial.

    Parameters
    ----------
    pulls : sequence of PullOfDay
        The rows of the trial.
    trial : Trial
    values : ndarray, shape (pulls,)
        Of the metric.
    known : KnownNoise
    ask : Ask

    Returns
    -------
    Curves
        Without changes where there is nothing to show; the notes say why.
    """
    quantity = _quantity(pulls[0].day.day, ask)
    empty = _empty(quantity, ask)
    read = swept(pulls, quantity.kind, quantity.unit)
    at = [place for place, one in enumerate(read) if one.rpm is not None]
    if not at:
        told = [one.reason for one in read if one.reason != curve_notes.NO_TRACE]
        why = curve_notes.no_curves(told[0]) if told else curve_notes.no_traces(len(pulls))
        return replace(empty, notes=(why,))
    reasons = [(pull.name, one.reason) for pull, one in zip(pulls, read, strict=True) if one.rpm is None]
    notes = [curve_notes.left_out(reasons, len(pulls))] if reasons else []
    found = binned([(one.rpm, one.load) for one in read if one.rpm is not None and one.load is not None])
    if len(found.rpm) < FEWEST_BINS:
        low, high = (found.rpm[0], found.rpm[-1]) if len(found.rpm) else (0.0, 0.0)
        return replace(empty, notes=(*notes, curve_notes.no_common_range(low, high)))
    names = [pulls[place].name for place in at]
    if found.short:
        low, high = float(found.rpm[0]), float(found.rpm[-1])
        notes.append(curve_notes.short_sweeps([names[place] for place in found.short], low, high))
    used = trial.take(np.array(at))
    return replace(
        empty,
        width_rpm=found.width,
        rpm=tuple(found.rpm.tolist()),
        changes=_changes(used, values[at], found, known, ask, quantity),
        pulls=_pull_curves(used, names, found),
        notes=tuple(notes),
    )


def curves_withheld(day: DayFile, ask: Ask) -> Curves:
    """What stands there while no gain may be shown."""
    return replace(_empty(_quantity(day, ask), ask), notes=(curve_notes.no_curves(curve_notes.WITHHELD),))


def _empty(quantity: _Quantity, ask: Ask) -> Curves:
    gain_unit = "%" if ask.scale == "percent" else quantity.unit
    return Curves(quantity.kind, quantity.unit, gain_unit, BIN_RPM, ask.better if quantity.of_metric else HIGHER)


def _quantity(day: DayFile, ask: Ask) -> _Quantity:
    """Power, unless the metric is a torque."""
    own = kind_of_metric(ask.metric) or kind_of(ask.unit)
    kind = "torque" if own == "torque" else "power"
    unit = wanted_of(day).unit(kind)
    return _Quantity(kind, unit, own == kind and (ask.unit == unit or ask.scale == "percent"))


def _changes(
    trial: Trial, values: np.ndarray, found: Binned, known: KnownNoise, ask: Ask, quantity: _Quantity
) -> tuple[GainCurve, ...]:
    """Every change that a counted pull has on."""
    fitted = np.asarray(trial.changes.any(axis=0))
    if not fitted.any():
        return ()
    seen = trial.only(fitted)
    estimates = estimate(seen, values[None], known, method=ask.method, percent=ask.scale == "percent")
    risks = [ask.level_of(question).risk for question in questions_of(seen)]
    curves = gain_curves(seen, found.curves, estimates, risks)
    told = []
    for place, question in enumerate(questions_of(seen)):
        smallest = ask.smallest_gain.get(question) if quantity.of_metric else None
        bare = GainCurve(*question, estimates.routes[place], smallest_gain=smallest)
        better = ask.better if quantity.of_metric else HIGHER
        told.append(_told(bare, curves[place], risks[place], found, better))
    return tuple(told)


def _told(bare: GainCurve, curve: CurveOfChange, risk: float, found: Binned, better: Better) -> GainCurve:
    """One change with what its curve says."""
    name = f"{bare.factor} {bare.level}"
    if not np.isfinite(curve.gain).all():
        return replace(bare, notes=(curve_notes.no_gain(name),))
    gain = tuple(curve.gain.tolist())
    if curve.se is None:
        return replace(bare, gain=gain, notes=(curve_notes.no_band(name),))
    low, high = curve.band(curve.critical)
    single_low, single_high = curve.band(curve.single)
    return replace(
        bare,
        gain=gain,
        se=tuple(curve.se.tolist()),
        low=tuple(low.tolist()),
        high=tuple(high.tolist()),
        single_low=tuple(single_low.tolist()),
        single_high=tuple(single_high.tolist()),
        confidence=1 - risk,
        df=curve.df,
        critical=curve.critical,
        roughness=curve.kappa,
        effective_bins=curve.effective_bins,
        widened=curve.widened,
        zones=zones(found.rpm.tolist(), low.tolist(), high.tolist(), bare.smallest_gain, BIN_RPM, better),
        notes=(curve_notes.widened(name, curve.widened),) if curve.widened > _NOTABLY else (),
    )


def _pull_curves(trial: Trial, names: Sequence[str], found: Binned) -> tuple[PullCurve, ...]:
    """The pulls' own curves."""
    on = [tuple(trial.name(change) for change in np.flatnonzero(row).tolist()) for row in trial.changes]
    return tuple(
        PullCurve(name, fitted, tuple(curve.tolist()))
        for name, fitted, curve in zip(names, on, found.curves, strict=True)
    )
