"""The comments of the lines of R that a judgement is written as."""

from __future__ import annotations

RISKS = (
    "name, column, fits (the longer interval counts), two-sided single risks of the outer and the inner simultaneous"
    " interval (multivariate t over all changes; mvtnorm::qmvt gives the same), smallest gain"
)
NO_INTERVAL = "no interval"
NO_STUDY = "lme4 has no place for a noise study: these lines leave it out and don't reproduce the verdict"
NO_STUDY_IN_GAIN = "the study of the pull scatter has a little weight in the gain, which lme4 leaves out"
NO_WANDER = "lme4 has no place for a wander: these lines leave it out and don't reproduce the verdict"
NO_INSURANCE = (
    "lme4 has no place for the insurance against wander: these lines leave it out; they reproduce the verdict that"
    " wander_sd = 0 would give"
)


NOTHING_SHOWN = "while the plan is unfinished no gain is shown, in R neither (--look, --final)"


def head(metric: str, unit: str) -> list[str]:
    """What the file is."""
    of = f"{metric} [{unit}]" if unit else metric
    return [
        f"{of}: the counted pulls, and lines that judge them with lme4 and pbkrtest. Run it: Rscript FILE",
        "y the reading, then the columns of the fixed effects (hours from the mean minute), then labels of fittings.",
    ]
