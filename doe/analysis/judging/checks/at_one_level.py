"""Which checks are told: all of them at one level, so that 95 of 100 days on which nothing went wrong stay quiet."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from doe.analysis.judging.checks import odd_ones, scatters, through_time
from doe.analysis.judging.checks.finding import Finding
from doe.analysis.judging.checks.outcome import Outcome, Reader
from doe.words.judgements.check_notes import with_reading, would_read
from doe.words.notes import Note
from doe.words.significance import NOTABLE

CHECKS: dict[str, Callable[[Outcome], Finding]] = {
    odd_ones.PULL: odd_ones.outlying_pull,
    odd_ones.FITTING: odd_ones.outlying_fitting,
    through_time.DRIFT: through_time.next_drift_degree,
    through_time.WANDER: through_time.wander,
    through_time.BREAK: through_time.step_at_break,
    through_time.COLD: through_time.cold_start,
    through_time.CHANGEOVERS: through_time.after_changeovers,
    through_time.CARRY_OVER: through_time.carry_over,
    scatters.CONFIGURATIONS: scatters.scatter_by_configuration,
}
MOST_PULLS = 1000  # beyond it some checks would hold a matrix of pulls by pulls
_AGAIN = (odd_ones.PULL, odd_ones.FITTING)  # there may be more than one
_MOST_NAMED = 5  # a day with more is no day to name faults of


def check(outcome: Outcome, more: Sequence[Finding] = ()) -> tuple[list[Finding], list[tuple[Finding, bool]]]:
    """Look for everything that goes wrong, and say what would be named.

    The most surprising is named first, where its p stays below 5 % after Holm; the others are then looked at on the day
    with it allowed for, so that one fault is not told under the names of all that it resembles. That configurations
    scatter differently, which one bad pull can make so, is told last: when nothing else is left to tell.

    Parameters
    ----------
    outcome : Outcome
    more : sequence of Finding
        Further members of the set, which don't change when something is allowed for.

    Returns
    -------
    first : list of Finding
        Every check of the day as it is.
    named : list of (Finding, bool)
        What is to be told, in this order, and whether something was allowed for before.

    References
    ----------
    Holm (1979), Scand. J. Stat. 6, 65-70.
    """
    first = [*_looked_at(outcome, CHECKS), *more]
    members = sum(finding.p is not None for finding in first)
    named: list[tuple[Finding, bool]] = []
    now, open_checks = first, dict(CHECKS)
    told: set[str] = set()
    while members > 0 and len(named) < _MOST_NAMED:
        testable = [finding for finding in now if finding.p is not None and finding.check not in told]
        worst = min((one for one in testable if _surprise(one) * members <= NOTABLE), key=_turn, default=None)
        if worst is None:
            break
        named.append((worst, bool(named)))
        if worst.check not in _AGAIN:
            told.add(worst.check)
            members -= 1
        if worst.allowed is not None:
            outcome = worst.allowed()
            now = [*_looked_at(outcome, {k: v for k, v in open_checks.items() if k not in told}), *more]
    return first, named


def _looked_at(outcome: Outcome, checks: dict[str, Callable[[Outcome], Finding]]) -> list[Finding]:
    if outcome.trial.pulls > MOST_PULLS:
        return [Finding(name, None) for name in checks]
    return [look(outcome) for look in checks.values()] + scatters.clashes(outcome)


def _surprise(finding: Finding) -> float:
    return 1.0 if finding.p is None else finding.p


def _turn(finding: Finding) -> tuple[bool, float]:
    return finding.check == scatters.CONFIGURATIONS, _surprise(finding)


def tell(named: Sequence[tuple[Finding, bool]], reader: Reader, unit: str) -> list[Note]:
    """The notes of what is named, each with how the verdicts would read."""
    notes = []
    for finding, more in named:
        if finding.told is not None:
            readings = finding.readings(reader)
            reading = would_read(readings, unit, more=more)
            notes.append(with_reading(finding.told(reading), readings, reading))
    return notes
