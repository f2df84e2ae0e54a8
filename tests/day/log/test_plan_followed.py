"""A plan followed and logged by hand, installs left blank, gives the installs and fittings that were planned."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doe.day.clock import lay_out
from doe.day.files.planfile import read_plan, write_plan
from doe.day.fittings import fittings_of
from doe.day.log.reading import read_log
from doe.day.records import Run, Stint

LEVELS = st.fixed_dictionaries(
    {
        "oil": st.sampled_from(["15W-50", "0W-20", "5W-30"]),
        "crankcase vacuum": st.sampled_from(["off", "on"]),
        "manifold": st.sampled_from(["cast", "sheet"]),
    }
)
STINT = st.builds(Stint, LEVELS, st.integers(1, 3), st.sampled_from([None, None, "oil", "manifold"]))


def by_hand(runs: list[Run]) -> str:
    names = list(runs[0].configuration)
    rows = [",".join([str(run.run), *(run.configuration[name] for name in names), "200"]) for run in runs]
    return "\n".join([",".join(["run", *names, "mean power"]), *rows]) + "\n"


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(stints=st.lists(STINT, min_size=1, max_size=7), settling_logged=st.booleans())
def test_blank_installs_are_the_planned_ones(two_refit_day, stints, settling_logged):
    day = two_refit_day
    runs = lay_out(day, stints)
    made = [run for run in runs if settling_logged or run.count == "yes"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_plan(folder, runs, {})
        (folder / "pulls.csv").write_text(by_hand(made), encoding="utf-8")
        log = read_log(folder, day, read_plan(folder, day))
    assert [pull.install for pull in log.pulls] == [run.install for run in made]
    planned = fittings_of(day, runs)
    assert fittings_of(day, log.pulls) == {name: [own[run.run - 1] for run in made] for name, own in planned.items()}
    assert [pull.minute for pull in log.pulls] == [run.minute for run in made]
