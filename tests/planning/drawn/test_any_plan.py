"""Any valid day gives a legal plan, or a clear word that nothing fits."""

from __future__ import annotations

from unittest.mock import patch

import pytest
from day_files import day_file, factor
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from searches import short_searches

from doe.day.files.dayfile import parse_day
from doe.errors import DoeError, InputError
from doe.planning.drawn.plan import best_choice, drawn_settles, plan_of
from doe.planning.search.searches import EVALUATIONS

minutes = st.sampled_from([0, 1, 2, 5, 15, 30])
gains = st.sampled_from([0.5, 1.0, 2.0, 4.0])


@st.composite
def changes(draw, level: str) -> str:
    numbers = draw(minutes), draw(minutes), draw(st.integers(0, 2)), draw(gains)
    return " ".join([level, *map(str, numbers), *["one_way"] * (draw(st.integers(0, 7)) == 0)])


@st.composite
def factors(draw, name: str) -> str:
    parts = [draw(changes(f"c{k}")) for k in range(draw(st.integers(1, 2)))]
    return factor(name, "b", *parts, refit=draw(st.integers(0, 2)) == 0, alone=draw(st.integers(0, 5)) == 0)


def clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


@st.composite
def day_texts(draw) -> str:
    start, length = draw(st.integers(0, 14 * 60)), draw(st.sampled_from([60, 120, 240, 420, 540]))
    pause = clock(start + draw(st.integers(0, length - 30))), draw(st.sampled_from([5, 20, 30]))
    noise = [
        "pull_sd = 1.0",
        draw(st.sampled_from(["", "pull_df = 8"])),
        draw(st.sampled_from(["", "install_sd = 0.5", "install_sd = 0.5\ninstall_df = 3"])),
        draw(st.sampled_from(["", "wander_sd = 0.4"])),
    ]
    return day_file(
        *(draw(factors(f"f{number}")) for number in range(draw(st.integers(1, 4)))),
        start=clock(start),
        finish=clock(start + length),
        breaks=[pause] if draw(st.booleans()) else [],
        warm_up=draw(st.sampled_from([0, 25, 40])),
        pull=draw(st.sampled_from([3.0, 4.5, 8.0])),
        metric="power",
        unit=None,
        noise="\n".join(noise),
        more=f'[analysis]\ndrift = "{draw(st.sampled_from(["none", "linear", "quadratic"]))}"',
    )


@given(day_texts(), st.integers(0, 1000))
@settings(max_examples=8, suppress_health_check=list(HealthCheck))
def test_a_legal_plan_or_nothing_fits(faults, text, seed) -> None:
    try:
        day = parse_day(text)
    except InputError:  # a warm-up longer than the day and the like
        return
    try:
        with pytest.MonkeyPatch.context() as shorter:  # legal it must be from the first step on
            short_searches(shorter)
            plan = plan_of(day, seed=seed, effort="quick")
    except DoeError as refusal:
        assert str(refusal).startswith("nothing fits")
        return
    assert faults(day, list(plan.runs)) == []
    assert 0 < plan.expected_settled <= len(day.questions)


def never_worse(text: str, seed: int, fill: bool) -> None:
    with patch.dict(EVALUATIONS, {"quick": 100, "normal": 200, "long": 300}):
        try:
            day = parse_day(text)
        except InputError:
            return
        choices = [best_choice(day, seed=seed, effort=effort, fill=fill) for effort in EVALUATIONS]
    if choices[0] is None:
        assert choices == [None, None, None]
        return
    quick, normal, long = map(drawn_settles, choices)
    assert quick <= normal <= long


@given(day_texts(), st.integers(0, 1000), st.booleans())
@settings(max_examples=2, suppress_health_check=list(HealthCheck))
def test_more_effort_is_never_worse(text, seed, fill) -> None:
    never_worse(text, seed, fill)


@pytest.mark.slow
@given(day_texts(), st.integers(0, 1000), st.booleans())
@settings(max_examples=60, suppress_health_check=list(HealthCheck))
def test_more_effort_is_never_worse_on_many_days(text, seed, fill) -> None:
    never_worse(text, seed, fill)
