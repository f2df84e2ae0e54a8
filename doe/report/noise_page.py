"""The page of a noise study or of an archive: what was found, in the words of the terminal, with its pictures."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from markupsafe import Markup
from matplotlib.figure import Figure

import doe
from doe.analysis.archive.archive_result import NoiseArchive
from doe.analysis.scatter.study_result import NoiseStudy
from doe.day.storage import write_atomically
from doe.report.cautions import FIRST
from doe.report.control_chart import control_figure
from doe.report.inline_svg import inline_svg
from doe.report.noise_figures import noise_figure
from doe.report.rendering import as_data, render
from doe.report.style import DESK, PHONE, house_style
from doe.words.numbers import several, with_unit

STUDY, ARCHIVE = "report.html", "archive.html"
_NEARLY_FULL = 80  # letters of a line of the terminal
_APART = re.compile(r" {2,}")  # between columns
_COLUMNS = re.compile(r"\S {2,}\S")  # words of a line that stand in columns


def write_noise_page(folder: Path, study: NoiseStudy | NoiseArchive, title: str) -> Path:
    """Write the page into the folder of the study, or into that of the archive; return its path."""
    path = folder / (STUDY if isinstance(study, NoiseStudy) else ARCHIVE)
    write_atomically(path, noise_page(study, title))
    return path


def noise_page(study: NoiseStudy | NoiseArchive, title: str) -> str:
    """Return the page as HTML; same readings, same page."""
    return render(
        "noise.html.j2",
        title=title,
        kind="Noise study" if isinstance(study, NoiseStudy) else "Noise of many days",
        blocks=list(text_blocks(study.to_text(details=True))),
        figures=_figures(study),
        safety_first=FIRST,
        version=doe.__version__,
        data=as_data(study.to_dict()),
        ink="#222222",
    )


def text_blocks(text: str) -> Iterator[tuple[str, str | list[list[str]]]]:
    """The text of a result as ("p", a paragraph), ("table", its rows) and ("pre", lines in columns that are no table).

    A line further in goes on.
    """
    kind, lines = "p", list[str]()
    for line in [*text.splitlines(), ""]:
        columns = _COLUMNS.search(line) is not None
        goes_on = line.startswith(" ") and (columns or kind == "p")
        if lines and (not goes_on or columns != (kind == "pre")):
            yield _in_columns(lines) if kind == "pre" else (kind, _flowing(lines))
            lines = []
        if line.strip():
            kind = "pre" if columns else "p"
            lines.append(line)


def _in_columns(lines: Sequence[str]) -> tuple[str, str | list[list[str]]]:
    """A table, which a page can wrap: its head, empty where it has none, and its rows; as it is where a cell lacks."""
    rows = [_APART.split(line.strip()) for line in lines]
    if len(rows) > 1 and len({len(row) for row in rows}) == 1:
        return "table", rows if not any(map(str.isdigit, lines[0])) else [[], *rows]
    return "pre", "\n".join(lines)


def _flowing(lines: Sequence[str]) -> str:
    """Lines that were wrapped for a terminal as one; the others stay lines of their own."""
    text, went_on = lines[0].strip(), False
    for before, line in pairwise(lines):
        deeper = _indent(line) - _indent(before)  # what is wrapped hangs further in, and all of it as far
        hangs = deeper > 0 or (went_on and deeper == 0)
        went_on = hangs and len(before) > _NEARLY_FULL and not before.endswith((".", ":"))
        text += (" " if went_on else "\n") + line.strip()
    return text


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _figures(study: NoiseStudy | NoiseArchive) -> list[Markup]:
    """One for each metric, narrow and wide."""
    with house_style():
        found = []
        for number, metric in enumerate(study.metrics, start=1):
            spread = with_unit(f"{metric.pull_sd:.2g}", metric.unit)
            counts = f"{several(metric.pulls, 'pull')}, {several(metric.days, 'day')}"
            words = f"{metric.name}: pull SD {spread}, from {counts}."
            drawn = [(kind, _figure(metric, width)) for kind, width in (("narrow", PHONE), ("broad", DESK))]
            found.append(
                Markup("").join(
                    Markup(f'<div class="{kind}">{inline_svg(figure, f"noise{number}-{kind}", words)}</div>')
                    for kind, figure in drawn
                )
            )
    return found


def _figure(metric: Any, width: float) -> Figure:
    return control_figure(metric, width) if hasattr(metric, "chart") else noise_figure(metric, width)
