"""The scatter that a claim is read with: single pulls in print, what the file states, a day of one's own, the usual."""

from __future__ import annotations

import math

import numpy as np

from doe.claims.evidence.interval import Sensitivity
from doe.claims.reading.printed import half_unit
from doe.claims.reading.schema import ClaimsFile, NoiseTable

#: pull SDs as shares of the reading, install SD as a share of the pull SD, and drift SDs from step to step as shares of
#: the reading, where nobody states them; common practice, no published source
USUAL_SHARES = (0.0025, 0.005, 0.01)
TAKEN_SHARE = 0.005
USUAL_REFIT_RATIO = 0.6
USUAL_DRIFT_SHARES = (0.0, 0.0025, 0.005)
USUAL_DAY_SHARE = 0.005  # SD from day to day, the same


def has_singles(file: ClaimsFile) -> bool:
    """Whether some step's pulls are printed one by one."""
    return any(len(step.singles) > 1 for step in file.step)


def scatter_of_pulls(file: ClaimsFile) -> tuple[float, float] | None:
    """SD and degrees of freedom of the single pulls in print, pooled over the steps; None without two of one step.

    Not below the SD of the rounding itself, a unit of the last printed digit over the root of 12: pulls that are
    printed alike may still differ.
    """
    if not has_singles(file):
        return None
    printed = [step for step in file.step if len(step.singles) > 1]
    squares = sum(float(np.var([float(one) for one in step.singles])) * len(step.singles) for step in printed)
    df = sum(len(step.singles) - 1 for step in printed)
    rounding = max(2 * half_unit(step.value) for step in printed if step.value is not None) / math.sqrt(12)
    return max(math.sqrt(squares / df), rounding), float(df)


def noise_used(file: ClaimsFile, own: NoiseTable | None = None) -> NoiseTable:
    """The scatter of a test: single pulls in print, before what its file states, before that of one's own day.

    The first two are pooled where both have degrees of freedom; an SD that nobody before states is taken from the next.

    Parameters
    ----------
    file : ClaimsFile
    own : NoiseTable, optional
        Of one's own day, in the unit of the test.
    """
    stated = file.noise
    found = scatter_of_pulls(file)
    sd, df, source = stated.pull_sd, stated.pull_df, stated.source
    if found is not None:
        told = f"the single pulls in print, {found[1]:g} df"
        if sd is not None and df is not None:
            sd, df = math.sqrt((sd**2 * df + found[0] ** 2 * found[1]) / (df + found[1])), df + found[1]
            source = f"{told}, pooled with: {source or 'what the test states'}"
        else:
            sd, df = found
            also = f"; {source}" if source else ""
            if stated.pull_sd is not None:
                also = f"; not the {stated.pull_sd:g} that the file states without df{f' ({source})' if source else ''}"
            source = told + also
    elif sd is None and own is not None:
        sd, df, source = own.pull_sd, own.pull_df, own.source
    elif own is not None:
        source += "; " * bool(source) + "stated, so that of the day that was named is not taken"
    install = (stated.install_sd, stated.install_df)
    if install[0] is None and own is not None and own.install_sd is not None:
        install = (own.install_sd, own.install_df)
        source += f"; refit scatter from {own.source}" * (own.source not in source)
    return NoiseTable(
        pull_sd=sd, pull_df=df, install_sd=install[0], install_df=install[1], drift_sd=stated.drift_sd, source=source
    )


def assumed(noise: NoiseTable, base: float, share: float = TAKEN_SHARE) -> NoiseTable:
    """The scatter with a usual pull SD, and the refit scatter that goes with it, in the place of what nobody states.

    Parameters
    ----------
    noise : NoiseTable
    base : float
        The reading that the share is taken of.
    share : float
    """
    if noise.pull_sd is not None:
        return noise
    pull_sd = share * base
    install_sd = USUAL_REFIT_RATIO * pull_sd if noise.install_sd is None else noise.install_sd
    return noise.model_copy(update={"pull_sd": pull_sd, "install_sd": install_sd})


def usual_noises(noise: NoiseTable, base: float | None, reach: Sensitivity) -> list[NoiseTable]:
    """Every usual scatter that a claim is read at: over the pull SD where nobody states it, else over the refit SD.

    Empty where there is no reading that a share could be taken of.
    """
    if noise.pull_sd is None:
        return [] if base is None else [assumed(noise, base, share) for share in USUAL_SHARES]
    if noise.install_sd is None and reach.install > 0:
        return [noise, noise.model_copy(update={"install_sd": USUAL_REFIT_RATIO * noise.pull_sd})]
    return [noise]


def usual_line(base: float, *, over_days: bool = False) -> list[tuple[float, float]]:
    """The usual scatters of a reading: each pull SD, and the refit SD that goes with it, or that from day to day."""
    return [(x * base, USUAL_DAY_SHARE * base if over_days else USUAL_REFIT_RATIO * x * base) for x in USUAL_SHARES]
