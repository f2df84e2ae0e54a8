"""What is weak in the noise that a claim is judged by, and whether the claim stands out of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from doe.claims.evidence.interval import Evidence, Sensitivity
from doe.claims.evidence.scatter import TAKEN_SHARE, USUAL_SHARES
from doe.claims.findings.comparison import where_of
from doe.claims.reading.schema import Claim, ClaimsFile, NoiseTable
from doe.words.faults import Fault
from doe.words.numbers import digits_for
from doe.words.phrases import listed
from doe.words.verdicts import NOT_SETTLED, Verdict


def noise_faults(
    file: ClaimsFile,
    claim: Claim,
    noise: NoiseTable,
    reach: Sensitivity,
    found: Evidence | None,
    verdicts: Sequence[Verdict],
) -> Iterator[Fault]:
    """Everything that is weak in the noise of one claim; that a difference does not matter is no weakness.

    `verdicts` are those at every usual scatter, the first of them at the scatter that is known.
    """
    where, unit = where_of(file, claim), file.test.unit
    if noise.pull_sd is None:
        yield Fault.of("noise-unknown", where, "the test does not state how far its pulls scatter")
        if found is not None:
            shares = listed([f"{100 * share:g}" for share in USUAL_SHARES])
            what = f"{shares} % of the reading are tried, and figures are given at {100 * TAKEN_SHARE:g} %"
            yield Fault.of("noise-assumed", where, what)
    else:
        yield from _assumed(noise, reach, where, unit)
    known = verdicts[:1] if noise.pull_sd is not None else verdicts
    if found is not None and known and set(known) == {NOT_SETTLED}:
        low, high = found.interval()
        digits = digits_for(found.se)
        what = f"95 % interval from {low:+.{digits}f} to {high:+.{digits}f} {unit}".rstrip()
        yield Fault.of("within-noise", where, f"{what}, which takes in 0")


def _assumed(noise: NoiseTable, reach: Sensitivity, where: str, unit: str) -> Iterator[Fault]:
    """SDs without degrees of freedom, and one that nobody gives."""
    named = [("pull-to-pull scatter", noise.pull_sd, noise.pull_df)]
    if reach.install > 0 and noise.install_sd is not None:
        named.append(("refit scatter", noise.install_sd, noise.install_df))
    guessed = [f"{name} {sd:g} {unit}".rstrip() for name, sd, df in named if df is None]
    if guessed:
        yield Fault.of("noise-assumed", where, f"{listed(guessed)} {'is' if len(guessed) == 1 else 'are'} assumed")
    if reach.install > 0 and noise.install_sd is None:
        what = "nothing is said of what re-fitting parts adds; taken as nothing, which flatters the claim"
        yield Fault.of("noise-assumed", where, what)
