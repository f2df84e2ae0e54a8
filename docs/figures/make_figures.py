"""Draw the pictures that the documents show. Run: ``python docs/figures/make_figures.py``.

They come from the demo day: invented data.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from doe.analysis.judging.folders import judge_day
from doe.report.style import house_style
from doe.report.verdict_figure import verdict_figure
from doe.simulation import demo

HERE = Path(__file__).parent


def main() -> None:
    """Write verdicts.png beside this file."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "demo-day"
        demo.make(folder, demo.SEED)
        judgement = judge_day(folder)
    with house_style():
        figure = verdict_figure(judgement)
        figure.suptitle("Demo day: invented data", fontsize=9)
        figure.savefig(HERE / "verdicts.png", dpi=150, metadata={"Software": None})


if __name__ == "__main__":
    main()
