"""One door to the picture of any result: the main one, on axes of one's own or on new ones."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from doe.analysis.archive.archive_result import NoiseArchive
from doe.analysis.judging.curves.curve_result import Curves
from doe.analysis.judging.judgement import Judgement
from doe.analysis.judging.many_outcomes import Judgements
from doe.analysis.scatter.study_result import NoiseStudy
from doe.cell.air.correction import Correction
from doe.claims.result import Audit
from doe.errors import InputError
from doe.planning.drawn.frontier import Frontier
from doe.planning.drawn.result import Plan
from doe.report.audited.audit_figures import claims_picture, forest_picture
from doe.report.control_chart import scatter_picture
from doe.report.noise_figures import gains_picture, noise_picture
from doe.report.plan_figure import frontier_picture, plan_picture
from doe.report.rehearsal_figure import scenario_picture
from doe.report.sections.curve_figure import drawn, gain_picture, pulls_picture
from doe.report.style import INK, house_style
from doe.report.verdict_figure import verdict_picture
from doe.simulation.rehearsal import Rehearsal
from doe.words.result import Result

_DRAWN = (Curves, Judgement, Judgements, Plan, Frontier, NoiseStudy, NoiseArchive, Audit, Correction, Rehearsal)


def plot(result: Result, ax: Axes | None = None) -> Axes:
    """Draw a result.

    Parameters
    ----------
    result : Judgement, its curves, Judgements, Plan, Frontier, NoiseStudy, NoiseArchive, Audit, Correction or Rehearsal
        Of curves the first change is drawn (`Curves.only` leaves one), of several metrics the first, of several truths
        the last, of an audit the tests of one change beside each other where there are several, of a correction the
        factor of each pull.
    ax : matplotlib Axes, optional
        By default those of a new figure.

    Returns
    -------
    Axes
        The one that was given, or the new one.

    Raises
    ------
    InputError
        There is no picture of it.
    """
    if not isinstance(result, _DRAWN):
        raise InputError(f"doe.plot: there is no picture of a {type(result).__name__}; it draws what judge, plan_day,"
                         " noise, audit, correct and rehearse return")  # fmt: skip
    with house_style():
        return _drawn(result, _new_axes() if ax is None else ax)


def _new_axes() -> Axes:
    """Of a figure that a notebook shows by itself."""
    import matplotlib.pyplot as plt

    return plt.subplots(layout="constrained")[1]


def _drawn(result: Result, ax: Axes) -> Axes:
    match result:
        case Judgement():
            return verdict_picture(result, ax)
        case Curves():
            return curve_picture(result, ax)
        case Judgements():
            return gains_picture(result, ax)
        case Plan():
            return plan_picture(result, ax)
        case Frontier():
            return frontier_picture(result, ax)
        case NoiseStudy():
            return noise_picture(result.metrics[0], ax)
        case NoiseArchive():
            return scatter_picture(result.metrics[0], ax)
        case Audit():
            return forest_picture(result.pooled[0], ax) if result.pooled else claims_picture(result, ax)
        case Correction():
            return correction_picture(result, ax)
        case Rehearsal():
            return scenario_picture(result.scenarios[-1], ax)
    raise AssertionError(result)


def curve_picture(result: Curves, ax: Axes) -> Axes:
    """Draw the gain of the first change over rpm; without one, the pulls' curves.

    Parameters
    ----------
    result : Curves
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.

    Raises
    ------
    InputError
        There are no curves.
    """
    if not result.rpm:
        raise InputError(f"doe.plot: {result.to_text()}")
    changes = drawn(result)
    return gain_picture(result, changes[0], ax) if changes else pulls_picture(result, ax)


def correction_picture(result: Correction, ax: Axes) -> Axes:
    """Draw the factor of each pull, with what its uncertainty leaves open where that is known.

    Parameters
    ----------
    result : Correction
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    factors = np.atleast_1d(np.asarray(result.factor, float))
    spread = None if result.factor_uncertainty is None else np.atleast_1d(np.asarray(result.factor_uncertainty, float))
    ax.errorbar(np.arange(1, len(factors) + 1), factors, spread, color=INK, marker="o", linewidth=0, elinewidth=1.2)
    ax.axhline(1.0, color=INK, linewidth=0.9, linestyle=":")
    ax.set_xlabel("pull")
    ax.set_ylabel(f"factor to {result.basis.label}")
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    return ax
