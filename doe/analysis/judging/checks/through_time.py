"""What goes wrong along the day: a drift that bends, a step at the break, wander, a cold engine, carry-over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np

from doe.analysis.judging.checks.added_column import ColumnTest, column_test
from doe.analysis.judging.checks.finding import Finding
from doe.analysis.judging.checks.outcome import Outcome
from doe.analysis.judging.fits import fit_design
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.fixed_effects import DRIFT_DEGREE, centred_hours
from doe.stats.mixed_model import decompose, indicator
from doe.stats.rounding import only_rounding
from doe.stats.wander import INSURED_MINUTES, INSURED_SHARE, wander_factor, wander_p
from doe.words.judgements import check_notes
from doe.words.notes import Note

DRIFT, BREAK, WANDER = "next drift degree", "step at the longest break", "wander"
COLD, CHANGEOVERS, CARRY_OVER = "cold start", "trend after changeovers", "carry-over"

_BREAK_MINUTES = 20.0  # a shorter gap is no break (an engineer's choice)
_BREAK_SHARE = 1.5  # nor is one that the next longest gap comes near
_FADES = 1.0  # pulls in which what a changeover left dies away to 1/e (an engineer's choice)
_WARMS = 2.0  # pulls in which what a cold engine lacks dies away to 1/e (an engineer's choice)
_LEAST_CONTRASTS = 3


def next_drift_degree(outcome: Outcome) -> Finding:
    """Test whether the drift bends once more than the model has it."""
    trial = outcome.trial
    if trial.minute is None:
        return Finding(DRIFT, None)
    degree = DRIFT_DEGREE[trial.drift] + 1
    column = centred_hours(trial.minute) ** degree
    return _of_column(DRIFT, outcome, column, lambda test: partial(check_notes.drift_bends, degree))


def step_at_break(outcome: Outcome) -> Finding:
    """Test whether the engine came back from the longest break as it went."""
    place = _longest_break(outcome)
    if place is None:
        return Finding(BREAK, None)
    before, column = place
    name = outcome.names[before]
    return _of_column(
        BREAK, outcome, column, lambda test: partial(check_notes.step_at_break, name, _size(test, outcome))
    )


def cold_start(outcome: Outcome) -> Finding:
    """Test whether the first pulls of the day lie off the later ones: an engine not yet warm."""
    column = np.exp(-place_in_run(outcome.trial.day[:, None], outcome.trial.in_time) / _WARMS)
    return _of_column(COLD, outcome, column, lambda test: partial(check_notes.cold_start, _size(test, outcome)))


def after_changeovers(outcome: Outcome) -> Finding:
    """Test whether the first pulls after a changeover lie off the later ones: an engine not yet warm again.

    After refits where there are any, else after every change of configuration.
    """
    column = np.exp(-_pulls_since_changeover(outcome) / _FADES)
    found = column_test(outcome, column, inside=True)
    return _finding(
        CHANGEOVERS,
        outcome,
        column,
        found,
        lambda test: partial(check_notes.not_warm, _size(test, outcome), outcome.fitted_afresh),
    )


def carry_over(outcome: Outcome) -> Finding:
    """Test whether what was on before still acts: the level before as a column, one for each factor.

    How a part was begun with, until its first changeover of the day, takes no part in it: of a part that goes on and
    off in turn nothing else would tell what was on before from an engine that was cold. With several levels they are
    weighed by their gains: what is a function of the fitted values alone leaves the test as it is.

    References
    ----------
    Grizzle (1965), Biometrics 21, 467-480; Milliken & Graybill (1970), J. Am. Stat. Assoc. 65, 797-807.
    """
    found = []
    for factor in dict.fromkeys(outcome.trial.factors):
        column = _gain_before(outcome, factor)
        if column is None:
            continue
        begun = _as_begun(outcome.trial, factor)
        test = column_test(outcome.with_column(begun), column)
        if test is not None:
            found.append((test, np.column_stack([begun, column]), factor))
    if not found:
        return Finding(CARRY_OVER, None)
    test, columns, factor = min(found, key=lambda one: one[0].p)
    p = min(1.0, len(found) * test.p)
    several = outcome.trial.factors.count(factor) > 1
    return Finding(
        CARRY_OVER,
        p,
        partial(check_notes.carried_over, factor, None if several else _size(test, outcome)),
        partial(outcome.with_column, columns),
    )


def wander(outcome: Outcome) -> Finding:
    """Test whether neighbouring pulls lie nearer than others, beyond drift and fittings.

    Exact, fittings as blocks, in the kernel of the insurance (see `wander_p`). A wander that is stated with its df is
    in the model, and is not looked for.
    """
    trial = outcome.trial
    if trial.minute is None or outcome.studied.wander is not None:
        return Finding(WANDER, None)
    space = trial.within if outcome.fitted_afresh else trial.fixed().space
    if space.left < _LEAST_CONTRASTS:
        return Finding(WANDER, None)
    factor = wander_factor(trial.minute, trial.day, INSURED_MINUTES)
    contrasts = np.linalg.svd(space.basis, full_matrices=True)[0][:, space.rank :]
    seen, left = contrasts.T @ factor, outcome.values @ contrasts
    if only_rounding(contrasts @ left, outcome.values):
        return Finding(WANDER, None)
    insured = replace(outcome, known=replace(outcome.known, wander_unstated=True))

    def told(reading: str) -> Note:
        pull, size = _wander_sizes(outcome, factor)
        return check_notes.wanders(size / pull, insured=outcome.known.wander_unstated, reading=reading)

    return Finding(
        WANDER,
        wander_p(left, seen),
        told,
        lambda: replace(insured, wandering=_wander_sizes(outcome, factor)[1]),
        lambda reader: reader.of(insured),
    )


def _wander_sizes(outcome: Outcome, factor: np.ndarray) -> tuple[float, float]:
    """SDs of pulls and of the wander, in the metric's unit: REML inside the fittings, from these pulls alone.

    At least what the insurance takes of a wander that nobody saw.
    """
    design = decompose(outcome.trial.within, outcome.trial.within_answers, [factor])
    theta = fit_design(design, (WANDER,), KnownNoise(), outcome.values[None]).theta[0]
    pull, size = np.sqrt(theta).tolist()
    return pull, max(size, INSURED_SHARE * pull)


def _size(test: ColumnTest, outcome: Outcome) -> check_notes.Size:
    return check_notes.Size(test.size, outcome.unit)


def _of_column(
    check: str, outcome: Outcome, column: np.ndarray, told: Callable[[ColumnTest], Callable[[str], Note]]
) -> Finding:
    return _finding(check, outcome, column, column_test(outcome, column), told)


def _finding(
    check: str,
    outcome: Outcome,
    column: np.ndarray,
    test: ColumnTest | None,
    told: Callable[[ColumnTest], Callable[[str], Note]],
) -> Finding:
    if test is None:
        return Finding(check, None)
    return Finding(check, test.p, told(test), partial(outcome.with_column, column))


def _longest_break(outcome: Outcome) -> tuple[int, np.ndarray] | None:
    """Row of the last pull before the longest break of all days, and the column that is 1 after it on its day."""
    trial, order = outcome.trial, outcome.trial.in_time
    if trial.minute is None or trial.pulls < 2:
        return None
    same = trial.day[order][1:] == trial.day[order][:-1]
    gaps = np.where(same, np.diff(trial.minute[order]), 0.0)
    at = int(gaps.argmax())
    others = np.delete(gaps, at).max(initial=0.0)
    if gaps[at] < max(_BREAK_MINUTES, _BREAK_SHARE * others):
        return None
    column = np.zeros(trial.pulls)
    column[order[at + 1 :]] = 1.0
    column[trial.day != trial.day[order[at]]] = 0.0
    return int(order[at]), column


def _pulls_since_changeover(outcome: Outcome) -> np.ndarray:
    """Place of each pull in its stretch between two changeovers, from 0; shape (pulls,)."""
    trial, order = outcome.trial, outcome.trial.in_time
    what = [trial.day, *([trial.install] if outcome.fitted_afresh else trial.changes.T)]
    return place_in_run(np.column_stack(what), order)


def place_in_run(what: np.ndarray, order: np.ndarray) -> np.ndarray:
    """Place of each row in its unbroken run of equal rows along `order`, from 0; shape (rows,)."""
    found = np.zeros(len(what))
    for before, now in pairwise(order.tolist()):
        found[now] = found[before] + 1 if (what[now] == what[before]).all() else 0
    return found


def _gain_before(outcome: Outcome, factor: str) -> np.ndarray | None:
    """Gain of the level that was on before the present one, 0 for the baseline; None where that is never anything.

    With one level the column of where it was: its coefficient is then what is carried over. A day begins in the
    baseline.
    A quick factor with one change tells nothing: before the one level there was always the other.
    """
    trial = outcome.trial
    before = levels_before(trial, factor)
    mine = trial.changes_of(factor)
    if len(mine) == 1 and factor not in trial.fittings:
        return None
    weights = np.ones(1)
    if len(mine) > 1:
        fixed = trial.fixed()
        weights = fixed.space.weights(fixed.gains[mine]) @ outcome.values
        if not np.isfinite(weights).all():
            return None
    column = np.concatenate([[0.0], weights])[before]
    return column if column.any() else None


def levels_before(trial: Trial, factor: str) -> np.ndarray:
    """Which level of a factor was on before the present fitting or set: 0 the baseline, then its changes in order."""
    level, spell, found = _levels(trial, factor), _spells(trial, factor), np.zeros(trial.pulls, int)
    for last, now in pairwise(trial.in_time.tolist()):
        if trial.day[now] == trial.day[last]:
            found[now] = level[last] if (spell[now] != spell[last]).any() else found[last]
    return found


def _as_begun(trial: Trial, factor: str) -> np.ndarray:
    """Which pulls were made before the factor's first changeover of each day, shape (pulls, days)."""
    spell, found = _spells(trial, factor), np.zeros(trial.pulls)
    for last, now in pairwise(trial.in_time.tolist()):
        if trial.day[now] == trial.day[last]:
            found[now] = found[last] + (spell[now] != spell[last]).any()
    return (found == 0)[:, None] * indicator(trial.day)


def _levels(trial: Trial, factor: str) -> np.ndarray:
    """Which level of a factor is on: 0 the baseline, then its changes in order."""
    mine = trial.changes_of(factor)
    return np.rint(trial.changes[:, mine] @ np.arange(1, len(mine) + 1)).astype(int)


def _spells(trial: Trial, factor: str) -> np.ndarray:
    """What is another one after each changeover of a factor: level and fitting, shape (pulls, 1 or 2)."""
    fitting = trial.fittings.get(factor)
    return np.column_stack([_levels(trial, factor), *([] if fitting is None else [fitting])])
