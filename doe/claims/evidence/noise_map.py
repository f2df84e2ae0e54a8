"""A claim's verdict at other noise: at which repeatability it would stand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from doe.analysis.judging.verdict_rule import verdict
from doe.claims.evidence.interval import CONFIDENCE, INNER_CONFIDENCE, Evidence, Sensitivity, evidence
from doe.claims.reading.schema import NoiseTable
from doe.stats.student import upper_quantile
from doe.words.verdicts import NOT_SETTLED, Verdict

_ROWS, _COLUMNS = 7, 7
_BELOW = 4.0  # grid steps up to the SD at which the verdict turns


@dataclass(frozen=True, slots=True)
class NoiseMap:
    """Verdicts over a grid of pull SD and another SD, in the unit of the test.

    The other is that of re-fitting; where a claim compares readings of different days, that from day to day.
    """

    pull_sds: tuple[float, ...]
    other_sds: tuple[float, ...]
    verdicts: tuple[tuple[Verdict, ...], ...]  #: one row for each pull SD, one column for each of the others
    over_days: bool = False

    def to_dict(self) -> dict[str, Any]:
        """As in ``doe audit --json``."""
        return {
            "pull_sd": list(self.pull_sds),
            "day_sd" if self.over_days else "install_sd": list(self.other_sds),
            "verdicts": [list(row) for row in self.verdicts],
        }


def verdict_at(found: Evidence, smallest_gain: float | None) -> Verdict:
    """By the claim's own intervals: one claim, no family."""
    return verdict(*found.interval(CONFIDENCE), *found.interval(INNER_CONFIDENCE), smallest_gain)


def noise_map(
    gain: float,
    reach: Sensitivity,
    smallest_gain: float | None,
    pull_sds: Sequence[float],
    other_sds: Sequence[float],
    noise: NoiseTable = NoiseTable(),  # noqa: B008  (it is frozen)
) -> NoiseMap:
    """Judge one claim over a grid of assumed noise.

    Parameters
    ----------
    gain : float
        As the readings give it, selection bias included; the bias goes with the pull SD.
    reach : Sensitivity
        How strongly each kind of noise reaches the claim.
    smallest_gain : float, optional
    pull_sds, other_sds : sequence of float
        Pull SDs above 0. The others are those of re-fitting, or, where the claim compares days, those from day to day.
    noise : NoiseTable
        What is the same everywhere: the drift, beside days the re-fitting, and how well the SDs are known: the interval
        at the scatter that was taken is the claim's own.
    """
    over_days = reach.day > 0

    def at(pull_sd: float, other_sd: float) -> Verdict:
        one = noise.model_copy(update={"pull_sd": pull_sd} | ({} if over_days else {"install_sd": other_sd}))
        found = evidence(gain, reach, one, day_sd=other_sd if over_days else 0.0)
        return NOT_SETTLED if found is None else verdict_at(found, smallest_gain)

    rows = tuple(tuple(at(pull_sd, other_sd) for other_sd in other_sds) for pull_sd in pull_sds)
    return NoiseMap(tuple(pull_sds), tuple(other_sds), rows, over_days)


def sd_grid(
    gain: float, reach: Sensitivity, smallest_gain: float | None = None, df: float | None = None
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Pull SDs and the other SDs worth looking at for a claim, in its unit.

    Round numbers from well below to well above the SD at which, alone, the verdict turns; `df` are those that the noise
    states of its pull SD. The others begin at 0; there
    is nothing but 0 where neither a day nor a fitting lies between what the claim compares.
    """
    outer, inner = (float(upper_quantile((1 - level) / 2, df or math.inf)) for level in (CONFIDENCE, INNER_CONFIDENCE))
    clear = abs(gain) / outer
    inside = 0.0 if smallest_gain is None else (smallest_gain - abs(gain)) / inner
    turning = max(clear, inside) or 1.0
    step = _round_number(turning / math.sqrt(reach.pull) / _BELOW)
    pull_sds = tuple(round(step * place, 10) for place in range(1, _ROWS + 1))
    other = reach.day or reach.install
    if other <= 0:
        return pull_sds, (0.0,)
    step = _round_number(turning / math.sqrt(other) / _BELOW)
    return pull_sds, tuple(round(step * place, 10) for place in range(_COLUMNS))


def _round_number(near: float) -> float:
    """The nearest, in proportion, of a few sizes that a person would choose, times a power of ten."""
    decade = 10.0 ** math.floor(math.log10(near))
    sizes = (decade * size for size in (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0))
    return min(sizes, key=lambda size: abs(math.log(size / near)))
