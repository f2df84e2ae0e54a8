"""Gain curves in a tester's words: where along the range a change gains, in rpm."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol, get_args

from doe.words.notes import Note, texts
from doe.words.numbers import digits_for, held_of_hundred, several, signed, with_unit
from doe.words.phrases import listed, sentence
from doe.words.screen import Grid, Part, grid
from doe.words.verdicts import HIGHER, Better

_ROWS = 9  # of the table on the terminal, at most
_SIDE_BY_SIDE = 3  # changes in a table: as many as the narrowest terminal has room for
_ROUND_RPM = (100, 200, 250, 500, 1000, 2000, 2500, 5000)
Said = Literal["worth_having", "gain", "small_gain", "no_difference", "open", "small_loss", "loss", "bad_loss"]
"""What a band says at an rpm, from the smallest gain: at least that; above 0; above 0 and less than that; less than
that either way; nothing; and the same of losses. Keys of documents."""
WORTH, GAIN, SMALL_GAIN, NO_DIFFERENCE, OPEN, SMALL_LOSS, LOSS, BAD_LOSS = get_args(Said)
GAINS, LOSSES = (WORTH, GAIN, SMALL_GAIN), (BAD_LOSS, LOSS, SMALL_LOSS)


class Zone(Protocol):
    """A stretch of rpm where the band says one thing."""

    @property
    def from_rpm(self) -> float: ...
    @property
    def to_rpm(self) -> float: ...
    @property
    def follows(self) -> bool: ...
    @property
    def says(self) -> str: ...


class Curve(Protocol):
    """One change over rpm."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def gain(self) -> Sequence[float] | None: ...
    @property
    def low(self) -> Sequence[float] | None: ...
    @property
    def high(self) -> Sequence[float] | None: ...
    @property
    def confidence(self) -> float | None: ...
    @property
    def smallest_gain(self) -> float | None: ...
    @property
    def zones(self) -> Sequence[Zone]: ...
    @property
    def notes(self) -> Sequence[Note]: ...


class CurvesOfDay(Protocol):
    """All changes, at the same rpm."""

    @property
    def quantity(self) -> str: ...
    @property
    def gain_unit(self) -> str: ...
    @property
    def better(self) -> Better: ...
    @property
    def rpm(self) -> Sequence[float]: ...
    @property
    def changes(self) -> Sequence[Curve]: ...
    @property
    def pulls(self) -> Sequence[object]: ...
    @property
    def notes(self) -> Sequence[Note]: ...


def curve_parts(curves: CurvesOfDay) -> tuple[Part, ...]:
    """What a screen shows of gain curves: a sentence a change, the band at some rpm, what a band is, and warnings."""
    warnings = "\n".join(f"Warning: {text}" for text in texts(curves.notes))
    if not curves.changes:
        return (warnings,)
    lines, shown = [_head(curves), *(f"  {line}" for line in _lines(curves))], banded(curves)
    if not shown:
        return ("\n".join([*lines, *filter(None, [warnings])]),)
    tables = [_table(shown[at : at + _SIDE_BY_SIDE], curves) for at in range(0, len(shown), _SIDE_BY_SIDE)]
    closing = "\n".join(filter(None, [meaning(curves), warnings]))
    return ("\n".join([*lines, "Gain, and half its band, at some rpm:"]), *tables, closing)


def _head(curves: CurvesOfDay) -> str:
    low, high, traces = curves.rpm[0], curves.rpm[-1], several(len(curves.pulls), "trace")
    better = "" if curves.better == HIGHER else ", less is better: a gain is a decrease"
    return f"Where in the range ({curves.quantity}, {low:,.0f} to {high:,.0f} rpm, {traces}{better}):"


def _lines(curves: CurvesOfDay) -> list[str]:
    return [f"{_name(curve)}: {where_in_range(curve, curves)}" for curve in curves.changes]


def banded(curves: CurvesOfDay) -> list[Curve]:
    """The changes that have a band."""
    return [curve for curve in curves.changes if curve.low is not None]


def meaning(curves: CurvesOfDay) -> str:
    """What a band is, in one sentence."""
    risks = {1 - curve.confidence for curve in banded(curves) if curve.confidence is not None}
    share = held_of_hundred(max(risks))
    return sentence(
        f"on {share} such days a change's true curve lies inside its band at all rpm at once. That holds for"
        " each change by itself; the verdict stays that of the one number that the day is about"
    )


