"""The fits that the routes of a trial ask for: mixed model, means, blocks, and the insurance against wander."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.fits import Model, fit, fit_design, fit_inside_fittings, random_days
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.mixed_model import decompose
from doe.stats.wander import INSURED_MINUTES


@dataclass(frozen=True, slots=True)
class RouteFits:
    """Every fit of a trial that its routes ask for."""

    routes: tuple[str, ...]
    main: Model
    pulls: Model | None  #: least squares on pulls: of the longer of two, and as if re-fitting added nothing
    blocks: Model | None  #: every fitting a block
    within: Sequence[int]  #: the changes that are read there
    again: Mapping[int, Model]  #: by change that is judged twice, the fit that is insured against wander
    of: Sequence[Sequence[Model]]  #: what the interval of each change comes from


def fit_routes(
    trial: Trial,
    known: KnownNoise,
    values: np.ndarray,
    method: str,
    starts: Mapping[tuple[str, ...], np.ndarray],
    left_out: np.ndarray | None,
    *,
    percent: bool,
) -> RouteFits:
    """Fit the mixed model, and beside it what the routes need.

    Parameters
    ----------
    trial : Trial
    known : KnownNoise
        In the metric's unit, or in percent when `percent`.
    values : ndarray, shape (days, pulls)
    method : {"auto", "kenward-roger", "install-means"}
    starts : mapping of the components' names to ndarray, shape (days, components)
        Variances of nearly the same pulls.
    left_out : ndarray of int, shape (days, left out), or None
        Pulls that each day does without.
    percent : bool
        What is known of the noise is a share of the baseline.
    """
    routes = r.choose_routes(trial, known, method)
    fixed = trial.fixed(random_days=random_days(trial, method))
    untouched = decompose(fixed.space, fixed.answers_in(fixed.space))
    plain = (
        fit_design(untouched, (), KnownNoise(), values, left_out=left_out) if percent or known.wander_unstated else None
    )
    if percent:
        assert plain is not None
        known = known.scaled(plain.inference.estimate[:, len(routes)] / 100.0)
    beside = any(route in (*r.BY_MEANS, r.NONE) for route in routes)
    pulls = fit_design(untouched, (), known, values, left_out=left_out) if beside else None
    main = fit(trial, known, values, method=method, starts=starts, left_out=left_out)
    within = [i for i in range(len(routes)) if r.only_within(trial, known, method, i)]
    blocks = fit_inside_fittings(trial, known, values) if within else None
    again = _insured_fits(trial, known, values, method, routes, plain, blocks, starts, left_out)
    of = [_interval_fits(trial, i, route, main, pulls, blocks, values) for i, route in enumerate(routes)]
    of = [[*own, again[i]] if i in again else own for i, own in enumerate(of)]
    twice = {i: model for i, model in again.items() if routes[i] != r.SHORTENED}
    return RouteFits(routes, main, pulls, blocks, within, twice, of)


def _interval_fits(
    trial: Trial, change: int, route: str, main: Model, pulls: Model | None, blocks: Model | None, values: np.ndarray
) -> list[Model]:
    """The fits that the interval of one change comes from."""
    if route == r.NONE:
        return []
    if route == r.WITHIN:
        return [main if blocks is None else blocks]
    if route in (r.STUDY, r.CROSSED, r.KENWARD_ROGER):
        return [main]
    means = fit(trial, KnownNoise(), values, over=trial.means_for(change))
    both = [means] if pulls is None or route == r.INSTALL_MEANS else [means, pulls]
    return [*both, main] if route == r.SHORTENED else both


def _insured_fits(
    trial: Trial,
    known: KnownNoise,
    values: np.ndarray,
    method: str,
    routes: Sequence[str],
    plain: Model | None,
    blocks: Model | None,
    starts: Mapping[tuple[str, ...], np.ndarray],
    left_out: np.ndarray | None,
) -> dict[int, Model]:
    """The second fit of each change that is insured against wander, by change."""
    asked = [i for i, route in enumerate(routes) if route in (*r.INSURED, r.SHORTENED)]
    if not (asked and known.wander_unstated and method == "auto" and trial.minute is not None):
        return {}
    in_blocks = [i for i in asked if blocks is not None and r.only_within(trial, known, method, i)]
    found = {}
    if len(in_blocks) < len(asked):
        assert plain is not None  # made wherever no wander is stated
        again = known.insured(_pull_sd(plain))
        model = fit(trial, again, values, wander_minutes=INSURED_MINUTES, starts=starts, left_out=left_out)
        found = dict.fromkeys(asked, model)
    if blocks is not None and in_blocks:
        model = fit_inside_fittings(trial, known.insured(_pull_sd(blocks)), values, INSURED_MINUTES)
        found.update(dict.fromkeys(in_blocks, model))
    return found


def _pull_sd(model: Model) -> np.ndarray:
    """Residual SD of a fit with one variance, shape (days,); 1 where nothing scatters."""
    return np.sqrt(model.theta[:, 0])
