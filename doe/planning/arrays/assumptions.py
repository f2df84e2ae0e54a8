"""What a plan assumes where day.toml leaves something open: noise, and gains worth having."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from doe.day.files.which_folder import START_STUDY
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.stats.precision import AssumedNoise
from doe.stats.wander import INSURED_DF, INSURED_MINUTES, INSURED_SHARE, STATED_DF


def assumed_noise(day: DayFile) -> AssumedNoise:
    """The noise that the day file gives, for planning.

    Raises
    ------
    InputError
        The pull-to-pull scatter is not given.
    """
    noise = day.noise
    if noise.pull_sd is None:
        raise InputError(
            f"day.toml, [noise]: pull_sd is missing, and without it nothing can be promised; write pull_sd = the SD"
            f" between pulls of an untouched engine [{unit_of(day)}] with pull_df from a noise study"
            f" ('{START_STUDY}'), or a careful guess without pull_df, rather high than low"
        )
    plain = AssumedNoise(
        pull_sd=noise.pull_sd,
        install_sd=noise.install_sd or 0.0,
        wander_sd=noise.wander_sd or 0.0,
        pull_df=noise.pull_df or 0.0,
        install_df=noise.install_df or 0.0,
        wander_df=noise.wander_df or STATED_DF,
    )
    if noise.wander_sd == 0 or noise.wander_df or (noise.wander_sd and (noise.pull_df or noise.install_df)):
        return plain
    # The judge insures such a day against wander: what the plan promises is what that judge will settle.
    wander_sd = noise.wander_sd or INSURED_SHARE * noise.pull_sd
    return replace(plain, wander_sd=wander_sd, wander_df=INSURED_DF, wander_minutes=INSURED_MINUTES)


def unit_of(day: DayFile) -> str:
    """The unit of gains: percent, or the metric's own."""
    return "%" if day.metric.scale == "percent" else day.metric.unit or day.metric.name


def smallest_gains(day: DayFile) -> np.ndarray:
    """Smallest gains; a question without one is planned at the largest of the others, else at two pull SDs."""
    given = [change.smallest_gain for _, change in day.questions]
    named = [gain for gain in given if gain is not None]
    stand_in = max(named) if named else 2.0 * (day.noise.pull_sd or 1.0)
    return np.array([stand_in if gain is None else gain for gain in given], float)
