"""Does the print agree with itself: differences, sums, percentages, torque and power, figures per litre.

What rounding can have done is allowed for: half a unit of the last printed digit of every figure that enters.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from doe.claims.evidence.interval import weights
from doe.claims.findings.comparison import where_of
from doe.claims.reading.printed import decimals, half_unit
from doe.claims.reading.schema import Claim, ClaimsFile
from doe.day.names import name_key
from doe.words.faults import Fault
from doe.words.phrases import listed

_SLACK = 1e-9


def measured_gain(file: ClaimsFile, claim: Claim) -> float | None:
    """The gain that the printed readings give; None when a reading is missing."""
    if any(step.value is None for step in file.used(claim)):
        return None
    values = [float(step.value or 0) for step in file.step]
    return float(weights(file, claim) @ values)


def baseline_value(file: ClaimsFile, claim: Claim) -> float | None:
    """Mean of the readings that a claim starts from; None when one is missing."""
    values = [file.step[place].value for place in file.from_places(claim)]
    return None if None in values else sum(map(float, values)) / len(values)  # type: ignore[arg-type]


def arithmetic_faults(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    """Figures of one claim that do not agree with each other."""
    yield from _numbers(file, claim)
    yield from _difference(file, claim)
    yield from _percent(file, claim)
    yield from _sum(file, claim)


def _numbers(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    missing = [f"'{step.name}'" for step in file.used(claim) if step.value is None]
    if missing:
        yield Fault.of("no-numbers", listed(missing), "no reading is printed")


def rounding(file: ClaimsFile, claim: Claim) -> float:
    """What rounding of the readings can have done to a gain at most."""
    reach = abs(weights(file, claim))
    return float(
        sum(w * half_unit(step.value) for w, step in zip(reach, file.step, strict=True) if step.value is not None)
    )


def _difference(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    gain = measured_gain(file, claim)
    if gain is None or claim.gain is None:
        return
    if abs(gain - float(claim.gain)) > rounding(file, claim) + half_unit(claim.gain) + _SLACK:
        shown = f"{gain:+.{_digits(file, claim)}f}"
        yield Fault.of(
            "difference-wrong", where_of(file, claim), f"the readings give {shown}, the print says {claim.gain:+}"
        )


def _digits(file: ClaimsFile, claim: Claim) -> int:
    return decimals(claim.gain, *(step.value for step in file.used(claim)))


def _percent(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    gain, base = measured_gain(file, claim), baseline_value(file, claim)
    if claim.percent is None or gain is None or base is None:
        return
    printed = float(claim.percent)
    possible = [gain] if claim.gain is None else [gain, float(claim.gain)]
    allowed = half_unit(claim.percent) + 100 * rounding(file, claim) / base + _SLACK
    if all(abs(printed - 100 * size / base) > allowed for size in possible):
        digits = max(decimals(claim.percent), 1)
        what = f"the readings give {100 * gain / base:+.{digits}f} %, the print says {claim.percent:+} %"
        yield Fault.of("percent-wrong", where_of(file, claim), what + _other_base(printed, gain, base, allowed))


def _other_base(printed: float, gain: float, base: float, allowed: float) -> str:
    """Whether the percentage was taken of the reading with the part."""
    as_share_of_end = abs(printed - 100 * gain / (base + gain)) <= allowed
    return ", which is its share of the higher figure" if as_share_of_end and gain > 0 else ""


def _sum(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    """A total against the claims that it is made of: a chain of claims from its start to its end."""
    if claim.gain is None:
        return
    chain = _chain(file, claim, _end(claim.from_), [])
    if not chain:
        return
    parts = [part.gain for part in chain if part.gain is not None]
    total = sum(parts, Decimal(0))
    allowed = sum(map(half_unit, parts)) + half_unit(claim.gain) + _SLACK
    if abs(float(total - claim.gain)) > allowed:
        names = listed([f"'{part.name}'" for part in chain])
        yield Fault.of(
            "sum-wrong", f"claim '{claim.name}'", f"{names} add up to {total:+}, the print says {claim.gain:+}"
        )


def _end(names: tuple[str, ...]) -> frozenset[str]:
    return frozenset(map(name_key, names))


def _chain(file: ClaimsFile, total: Claim, start: frozenset[str], so_far: list[Claim]) -> list[Claim] | None:
    """Two or more other claims with printed gains that lead from a start to the end of a total."""
    if start == _end(total.to) and len(so_far) > 1:
        return so_far
    for claim in file.claim:
        usable = claim is not total and claim.gain is not None and claim not in so_far
        if usable and _end(claim.from_) == start:
            found = _chain(file, total, _end(claim.to), [*so_far, claim])
            if found:
                return found
    return None
