"""Which interval each change gets: the rule that looks at the design and the studies, never at the readings."""

from __future__ import annotations

from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial

STUDY = "study"
CROSSED = "crossed"
LONGER = "longer of two"
SHORTENED = "shortened by crossed"
WITHIN = "within installs"
NONE = "none"
KENWARD_ROGER = "kenward-roger"
INSTALL_MEANS = "install-means"
BY_MEANS = (LONGER, SHORTENED)
"""The longer of t on the means over the fittings and t on pulls; of the second crossed fittings shorten the means'."""
INSURED = (STUDY, CROSSED, WITHIN)
"""Routes that a wander which nobody stated would fool: "longer of two" takes it into its fitting means."""
METHODS = ("auto", KENWARD_ROGER, INSTALL_MEANS)


def one_pull_per_install(trial: Trial) -> bool:
    """Tell whether every pull was a fitting of its own, so that install and pull scatter are one."""
    return bool(trial.fittings) and all(len(means.matrix) == trial.pulls for means in trial.fitting_means.values())


def has_install_study(trial: Trial, known: KnownNoise) -> bool:
    """Tell whether a study speaks for the install scatter: with one pull per install it takes both SDs."""
    return known.install is not None and (known.pull is not None or not one_pull_per_install(trial))


def anything_left_between(trial: Trial) -> bool:
    """Tell whether the day itself can show the install scatter: J - r >= 1 for some refit factor."""
    return any(left >= 1 for left in trial.left_between.values())


def choose_routes(trial: Trial, known: KnownNoise, method: str = "auto") -> tuple[str, ...]:
    """Choose the route of each change.

    Parameters
    ----------
    trial : Trial
        A change that the model in use doesn't determine gets no route.
    known : KnownNoise
    method : {"auto", "kenward-roger", "install-means"}
        A named method is taken for every change, so that a statistician can reproduce other software.

    Returns
    -------
    tuple of str, one per change
    """
    return tuple(_route(trial, known, method, change) for change in range(len(trial.factors)))


def _route(trial: Trial, known: KnownNoise, method: str, change: int) -> str:
    error_df = trial.error_df
    if not trial.determined[change]:
        return NONE
    if method == KENWARD_ROGER:
        return method if error_df else NONE
    if method == INSTALL_MEANS:
        return method if _means_can(trial, change) else NONE
    if trial.fittings and has_install_study(trial, known):
        return STUDY if error_df or known.pull else NONE
    if trial.grouping(change) is None:
        return WITHIN if _within_can(trial, known, change) else NONE
    if trial.crossed[change]:
        return CROSSED
    if not _means_can(trial, change):
        return NONE
    return SHORTENED if trial.shortened[change] else LONGER


def same_without(trial: Trial, known: KnownNoise, pulls: int) -> bool:
    """Tell whether every change keeps its route, and the mixed model its components, whichever pulls are left out.

    `pulls` of them, such that the others determine as much. Where a day has fittings and no study knows both SDs, that
    can't be told beforehand: False.
    """
    studied = known.pull is not None and known.install is not None
    return trial.error_df > pulls and (studied or not trial.fittings)


def one_sd_each(trial: Trial, known: KnownNoise) -> bool:
    """Tell whether every refit part has a refit scatter of its own in the mixed model: several parts and no study."""
    return len(trial.apart) > 1 and not has_install_study(trial, known)


def sees_installs(trial: Trial, known: KnownNoise) -> bool:
    """Tell whether the mixed model has a refit scatter: a study knows it, or the day has something left to see it."""
    if has_install_study(trial, known):
        return True
    return not one_pull_per_install(trial) and (anything_left_between(trial) or bool(trial.crossed.any()))


def _means_can(trial: Trial, change: int) -> bool:
    space = trial.means_for(change).space
    return space.left >= 1 and bool(space.determines(trial.fixed().gains[change : change + 1])[0])


def only_within(trial: Trial, known: KnownNoise, method: str, change: int) -> bool:
    """Tell whether the change can be read inside the fittings only: a quick one whose day shows no install scatter."""
    if method != "auto" or has_install_study(trial, known) or trial.grouping(change) is not None:
        return False
    return fittings_as_blocks(trial)


def fittings_as_blocks(trial: Trial) -> bool:
    """Tell whether quick changes are read inside the fittings: nothing is left to see the install scatter with."""
    return bool(trial.fittings) and not anything_left_between(trial)


def _within_can(trial: Trial, known: KnownNoise, change: int) -> bool:
    blocks = fittings_as_blocks(trial)
    if blocks and not trial.determined_within[change]:
        return False
    left = trial.within.left if blocks else trial.error_df
    return left >= 1 or known.pull is not None
