"""A noise study: pulls of the untouched engine, with the same parts taken off and fitted again in between."""

from __future__ import annotations

import math

from doe.day.clock import fits, fresh_refit, lay_out
from doe.day.files.seal import seal_entries
from doe.day.records import Run, Stint
from doe.day.schema import DayFile, Factor
from doe.errors import DoeError
from doe.planning.drawn.result import Plan
from doe.planning.drawn.study_worth import USUAL_RATIO, study_worth
from doe.words.notes import Note
from doe.words.plans import plan_notes

_FEWEST, _MOST = 2, 8  # pulls a fitting
_ENOUGH_FITTINGS = 5  # below, the refit scatter rests on few degrees of freedom


def plan_noise_study(day: DayFile, seed: int) -> Plan:
    """As many fittings as the day holds, each with the number of pulls at which most is learned.

    Nothing is drawn: there is nothing to compare. With several parts they are fitted again in turn.

    Raises
    ------
    DoeError
        Not even two fittings fit.
    """
    parts = [factor for factor in day.refit_factors if not factor.change]
    stints = _longest(day, parts, pulls_a_fitting(day, parts)) or _longest(day, parts, _FEWEST)
    if stints is None:
        raise DoeError("nothing fits: a noise study needs two fittings with two pulls each; make the day longer")
    runs = lay_out(day, stints)
    return Plan(
        day=day,
        runs=tuple(runs),
        questions=(),
        seed=seed,
        expected_settled=0.0,
        notes=tuple(_notes(runs)),
        made=seal_entries(day),
        study=study_worth(day, stints),
    )


def pulls_a_fitting(day: DayFile, parts: list[Factor]) -> int:
    """n* = (pull_sd / install_sd) sqrt((c + k p) / p), c refit minutes, k throw-away pulls, p pull minutes."""
    noise = day.noise
    ratio = noise.pull_sd / noise.install_sd if noise.pull_sd and noise.install_sd else USUAL_RATIO
    pull = day.cell.pull_minutes
    costs = [fresh_refit(day, part.name, part.baseline) for part in parts]
    lost = max((cost.minutes + cost.settling_pulls * pull for cost in costs), default=0.0)
    return max(_FEWEST, min(_MOST, round(ratio * math.sqrt(lost / pull))))


def _longest(day: DayFile, parts: list[Factor], pulls: int) -> list[Stint] | None:
    """The most fittings that fit, and pulls in the last one until the finish; None for fewer than two fittings."""
    stints = [Stint(day.baseline, pulls)]
    while parts and fits(day, lay_out(day, stints)):
        stints.append(Stint(day.baseline, pulls, parts[(len(stints) - 1) % len(parts)].name))
    kept = stints[:-1]
    if len(kept) < _FEWEST:
        return None
    while fits(day, lay_out(day, longer := [*kept[:-1], kept[-1]._replace(pulls=kept[-1].pulls + 1)])):
        kept = longer
    return kept


def _notes(runs: list[Run]) -> tuple[Note, ...]:
    installs = runs[-1].install
    return () if installs >= _ENOUGH_FITTINGS else (plan_notes.few_fittings(installs),)
