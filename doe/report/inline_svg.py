"""A figure as SVG inside a page."""

from __future__ import annotations

import io
import re

from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure


def inline_svg(figure: Figure, name: str, description: str) -> str:
    """Return the figure as an ``<svg>`` element, with ids of its own and a text for those who can't see it.

    Parameters
    ----------
    figure : Figure
        Drawn and saved in the house style, so call this inside it too.
    name : str
        Unique in the page, letters only: keeps the ids of two figures apart.
    description : str
        Plain text.
    """
    stream = io.StringIO()
    canvas = FigureCanvasSVG(figure)  # letters as wide as they will be drawn
    _lay_out(figure)
    # `savefig` would walk through the whole figure twice: once more, without drawing, for what stands already.
    canvas.print_svg(stream, metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    svg = stream.getvalue()
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r' d="[^"]*"', _rounded, svg)
    svg = re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{name}-", svg)
    label = description.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
    return svg.replace("<svg", f'<svg role="img" aria-label="{label}"', 1)


def _lay_out(figure: Figure) -> None:
    """Give everything its place, in points as large as they will be drawn."""
    figure.dpi = 72
    if (engine := figure.get_layout_engine()) is not None:
        engine.execute(figure)
        figure.set_layout_engine("none")


def _rounded(path: re.Match[str]) -> str:
    """A path to a hundredth of a point, which nobody sees: half its length."""
    return re.sub(r"(\.\d\d)\d+", r"\1", path.group())