def where_in_range(curve: Curve, curves: CurvesOfDay) -> str:
    """What the band of one change says where: "worth 2 hp or more from 4,900 to 6,300 rpm; …"."""
    remarks = [text.partition(": ")[2] for text in texts(curve.notes)]
    phrases = [
        f"{words} {_ranges(found, curves.rpm)}"
        for kinds, words in _claims(curve, curves.gain_unit)
        if (found := joined(curve.zones, kinds))
    ]
    if undecided := joined(curve.zones, (OPEN,)):
        where = "elsewhere" if phrases and len(undecided) > 1 else _ranges(undecided, curves.rpm)
        phrases.append(f"{where} {_undecided(curve)}")
    return "; ".join([*phrases, *remarks])


def joined(zones: Sequence[Zone], kinds: Sequence[str]) -> list[tuple[float, float]]:
    """Stretches of rpm, first and last bin, where the band says one of these; neighbours are taken together."""
    found: list[tuple[float, float]] = []
    before = None
    for zone in zones:
        if zone.says not in kinds:
            before = None
            continue
        if before is not None and zone.follows:
            found[-1] = (found[-1][0], zone.to_rpm)
        else:
            found.append((zone.from_rpm, zone.to_rpm))
        before = zone
    return found


def _claims(curve: Curve, unit: str) -> list[tuple[tuple[str, ...], str]]:
    """What may be said, by the zones for which it is true; what a buyer looks for first."""
    worth = "" if curve.smallest_gain is None else with_unit(f"{curve.smallest_gain:g}", unit)
    said = {zone.says for zone in curve.zones}
    claims: list[tuple[tuple[str, ...], str]] = [((WORTH,), f"worth {worth} or more")]
    claims += [(GAINS, "a gain")] if said & {GAIN, SMALL_GAIN} else []
    claims += [((BAD_LOSS,), f"a loss of {worth} or more")]
    claims += [(LOSSES, "a loss")] if said & {LOSS, SMALL_LOSS} else []
    return [*claims, ((SMALL_GAIN, SMALL_LOSS, NO_DIFFERENCE), f"less than {worth} either way")]


def _undecided(curve: Curve) -> str:
    said = {zone.says for zone in curve.zones}
    if said & set(GAINS) and not said & set(LOSSES):
        return "a loss can't be ruled out"
    both = not said & set(LOSSES) or said & set(GAINS)
    return "neither a gain nor a loss can be ruled out" if both else "a gain can't be ruled out"


def _ranges(found: Sequence[tuple[float, float]], rpm: Sequence[float]) -> str:
    return listed([_range(begin, end, rpm[0], rpm[-1]) for begin, end in found])


def _range(begin: float, end: float, low: float, high: float) -> str:
    """A stretch in words: "up to 4,200 rpm", "from 4,900 to 6,300 rpm", "at all rpm"."""
    if (begin, end) == (low, high):
        return "at all rpm"
    if begin == end:
        return f"at {end:,.0f} rpm"
    if begin == low:
        return f"up to {end:,.0f} rpm"
    return f"from {begin:,.0f} rpm up" if end == high else f"from {begin:,.0f} to {end:,.0f} rpm"


def _name(curve: Curve) -> str:
    return f"{curve.factor} {curve.level}"


def _table(shown: Sequence[Curve], curves: CurvesOfDay) -> Grid:
    """Gain and half the width of the band at some rpm."""
    halves = [(top - bottom) / 2 for c in shown for bottom, top in zip(c.low or (), c.high or (), strict=True)]
    digits = digits_for(min(halves))
    rows = [[f"{curves.rpm[at]:,.0f}", *(_at(curve, at, digits) for curve in shown)] for at in _rows(curves.rpm)]
    unit = f" [{curves.gain_unit}]" if curves.gain_unit else ""
    return grid(["rpm", *(f"{_name(curve)}{unit}" for curve in shown)], rows, right=range(len(shown) + 1))


def _at(curve: Curve, at: int, digits: int) -> str:
    assert curve.gain is not None and curve.low is not None
    return f"{signed(curve.gain[at], digits)} ± {curve.gain[at] - curve.low[at]:.{digits}f}"


def _rows(rpm: Sequence[float]) -> list[int]:
    """Places of some round rpm, few enough for a screen."""
    for step in _ROUND_RPM:
        rows = [place for place, at in enumerate(rpm) if at % step == 0]
        if len(rows) <= _ROWS:
            return rows or [0]
    return [0, len(rpm) - 1]
