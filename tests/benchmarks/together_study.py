"""False verdicts of days that share one risk: judged once when the last is done, and looked at after each of them.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/together_study.py --campaigns 1500 --write docs/method-measured.md

Each campaign is planned by `plan_days` and judged with the insurance against wander that nobody stated. Nothing works,
and then every gain is exactly its smallest (estimates shift with the truth: the same readings serve both). A campaign
is false when any of its verdicts is: a real gain or loss although nothing works; `no difference that matters`, or a
real loss, although each is worth having. Beside it the same looks with the whole risk at each, as if nothing were
shared.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from table_in_docs import print_table
from wander_study import QUICK, STUDY, Case, day_text, outcomes, part, studies

from doe.analysis.judging.many_outcomes import judge_outcomes
from doe.analysis.judging.verdict_rule import verdicts
from doe.analysis.trials.from_folders import planned_trial
from doe.analysis.trials.trial import Trial
from doe.day.files.campaign_link import campaign_link
from doe.planning.drawn.result import Plan
from doe.planning.rented.several_days import plan_days
from doe.stats.spending import increment
from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS

BEGIN, END = "<!-- together: begin -->", "<!-- together: end -->"
RISK, WANDERS = 0.05, (0.0, 0.5)
SHAPES = {
    "two quick parts": day_text(
        ("09:00", "11:00"), QUICK, part("vacuum", "on 2 2 0 1.2") + part("flap", "open 2 2 0 1.2")
    ),
    "oil and a quick part": day_text(
        ("16:00", "19:30"),
        STUDY,
        part("oil", "thin 20 20 1 1.8", refit=True) + part("vacuum", "on 2 2 0 1.2"),
    ),
}


@dataclass(frozen=True, slots=True)
class Campaign:
    """Days planned together."""

    case: Case  #: all of their counted pulls
    smallest: np.ndarray  #: by question
    shares: tuple[float, ...]  #: of the planned information, by the end of each day

    def until(self, day: int) -> tuple[Trial, np.ndarray, np.ndarray]:
        """The pulls of the first days, the questions that they tell of, and which pulls those are."""
        rows = np.flatnonzero(self.case.trial.day < day)
        trial = self.case.trial.take(rows)
        told = np.asarray(trial.determined)
        return trial.only(told), told, rows


def planned(text: str, count: int) -> Campaign:
    """So many days of a shape, a day after the other."""
    with tempfile.TemporaryDirectory() as parent:
        folders = []
        for number in range(count):
            folder = Path(parent) / f"day{number}"
            folder.mkdir()
            (folder / "day.toml").write_text(text.replace("2026-05-16", f"2026-05-{16 + number}"), encoding="utf-8")
            folders.append(folder)
        days = plan_days(folders, seed=1, effort="quick")
    return of_plans(days.plans)


def of_plans(plans: Sequence[Plan]) -> Campaign:
    """The campaign that some plans are for."""
    link = campaign_link(plans[0].made)
    assert link is not None
    trial = _together([planned_trial(plan.day, plan.runs) for plan in plans])
    asked = np.asarray(trial.changes.any(axis=0))
    smallest = np.array([change.smallest_gain for _, change in plans[0].day.questions], float)[asked]
    case = Case(plans[0].day, trial.only(asked), tuple(trial.fittings.values()))
    return Campaign(case, smallest, tuple(day.share for day in link.days))


def _together(trials: Sequence[Trial]) -> Trial:
    """One campaign of several days, nothing staying on over a night."""
    first = trials[0]
    fittings = {
        name: np.concatenate([10_000 * number + trial.fittings[name] for number, trial in enumerate(trials)])
        for name in first.fittings
    }
    minutes = [trial.minute for trial in trials if trial.minute is not None]
    return replace(
        first,
        changes=np.vstack([trial.changes for trial in trials]),
        fittings=fittings,
        install=np.concatenate([10_000 * number + trial.install for number, trial in enumerate(trials)]),
        minute=np.concatenate(minutes),
        day=np.concatenate([np.full(trial.pulls, number) for number, trial in enumerate(trials)]),
    )


def told(campaign: Campaign, y: np.ndarray, noise: dict, day: int, risk: float) -> np.ndarray:
    """Verdicts after so many days if nothing works, if each gain is its smallest; shape (2, campaigns, questions)."""
    trial, told_of, rows = campaign.until(day)
    found = np.full((2, len(y), len(campaign.smallest)), NOT_SETTLED, dtype="<U40")
    if told_of.any():
        judged = judge_outcomes(trial, y[:, rows], noise, family_confidence=1 - risk)
        limits = (judged.family_low, judged.family_high, judged.inner_low, judged.inner_high)
        smallest = campaign.smallest[told_of]
        for truth in (0, 1):
            found[truth][:, told_of] = verdicts(*(one + truth * smallest for one in limits), smallest)
    return found


def risks(campaign: Campaign) -> list[tuple[int, float]]:
    """After how many days there is a verdict, at which risk: a look at each, and what is left for the last."""
    spent, found = 0.0, []
    for day, share in enumerate(campaign.shares[:-1], start=1):
        risk = increment(share, spent, RISK)
        if risk > 0:
            found.append((day, risk))
            spent += risk
    return [*found, (len(campaign.shares), RISK - spent)]


def shares(steps: Sequence[np.ndarray]) -> tuple[float, float, float]:
    """False when nothing works, false when each is worth having, settled rightly by any verdict; in percent."""
    nothing, smallest = np.stack(steps, axis=1)
    real = np.isin(nothing, (REAL_GAIN, REAL_LOSS)).any(axis=(0, 2))
    none = np.isin(smallest, (NO_DIFFERENCE, REAL_LOSS)).any(axis=(0, 2))
    right = ((nothing == NO_DIFFERENCE).any(axis=0).mean() + (smallest == REAL_GAIN).any(axis=0).mean()) / 2
    return 100 * float(real.mean()), 100 * float(none.mean()), 100 * float(right)


def table(campaigns: int, seed: int) -> Iterator[str]:
    """The lines, as they are worked out."""
    yield f"{campaigns} campaigns a row, seed {seed}; made by `tests/benchmarks/together_study.py`. Shares in percent:"
    yield "false when nothing works / false when every gain is its smallest (of the questions settled rightly)."
    yield ""
    heads = ("days", "wander", "information by day", "judged once", "a look after each day", "the whole risk at each")
    yield f"| {' | '.join(heads)} |"
    yield "|" + " --- |" * len(heads)
    for name, text in SHAPES.items():
        for count in (2, 3):
            campaign = planned(text, count)
            for wander in WANDERS:
                rng = np.random.default_rng(seed)
                y = outcomes(campaign.case, rng, campaigns, wander)
                noise = studies(campaign.case, rng, campaigns)
                last = told(campaign, y, noise, count, RISK)
                looks = [told(campaign, y, noise, day, risk) for day, risk in risks(campaign)]
                whole = [*(told(campaign, y, noise, day, RISK) for day in range(1, count)), last]
                cells = ["{:.1f} / {:.1f} ({:.0f})".format(*shares(steps)) for steps in ([last], looks, whole)]
                by_day = ", ".join(f"{share:.2f}" for share in campaign.shares)
                yield f"| {count}, {name} | {wander:g} | {by_day} | {' | '.join(cells)} |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--campaigns", type=int, default=1500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", type=Path, help="a document with the markers of this table")
    given = parser.parse_args()
    print_table(table(given.campaigns, given.seed), given.write, BEGIN, END)


if __name__ == "__main__":
    main()
