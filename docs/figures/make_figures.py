"""Draw the pictures that the documents show. Run: ``python docs/figures/make_figures.py``.

The verdicts come from the demo day in ``plans_demo/oil-and-vacuum``: invented data.
"""

from __future__ import annotations

from pathlib import Path

from doe.analysis.days import judge_day
from doe.report.style import house_style
from doe.report.verdict_figure import verdict_figure

HERE = Path(__file__).parent
DAY = HERE.parents[1] / "plans_demo" / "oil-and-vacuum"


def main() -> None:
    """Write verdicts.png beside this file."""
    with house_style():
        figure = verdict_figure(judge_day(DAY))
        figure.savefig(HERE / "verdicts.png", dpi=150, metadata={"Software": None})


if __name__ == "__main__":
    main()
