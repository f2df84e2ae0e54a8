"""A small seeded slice of the study of days that share one risk (tests/benchmarks/together_study.py)."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from day_files import factor

from doe.analysis.judging.folders import judge_day
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.planning.rented.several_days import plan_days

CAMPAIGNS = 300
RISK = 0.05
MOST = 100 * (RISK + 3.5 * np.sqrt(RISK * (1 - RISK) / CAMPAIGNS))  # 3.5 standard errors of a share


def test_looks_and_the_last_word_together_are_false_no_more_often_than_one_verdict(benchmark_module, planned) -> None:
    study = benchmark_module("together_study")
    campaign = study.of_plans(planned.plans)
    risks = study.risks(campaign)
    assert [day for day, _ in risks] == [1, 2]
    assert sum(risk for _, risk in risks) == pytest.approx(RISK)
    assert risks[0][1] == pytest.approx(planned.after_each[0].look.risk)
    rng = np.random.default_rng(5)
    y = study.outcomes(campaign.case, rng, CAMPAIGNS)
    noise = study.studies(campaign.case, rng, CAMPAIGNS)
    real, none, settled = study.shares([study.told(campaign, y, noise, day, risk) for day, risk in risks])
    assert real <= MOST
    assert none <= MOST
    # What is settled is what was promised for a campaign that was looked at, by a verdict of the insured judge.
    promised = planned.after_each[0].look.settled_in_the_end / len(campaign.smallest)
    assert settled / 100 == pytest.approx(promised, abs=0.06)


def test_one_randomisation_test_goes_over_the_orders_of_all_days(folders) -> None:
    parts = factor("vacuum", "base", "on 2 2 0 1.0") + factor("flap", "base", "open 2 2 0 1.0")
    for folder in folders:  # quick parts can be had in many orders
        path = folder / "day.toml"
        text = path.read_text("utf-8")
        path.write_text(text[: text.index("[[factor]]")] + parts, "utf-8")
    days = plan_days(folders, seed=1, effort="quick")
    days.save()
    random = np.random.default_rng(1)
    for folder, plan in zip(folders, days.plans, strict=True):
        start = dt.datetime.combine(plan.day.day.date, plan.day.day.start)
        entries = [
            Entry(
                value=round(400 + random.normal() + 3 * (run.configuration["vacuum"] == "on"), 2),
                time=start + dt.timedelta(minutes=run.minute),
            )
            for run in plan.runs
        ]
        record_pulls(folder, entries)
    found = {gain.factor: gain for gain in judge_day(folders, checks=False).changes}["vacuum"]
    own = [row["p"] for plan in days.plans for row in plan.made["drawn_from"]["smallest_p"]]
    # Two days' orders side by side tell what neither day's do.
    assert 0 < found.randomisation_p_smallest < min(p for p in own if p is not None)
    assert found.randomisation_p_smallest <= found.randomisation_p <= 0.05
