"""Any valid day gives a legal plan, or a clear word that nothing fits."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doe.day.files.dayfile import parse_day
from doe.errors import DoeError, InputError
from doe.planning.drawn.plan import plan_of

minutes = st.sampled_from([0, 1, 2, 5, 15, 30])
gains = st.sampled_from([0.5, 1.0, 2.0, 4.0])


@st.composite
def changes(draw, level: str) -> str:
    on, off = draw(minutes), draw(minutes)
    text = f'[[factor.change]]\nlevel = "{level}"\nminutes_on = {on}\nminutes_off = {off}\n'
    text += f"settling_pulls = {draw(st.integers(0, 2))}\nsmallest_gain = {draw(gains)}\n"
    return text + ("one_way = true\n" if draw(st.integers(0, 7)) == 0 else "")


@st.composite
def day_texts(draw) -> str:
    start, length = draw(st.integers(0, 14 * 60)), draw(st.sampled_from([60, 120, 240, 420, 540]))
    begin = start + draw(st.integers(0, length - 30))
    breaks = f"[{{ from = {begin // 60:02d}:{begin % 60:02d}:00, minutes = {draw(st.sampled_from([5, 20, 30]))} }}]"
    finish = start + length
    install = draw(st.sampled_from(["", "install_sd = 0.5", "install_sd = 0.5\ninstall_df = 3"]))
    text = f"""
[day]
date = 2026-05-16
start = {start // 60:02d}:{start % 60:02d}:00
finish = {finish // 60:02d}:{finish % 60:02d}:00
breaks = {breaks if draw(st.booleans()) else "[]"}
[cell]
warm_up_minutes = {draw(st.sampled_from([0, 25, 40]))}
pull_minutes = {draw(st.sampled_from([3.0, 4.5, 8.0]))}
[metric]
name = "power"
[noise]
pull_sd = 1.0
{draw(st.sampled_from(["", "pull_df = 8"]))}
{install}
{draw(st.sampled_from(["", "wander_sd = 0.4"]))}
[analysis]
drift = "{draw(st.sampled_from(["none", "linear", "quadratic"]))}"
"""
    for number in range(draw(st.integers(1, 4))):
        flags = [str(draw(st.integers(0, 2)) == 0).lower(), str(draw(st.integers(0, 5)) == 0).lower()]
        text += f'[[factor]]\nname = "f{number}"\nbaseline = "b"\nrefit = {flags[0]}\nalone = {flags[1]}\n'
        text += "".join(draw(changes(f"c{k}")) for k in range(draw(st.integers(1, 2))))
    return text


@given(day_texts(), st.integers(0, 1000))
@settings(max_examples=12, suppress_health_check=list(HealthCheck))
def test_a_legal_plan_or_nothing_fits(faults, text, seed) -> None:
    try:
        day = parse_day(text)
    except InputError:  # a warm-up longer than the day and the like
        return
    try:
        plan = plan_of(day, seed=seed, effort="quick")
    except DoeError as refusal:
        assert str(refusal).startswith("nothing fits")
        return
    assert faults(day, list(plan.runs)) == []
    assert 0 < plan.expected_settled <= len(day.questions)
