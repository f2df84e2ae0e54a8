"""Whole plans: legal, good, reproducible, honest about what they can't do."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from doe.day.files.dayfile import parse_day
from doe.errors import DoeError, InputError
from doe.planning.drawn.plan import plan_of
from doe.planning.drawn.what_if import what_if

HERE = Path(__file__).parent
# Source: tests/benchmarks/long_searches.py, nine times the evaluations of --effort normal and three seeds a day.
BEST_KNOWN = json.loads((HERE / "long_searches.json").read_text(encoding="utf-8"))
# Source: an evaluator and searches written independently of this program; see "source" in the file.
REFERENCE = json.loads((HERE.parent / "reference/plan_days.json").read_text(encoding="utf-8"))["days"]
OWN_DAYS = sorted(path.stem for path in (HERE / "days").glob("*.toml"))


def check(plan, faults) -> None:
    """What holds of every plan."""
    day = plan.day
    assert faults(day, list(plan.runs)) == []
    assert any(run.count == "yes" for run in plan.runs)
    asked = [question for question in plan.questions if not question.dropped]
    assert asked
    for question in plan.questions:
        fitted = any(run.configuration[question.factor] == question.level for run in plan.runs if run.count == "yes")
        assert fitted != question.dropped
    total = sum((q.family_power or 0) + (q.no_difference_power or 0) for q in plan.questions) / 2
    assert plan.expected_settled == pytest.approx(total)
    json.dumps(plan.to_dict(), allow_nan=False)
    assert plan.minutes_used <= plan.minutes_available + 1e-6
    assert "The day" in plan.to_text(details=True)
    assert len(plan.to_frame()) == len(day.questions)


@pytest.mark.searches
@pytest.mark.parametrize("name", OWN_DAYS)
def test_own_days_are_legal_and_near_the_best_known(own_day, faults, name) -> None:
    plan = plan_of(own_day(name), seed=1, effort="quick", fill=True)
    check(plan, faults)
    assert plan.expected_settled >= 0.9 * BEST_KNOWN[name]["settled"]
    settled = {name: practice.expected_settled for name, practice in plan.compared.items()}
    careful = settled.pop("in turn", 0.0)  # on a day of one question nothing beats plain alternation
    assert plan.expected_settled > max(settled.values())
    assert plan.expected_settled >= 0.96 * careful


@pytest.mark.searches
@pytest.mark.parametrize("name", sorted(REFERENCE))
def test_days_with_outside_references(faults, name) -> None:
    known = REFERENCE[name]["plans"]
    plan = plan_of(parse_day(REFERENCE[name]["day_toml"]), seed=2, effort="quick", fill=True)
    check(plan, faults)
    assert plan.expected_settled >= 0.9 * known["best known"]["settled"]
    for practice in ("one pass", "A-B-A", "stacked"):
        assert plan.compared[practice].expected_settled == pytest.approx(known[practice]["settled"], abs=3e-4)
        assert plan.expected_settled > known[practice]["settled"]


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(REFERENCE))
def test_normal_effort_over_ten_seeds(name) -> None:
    day = parse_day(REFERENCE[name]["day_toml"])
    best = REFERENCE[name]["plans"]["best known"]["settled"]
    shares = sorted(plan_of(day, seed=seed, fill=True).expected_settled / best for seed in range(10))
    assert (shares[4] + shares[5]) / 2 >= 0.94


@pytest.mark.slow
@pytest.mark.parametrize("name", OWN_DAYS)
def test_normal_effort_over_ten_seeds_on_own_days(own_day, name) -> None:
    day = own_day(name)
    shares = sorted(
        plan_of(day, seed=seed, fill=True).expected_settled / BEST_KNOWN[name]["settled"] for seed in range(10)
    )
    assert (shares[4] + shares[5]) / 2 >= 0.94


def test_the_same_seed_gives_the_same_plan(own_day) -> None:
    day = own_day("alone")
    one, again, other = (plan_of(day, seed=seed, effort="quick") for seed in (3, 3, 4))
    assert one.to_dict() == again.to_dict()
    assert one.orders == again.orders
    assert [run.configuration for run in one.runs] != [run.configuration for run in other.runs]


def test_names_change_nothing(make_day, factor) -> None:
    def day(first: str, second: str):
        changes = factor(first, "one 15 15 1 2.0", refit=True) + factor(second, "two 2 2 0 1.2")
        return make_day(factors=changes)

    plans = [plan_of(day(*names), seed=5, effort="quick") for names in (("a", "b"), ("z", "y"))]
    kept = [
        [(list(run.configuration.values()), run.minute, run.count, run.install, run.stint) for run in plan.runs]
        for plan in plans
    ]
    assert kept[0] == kept[1]


def test_more_minutes_are_never_worse(own_day) -> None:
    from doe.planning.search.searches import both_kinds, search_both

    day = own_day("percent")
    worths = []
    for minutes in (240, 330, 420, 510):
        searched = search_both(*both_kinds(what_if(day, minutes=minutes)), seed=1, effort="quick")
        worths.append(searched.found.worth)
    assert all(later >= 0.98 * earlier for earlier, later in pairwise(worths))


def test_a_larger_smallest_gain_is_never_harder(own_day) -> None:
    day = own_day("short_quick")
    settled = [
        plan_of(what_if(day, smallest_gains={("spacer", "10 mm"): gain}), seed=1, effort="quick").expected_settled
        for gain in (0.6, 0.9, 1.2, 2.0)
    ]
    assert settled == sorted(settled)
    assert settled[0] + 0.1 < settled[-1]


def test_nothing_fits_says_how_many_minutes_are_missing_and_the_advice_works(make_day, factor) -> None:
    text = factor("cam", "wild 120 120 1 3.0", refit=True)
    day = make_day(minutes=240, factors=text, breaks=())
    with pytest.raises(DoeError, match=r"nothing fits: \d+ minutes are missing") as refusal:
        plan_of(day, seed=1, effort="quick")
    missing = int(str(refusal.value).split("fits: ")[1].split()[0])
    plan = plan_of(make_day(minutes=240 + missing + 1, factors=text, breaks=()), seed=1, effort="quick")
    assert plan.questions[0].df > 0
    with pytest.raises(DoeError, match="nothing fits"):
        plan_of(make_day(minutes=240 + missing - 5, factors=text, breaks=()), seed=1, effort="quick")


def test_without_any_noise_the_error_says_what_to_write(make_day) -> None:
    with pytest.raises(InputError, match=r"\[noise\]: pull_sd is missing.*write pull_sd"):
        plan_of(make_day(noise=""), seed=1, effort="quick")


def test_only_a_pull_sd_plans_with_a_caution(make_day, faults) -> None:
    plan = plan_of(make_day(noise="pull_sd = 1.0"), seed=1, effort="quick")
    check(plan, faults)
    assert "refit-scatter-unknown" in [note.code for note in plan.notes]
    assert "pull-scatter-guessed" in [note.code for note in plan.notes]
    # With no df the plan itself must repeat the fittings.
    assert plan.runs[-1].install >= 5


def test_a_question_without_a_smallest_gain(make_day, factor, faults) -> None:
    plan = plan_of(make_day(factors=factor("vacuum", "on 2 2 0 -")), seed=1, effort="quick")
    assert faults(plan.day, list(plan.runs)) == []
    question = plan.questions[0]
    assert question.smallest_gain is None
    assert question.family_power is None
    assert question.detectable_gain > 0
    assert not question.answerable
    assert "no-smallest-gain" in [note.code for note in plan.notes]


def test_a_part_that_stays_on_ends_the_day_on(own_day) -> None:
    plan = plan_of(own_day("one_way"), seed=2, effort="quick")
    levels = [run.configuration["gasket"] for run in plan.runs]
    assert levels == sorted(levels, key=["thick", "thin"].index)


def test_a_part_to_be_tested_alone_is_never_in_company(own_day) -> None:
    plan = plan_of(own_day("alone"), seed=2, effort="quick")
    base = plan.day.baseline
    for run in plan.runs:
        away = [name for name, level in run.configuration.items() if level != base[name]]
        assert "boost" not in away or away == ["boost"]


def test_two_changes_ever_mixed_are_seen_in_all_four_combinations(own_day) -> None:
    plan = plan_of(own_day("four_quick"), seed=1, effort="quick")
    counted = [run.configuration for run in plan.runs if run.count == "yes"]
    base = plan.day.baseline
    changes = [(factor.name, change.level) for factor, change in plan.day.questions]
    for a, one in changes:
        for b, other in changes:
            if a < b and any(c[a] == one and c[b] == other for c in counted):
                for wanted in ((base[a], base[b]), (one, base[b]), (base[a], other)):
                    assert any((c[a], c[b]) == wanted for c in counted), (a, one, b, other, wanted)
    assert plan.break_even_interplay > 0
    assert "add up" in plan.to_text(details=True)


def test_too_many_questions_some_are_dropped_and_it_says_what_that_bought(own_day) -> None:
    plan = plan_of(own_day("eight_trims"), seed=1, effort="quick")
    dropped = [question for question in plan.questions if question.dropped]
    assert {(drop.factor, drop.level) for drop in plan.drops} == {(q.factor, q.level) for q in dropped}
    for drop in plan.drops:
        assert drop.cost is not None or drop.minutes_missing is not None
    assert not dropped or "left out today" in plan.to_text(details=True)


def test_a_day_of_nearly_24_hours(make_day, factor, faults) -> None:
    factors = factor("oil", "thin 20 20 1 0.8", refit=True) + factor("vacuum", "on 2 2 0 0.4")
    day = make_day(start=0, minutes=1439, factors=factors, pull=5.0)
    check(plan_of(day, seed=1, effort="quick"), faults)


def test_changes_that_cost_nothing(make_day, factor, faults) -> None:
    day = make_day(factors=factor("map", "b 0 0 0 1.0"), warm_up=0.0, breaks=())
    check(plan_of(day, seed=1, effort="quick"), faults)


def test_everything_refit(make_day, factor, faults) -> None:
    factors = "".join(factor(name, f"{name}2 10 10 0 1.6", refit=True) for name in "abc")
    check(plan_of(make_day(factors=factors), seed=1, effort="quick"), faults)


@pytest.mark.parametrize("drift", ["none", "quadratic", "wander"])
def test_every_drift(make_day, faults, drift) -> None:
    noise = "pull_sd = 1.0\npull_df = 15\ninstall_sd = 0.5\ninstall_df = 5\nwander_sd = 0.4"
    check(plan_of(make_day(drift=drift, noise=noise), seed=1, effort="quick"), faults)


def test_an_interrupted_search_keeps_the_best_so_far(own_day, faults) -> None:
    calls = []

    def interrupt(share: float, best: float) -> None:
        calls.append(share)
        if len(calls) == 3:
            raise KeyboardInterrupt

    plan = plan_of(own_day("alone"), seed=1, progress=interrupt)
    check(plan, faults)
    assert plan.made["stopped_early"] is True
    assert "search-stopped" in [note.code for note in plan.notes]


def test_progress_rises_to_the_end(own_day) -> None:
    told = []
    plan_of(own_day("alone"), seed=1, effort="quick", progress=lambda share, best: told.append((share, best)))
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0)
