"""A dollar in a name is a dollar in every figure: nothing is set as mathematics, whatever the reader's own settings."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import matplotlib as mpl
import pytest
from matplotlib.text import Text

import doe
from doe.day.schema import DayFile
from doe.report.day_figure import day_figure
from doe.report.inline_svg import inline_svg
from doe.report.style import house_style
from doe.report.verdict_figure import verdict_figure

NAMES = ("oil $5 for $9", "filter $12 #2 vs $15 #3", "$x_1^2$", r"\$4 and \frac $", "$", "50 % $^$")


def drawn(figure) -> list[str]:
    """Every text of a figure as it is drawn."""
    inline_svg(figure, "x", "$")
    texts = [text for text in figure.findobj(Text) if text.get_text()]
    assert not any(text.get_parse_math() or text.get_usetex() for text in texts)
    return [text.get_text() for text in texts]


@pytest.mark.parametrize("name", NAMES)
def test_the_days_figures_draw_it_as_it_is(name, day, pulls, judgement):
    factors = [{**factor.model_dump(by_alias=True)} for factor in day.factor]
    factors[0] |= {"name": name, "baseline": "was " + name}
    raw = day.model_dump(by_alias=True) | {"factor": factors}
    raw["metric"] |= {"name": name + " power", "unit": name}
    dear = DayFile.model_validate(raw)
    made = [
        replace(
            pull,
            configuration={**dear.baseline, "crankcase vacuum": pull.configuration["crankcase vacuum"]},
            values={name + " power": pull.values["mean power"]},
        )
        for pull in pulls
    ]
    judged = replace(judgement, changes=(replace(judgement.changes[0], factor=name), *judgement.changes[1:]))
    with mpl.rc_context({"text.parse_math": True}), house_style():
        texts = drawn(day_figure(dear, made)) + drawn(verdict_figure(judged))
    assert sum(name in text for text in texts) >= 3


def test_every_figure_is_saved_in_the_house_style():
    """Whoever saves a figure does it inside `house_style`: there the mathematics is off."""
    for path in Path(doe.__file__).parent.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        if path.name != "inline_svg.py" and ("savefig" in text or "inline_svg(" in text):
            assert "house_style" in text, path
