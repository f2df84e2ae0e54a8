"""What days planned together are compared with, and where they stand when some of them are done."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from doe.day.files.dayfile import parse_day
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.drawn.exact import exact
from doe.planning.drawn.plan import plan_of
from doe.planning.rented.coming_back import Verdict, settled_by_any
from doe.stats.power import promise
from doe.stats.spending import cumulative_risk


def test_what_is_settled_when_a_day_falls_away_and_by_a_look(planned) -> None:
    (after,) = planned.after_each
    first = planned.plans[0]
    # The first day judged by itself, at the whole 5 %.
    alone = exact(day_arrays(first.day, candidate_levels(first.day, mixed=True)), list(first.runs))
    assert after.settled == pytest.approx(alone.settled, abs=1e-9)
    assert after.settled < planned.expected_settled
    assert after.look.risk == pytest.approx(cumulative_risk(after.share), rel=1e-9)
    assert after.look.settled < after.settled < after.look.settled_in_the_end <= planned.expected_settled
    said = " ".join(planned.to_text(details=True).split())
    assert f"thursday falls away: 'doe judge {planned.folders[0]} --final' settles {after.settled:.2f} of 2" in said
    assert f"--look' takes {100 * after.look.risk:.2g} % of risk and settles {after.look.settled:.2f};" in said


def test_the_rivals_have_the_same_hours(planned, text) -> None:
    assert set(planned.compared) == {"one pass", "A-B-A", "stacked", "in turn", "coming back"}
    assert planned.expected_settled > planned.compared["in turn"].expected_settled
    alone = plan_of(parse_day(text), seed=1, effort="quick", fill=True)
    for name in ("A-B-A", "in turn"):  # a second day helps whoever makes it
        assert planned.compared[name].expected_settled >= alone.compared[name].expected_settled - 1e-9
    assert "baseline and changes in turn on each day, sets of" in planned.to_text(details=True)


def test_a_verdict_before_the_last_adds_to_what_is_settled() -> None:
    """Two settle at least what either does, and no more than the sum; the same one twice adds nothing."""
    smallest = np.array([1.0])

    def verdict(se: float, confidence: float) -> Verdict:
        precision = SimpleNamespace(se=np.array([se]), df=np.array([30.0]))
        return Verdict(SimpleNamespace(precision=precision, asked=np.array([True])), np.array([confidence]))

    def settled(*verdicts: Verdict) -> float:
        return float(settled_by_any(smallest, verdicts, np.random.default_rng(0))[0])

    one, two = verdict(0.4, 0.95), verdict(0.28, 0.975)
    real, none = promise(smallest, np.array([0.4]), np.array([30.0]), 0.95, 1)
    assert settled(one) == pytest.approx(float(real[0] + none[0]) / 2, abs=0.01)
    assert max(settled(one), settled(two)) <= settled(one, two) <= settled(one) + settled(two)
    assert settled(one, one) == pytest.approx(settled(one), abs=1e-12)
