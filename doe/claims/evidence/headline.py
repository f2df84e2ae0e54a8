"""The headline of a claim: the verdicts at every scatter that it may fairly be read with, as one."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from doe.words.claims import headlines as h
from doe.words.faults import Fault, is_fatal
from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS, Verdict


def headline(faults: Collection[Fault], verdicts: Sequence[Verdict], *, known: bool) -> h.Headline:
    """Say what comes first of a claim.

    Parameters
    ----------
    faults : collection of Fault
    verdicts : sequence of verdict
        At each scatter that the claim may be read with; none without a gain.
    known : bool
        Whether the test tells its pull-to-pull scatter, or somebody measured it.
    """
    codes = {fault.code for fault in faults}
    if "torque-power-mismatch" in codes:
        return h.CONTRADICTS
    if is_fatal(faults) or not verdicts:
        return h.NO_VERDICT
    found = set(verdicts)
    if found == {NOT_SETTLED}:
        return h.WITHIN
    if found == {NO_DIFFERENCE}:
        return h.NO_MATTER
    if found not in ({REAL_GAIN}, {REAL_LOSS}):
        return h.DEPENDS
    if "no-return" in codes:
        return h.PART_OR_DRIFT
    return h.MORE if known else h.MORE_AT_EVERY


def at_every(verdicts: Sequence[Verdict]) -> Verdict:
    """The verdict where nobody states the scatter: a real gain or loss if it is one at every usual one."""
    return verdicts[0] if set(verdicts) in ({REAL_GAIN}, {REAL_LOSS}) else NOT_SETTLED
