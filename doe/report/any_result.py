"""One door to the picture of any result: the main one, on axes of one's own or on new ones."""

from __future__ import annotations

from matplotlib.axes import Axes

from doe.analysis.archive.archive_result import NoiseArchive
from doe.analysis.judging.judgement import Judgement
from doe.analysis.judging.many_outcomes import Judgements
from doe.analysis.scatter.study_result import NoiseStudy
from doe.claims.result import Audit
from doe.errors import InputError
from doe.planning.drawn.frontier import Frontier
from doe.planning.drawn.result import Plan
from doe.report.audit_figures import claims_picture, forest_picture
from doe.report.control_chart import scatter_picture
from doe.report.noise_figures import gains_picture, noise_picture
from doe.report.plan_figure import frontier_picture, plan_picture
from doe.report.rehearsal_figure import scenario_picture
from doe.report.style import house_style
from doe.report.verdict_figure import verdict_picture
from doe.simulation.rehearsal import Rehearsal
from doe.words.result import Result


def plot(result: Result, ax: Axes | None = None) -> Axes:
    """Draw a result.

    Parameters
    ----------
    result : Judgement, Judgements, Plan, Frontier, NoiseStudy, NoiseArchive, Audit or Rehearsal
        Of several metrics the first is drawn, of several truths the last, of an audit the tests of one change beside
        each other where there are several.
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
    if not isinstance(result, Judgement | Judgements | Plan | Frontier | NoiseStudy | NoiseArchive | Audit | Rehearsal):
        raise InputError(f"doe.plot: there is no picture of a {type(result).__name__}; it draws what judge, plan_day,"
                         " noise, audit and rehearse return")  # fmt: skip
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
        case Rehearsal():
            return scenario_picture(result.scenarios[-1], ax)
    raise AssertionError(result)
