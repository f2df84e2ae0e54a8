"""Auditing published tests: from claims files to verdicts, faults and what several tests say together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from doe.claims.evidence.belief import Belief, Doubts
from doe.claims.evidence.design_analysis import design_analysis
from doe.claims.evidence.headline import at_every, headline
from doe.claims.evidence.interval import (
    Evidence,
    Sensitivity,
    correlations,
    evidence,
    needed_pull_sd,
    sensitivity,
    standing_pull_sd,
)
from doe.claims.evidence.noise_map import NoiseMap, noise_map, sd_grid, verdict_at
from doe.claims.evidence.own_noise import noise_of_day
from doe.claims.evidence.scatter import assumed, has_singles, noise_used, usual_noises
from doe.claims.findings.arithmetic import arithmetic_faults, baseline_value, measured_gain
from doe.claims.findings.comparison import comparison_faults, confounded_with, provenance_faults
from doe.claims.findings.noise_faults import noise_faults
from doe.claims.findings.plausibility import plausibility_faults
from doe.claims.findings.questions import questions_of
from doe.claims.findings.same_change import same_changes
from doe.claims.findings.selection_faults import selection_faults
from doe.claims.reading.claimsfile import read_claims_files
from doe.claims.reading.schema import TYPICAL_SHARE, Claim, ClaimsFile, NoiseTable
from doe.claims.result import Audit, AuditedClaim, AuditedTest
from doe.words.faults import Fault, by_weight, is_fatal
from doe.words.verdicts import NOT_SETTLED, Verdict


def audit(paths: Path | str | Sequence[Path | str], *, noise_from: Path | str | None = None) -> Audit:
    """Audit published tests.

    Parameters
    ----------
    paths : path or sequence of paths
        Claims files, one a published test. Tests of the same change are set side by side, three or more are pooled.
    noise_from : path, optional
        A day folder of one's own: its [noise] says the scatter that the files don't state. Its metric must be theirs.

    Raises
    ------
    InputError
        Faults in the files: all of them at once.
    """
    files = [Path(path) for path in ([paths] if isinstance(paths, Path | str) else paths)]
    day = None if noise_from is None else Path(noise_from)
    tests = tuple(
        audit_test(file, path.name, None if day is None else noise_of_day(day, file))
        for path, file in zip(files, read_claims_files(files), strict=True)
    )
    return Audit(tests, same_changes(tests))


def audit_test(file: ClaimsFile, name: str, own: NoiseTable | None = None) -> AuditedTest:
    """Audit one test that has been read.

    Parameters
    ----------
    file : ClaimsFile
    name : str
        Of the file, for those who look for it.
    own : NoiseTable, optional
        The scatter of a day of one's own, for what the test does not state.
    """
    used = noise_used(file, own)
    claims = tuple(_audit_claim(file, claim, used) for claim in file.claim)
    elsewhere = own is not None and used.pull_sd is not None and file.noise.pull_sd is None and not has_singles(file)
    return AuditedTest(name, file, used, claims, correlations(file, used), elsewhere)


def _audit_claim(file: ClaimsFile, claim: Claim, noise: NoiseTable) -> AuditedClaim:
    """Everything about one claim."""
    reach, base = sensitivity(file, claim), baseline_value(file, claim)
    gain = _gain(file, claim)
    taken = noise if base is None else assumed(noise, base)
    found = None if gain is None else evidence(gain, reach, taken)
    belief = _belief(file, claim, gain, base, reach, noise)
    others = confounded_with(file, claim)
    usual = [] if gain is None else usual_noises(noise, base, reach)
    verdicts = [_verdict(evidence(gain, reach, one), claim.smallest_gain) for one in usual if gain is not None]
    judged = _verdict(found, claim.smallest_gain) if noise.pull_sd is not None or not verdicts else at_every(verdicts)
    faults = by_weight([*_faults(file, claim), *noise_faults(file, claim, noise, reach, found, verdicts)])
    fatal = {fault.code for fault in faults if fault.severity == "fatal"}
    return AuditedClaim(
        claim=claim,
        gain=gain,
        base=base,
        noise=taken,
        evidence=found,
        needed_pull_sd=None if gain is None else needed_pull_sd(gain, reach, noise),
        standing_pull_sd=None if gain is None else standing_pull_sd(gain, reach, noise),
        standing_pull_sd_alone=None
        if gain is None
        else standing_pull_sd(gain, reach, NoiseTable(pull_df=noise.pull_df)),
        typical_gain=belief.typical if belief else None,
        design=None if found is None or belief is None else design_analysis(belief.typical, found.se, found.df),
        chance=None if found is None or belief is None else belief.chance(found),
        with_drift=None if found is None or belief is None else belief.with_drift(),
        confounded_with=tuple(others),
        faults=faults,
        noise_map=None if gain is None or is_fatal(faults) else _map(gain, reach, claim, taken),
        headline=headline(faults, verdicts, known=noise.pull_sd is not None),
        verdict=NOT_SETTLED if fatal else judged,
        verdict_of_the_package=judged if fatal == {"confounded"} else None,
        questions=tuple(questions_of(file, claim, faults, belief.doubts() if belief else Doubts())),
    )


def _gain(file: ClaimsFile, claim: Claim) -> float | None:
    """The gain by the readings, else as printed."""
    measured = measured_gain(file, claim)
    if measured is None and claim.gain is not None:
        return float(claim.gain)
    return measured


def _faults(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    """Every weak point of a claim but those of its noise."""
    yield from comparison_faults(file, claim)
    yield from arithmetic_faults(file, claim)
    yield from selection_faults(file, claim)
    for step in file.used(claim):
        yield from plausibility_faults(file, step)
    yield from provenance_faults(file)


def _verdict(found: Evidence | None, smallest_gain: float | None) -> Verdict:
    return NOT_SETTLED if found is None else verdict_at(found, smallest_gain)


def _belief(
    file: ClaimsFile, claim: Claim, gain: float | None, base: float | None, reach: Sensitivity, noise: NoiseTable
) -> Belief | None:
    """What is believed of a claim before its scatter is known; None without a gain and something to take it of."""
    typical = file.prior.typical_gain or (None if base is None else TYPICAL_SHARE * base)
    if gain is None or typical is None:
        return None
    sign = float(claim.gain) if claim.gain else gain
    return Belief(gain, base or typical / TYPICAL_SHARE, typical, file.prior.chance_of_nothing, sign, reach, noise)


def _map(gain: float, reach: Sensitivity, claim: Claim, noise: NoiseTable) -> NoiseMap:
    """The verdict at other noise, over round numbers about those at which it turns."""
    grid = sd_grid(gain, reach, claim.smallest_gain, noise.pull_df)
    return noise_map(gain, reach, claim.smallest_gain, *grid, noise)
