"""Draw the pictures that the documents show. Run: ``python docs/figures/make_figures.py``.

They come from the demo day: invented data.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from doe.analysis.judging.folders import judge_day
from doe.day.files.dayfile import read_day_file
from doe.planning.drawn.stored import stored_plan
from doe.report.plan_figure import plan_figure
from doe.report.style import house_style
from doe.report.verdict_figure import verdict_figure
from doe.simulation import demo

HERE = Path(__file__).parent


def main() -> None:
    """Write verdicts.png and plan.png beside this file."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "demo-day"
        demo.make(folder, demo.SEED)
        judgement = judge_day(folder)
        plan = stored_plan(folder, read_day_file(folder))
    assert plan is not None
    with house_style():
        figure = verdict_figure(judgement)
        figure.suptitle("Demo day: invented data", fontsize=9)
        figure.savefig(HERE / "verdicts.png", dpi=150, metadata={"Software": None})
        plan_figure(plan).savefig(HERE / "plan.png", dpi=150, metadata={"Software": None})


if __name__ == "__main__":
    main()
