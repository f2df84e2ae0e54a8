"""The pictures of any result as files: each as SVG and as PNG, wide enough for a desk and for paper."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from matplotlib.figure import Figure

from doe.analysis.archive.archive_result import NoiseArchive
from doe.analysis.judging.curves.curve_result import Curves
from doe.analysis.judging.judgement import Judgement
from doe.analysis.scatter.study_result import NoiseStudy
from doe.claims.result import Audit, PooledChange
from doe.errors import InputError
from doe.planning.drawn.frontier import Frontier
from doe.planning.drawn.result import Plan
from doe.report.audited.audit_figures import claims_figure, forest_figure
from doe.report.control_chart import control_figure
from doe.report.noise_figures import noise_figure
from doe.report.plan_figure import frontier_figure, plan_figure
from doe.report.rehearsal_figure import rehearsal_figure
from doe.report.sections.curve_figure import curve_figure
from doe.report.style import DESK, house_style, write_title
from doe.report.verdict_figure import verdict_figure
from doe.simulation.rehearsal import Rehearsal
from doe.words.phrases import capital, listed
from doe.words.result import Result


def figures_of(result: Result, about: str = "") -> dict[str, Figure]:
    """Every picture of a result by a name for its file, wide enough for a desk and for paper.

    Parameters
    ----------
    result : Result
    about : str
        What stands above a picture that has no title of its own.

    Raises
    ------
    InputError
        There is no picture of it.
    """
    figures = _figures_of(result)
    for figure in figures.values():
        if about and not figure.get_suptitle() and not any(ax.get_title() for ax in figure.axes):
            write_title(figure, about)
    return figures


def _figures_of(result: Result) -> dict[str, Figure]:
    """As each is drawn, with the titles that they have by themselves."""
    match result:
        case Judgement():
            curves = result.curves and _curves(result.curves)
            return {"verdicts": verdict_figure(result, DESK)} | (curves or {})
        case Curves():
            return _curves(result)
        case Plan():
            return {"plan": plan_figure(result)}
        case Frontier():
            return {"frontier": frontier_figure(result)}
        case NoiseStudy():
            return _numbered("noise", [noise_figure(metric, DESK) for metric in result.metrics])
        case NoiseArchive():
            return _numbered("control-chart", [control_figure(metric) for metric in result.metrics])
        case Audit():
            return {"claims": claims_figure(result), **_numbered("forest", [*map(_forest, result.pooled)])}
        case Rehearsal():
            return {"rehearsal": rehearsal_figure(result)}
    raise InputError(f"there is no picture of a {type(result).__name__}")


def write_figures(result: Result, folder: Path, about: str = "") -> list[Path]:
    """Write the pictures of a result into a folder, each as SVG and as PNG; same result, same files.

    Parameters
    ----------
    result : Result
    folder : Path
        Made where it isn't there.
    about : str
        What stands above a picture that has no title of its own.

    Returns
    -------
    list of Path

    Raises
    ------
    InputError
        There is no picture of it, or the folder is a file.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(f"--figures {folder}: this is a file; name a folder for the pictures")
    written = []
    with house_style():
        for name, figure in figures_of(result, about).items():
            folder.mkdir(parents=True, exist_ok=True)
            for ending, metadata in (("svg", {"Date": None, "Creator": None}), ("png", {"Software": None})):
                path = folder / f"{name}.{ending}"
                figure.savefig(path, dpi=150, metadata=metadata)
                written.append(path)
    return written


def _forest(change: PooledChange) -> Figure:
    """Away from its page it must say itself which change it is about."""
    figure = forest_figure(change)
    write_title(figure, capital(listed(change.about)))
    return figure


def _curves(curves: Curves) -> dict[str, Figure]:
    """Nothing where there is nothing to draw."""
    return {"curves": curve_figure(curves, DESK)} if curves.changes else {}


def _numbered(name: str, figures: Sequence[Figure]) -> dict[str, Figure]:
    """One by its name, several with their numbers."""
    return {name if len(figures) == 1 else f"{name}-{place}": one for place, one in enumerate(figures, start=1)}
