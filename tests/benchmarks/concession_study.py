"""What a plan gives away of what the best plan of the same search settles, and what for; makes docs/planning-costs.md.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/concession_study.py [DAY ...]

Each day in tests/planning/days is planned by `--effort quick` from one seed. Everything is evaluated pull by pull under
the promise of the insured judge:

- insurance: what the plan would settle more if the day vouched that nothing wanders (the same runs, `wander_sd = 0`);
  nothing where day.toml states a wander;
- at 70 %: what is settled when the day stops then, and what a plan made for these hours alone would settle;
- shortness, cut days, draw: the searched plan against the one with fewer hours, then reordered, then drawn.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

from doe.day.files.dayfile import read_day_file
from doe.day.schema import DayFile
from doe.planning.arrays.batch import Batch, tidy
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import CUT_SHARES
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.drawn.plan import best_choice
from doe.planning.drawn.what_if import with_finish
from doe.planning.search.choose import Choice

ROOT = Path(__file__).parents[2]
DAYS = ROOT / "tests" / "planning" / "days"
PAGE = ROOT / "docs" / "planning-costs.md"
SEED = 1
HEAD = """# What a plan costs beside the best

Made by `tests/benchmarks/concession_study.py` from the invented days in `tests/planning/days`, planned with
`--effort quick` and seed 1; questions settled are counted pull by pull.

*Best* is the searched plan of the whole day with its opening set. What shortness, the order for a day cut short and
the random draw take is in percent of it; a cost below zero is a gain, where the search had not come to its end.
*Insurance*: what the same runs would settle more if the day vouched that nothing wanders, in percent of the plan.
*At 70 %* is the share of the plan that is settled when the day stops at 70 % of its hours: as searched, as reordered,
as drawn. The goal is 0.85. *Could be* is the share that the best plan found settles that was made for these 70 % of the
hours alone: no reordering can be expected to reach more. Such a plan may leave out questions that the whole day asks,
so where the two differ not all of the difference can be had.

| day | best | shortness | cut days | draw | together | hours saved | at 70 % | could be | insurance |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
"""


@dataclass(frozen=True)
class Costs:
    """Questions settled by each stage of one plan."""

    best: float
    short: float
    ordered: float
    drawn: float
    saved: float  # share of the day's hours
    at_seventy: tuple[float, float, float]  # of the searched, the ordered and the drawn plan
    could_be: float  # the most of these, and of a plan for 70 % of the hours; a share of the drawn plan, too
    uninsured: float | None

    def row(self, name: str) -> str:
        """A line of the table."""
        shares = [self.best - self.short, self.short - self.ordered, self.ordered - self.drawn, self.best - self.drawn]
        percents = " | ".join(f"{100 * share / self.best + 0.0:.1f} %".replace("-0.0", "0.0") for share in shares)
        seventy = ", ".join(f"{share:.2f}" for share in self.at_seventy)
        insurance = "stated" if self.uninsured is None else f"{100 * (self.uninsured / self.drawn - 1):.1f} %"
        name = name.replace("_", " ")
        cells = (
            name,
            f"{self.best:.3f}",
            percents,
            f"{100 * self.saved:.0f} %",
            seventy,
            f"{self.could_be:.2f}",
            insurance,
        )
        return f"| {' | '.join(cells)} |"


def settled(arrays: DayArrays, plan: Batch, share: float = 1.0) -> float:
    """Questions settled by a plan, or by what is made of it by a share of the hours."""
    by = share * arrays.day.length_minutes
    made = [run for run in runs_of(arrays, plan) if run.minute <= by + 1e-6]
    return exact(arrays, made).settled if any(run.count == "yes" for run in made) else 0.0


def costs(day: DayFile) -> Costs:
    """Plan one day and take it apart."""
    choice = best_choice(day, seed=SEED, effort="quick")
    assert choice is not None
    whole, arrays = choice.searched.arrays, choice.arrays
    drawn, enough = tidy(choice.drawn.plan), choice.sufficient.plan
    share = CUT_SHARES[1]
    stages = [(whole, choice.found.plan), (arrays, choice.skeleton), (arrays, drawn)]
    seventy = [settled(of, plan, share) / settled(of, plan) for of, plan in stages]
    return Costs(
        best=settled(whole, choice.found.plan),
        short=settled(choice.sufficient.whole_day, enough),
        ordered=settled(arrays, choice.skeleton),
        drawn=settled(arrays, drawn),
        saved=1.0 - runs_of(arrays, drawn)[-1].minute / day.length_minutes,
        at_seventy=(seventy[0], seventy[1], seventy[2]),
        could_be=max(*seventy, of_fewer_hours(day, share) / settled(arrays, drawn)),
        uninsured=uninsured(choice, drawn),
    )


def of_fewer_hours(day: DayFile, share: float) -> float:
    """Questions settled by the best plan found for a share of the hours from start to finish."""
    choice = best_choice(with_finish(day, share * day.length_minutes), seed=SEED, effort="quick", fill=True)
    return settled(choice.searched.arrays, choice.found.plan) if choice else 0.0


def uninsured(choice: Choice, drawn: Batch) -> float | None:
    """What the drawn plan would settle were the day not insured against wander; None where it isn't."""
    if choice.arrays.day.noise.wander_sd is not None:
        return None
    noise = replace(choice.arrays.noise, wander_sd=0.0, wander_df=0.0)
    return settled(replace(choice.arrays, noise=noise), drawn)


def main() -> None:
    """Print every day's costs, or those of the days that are named; all of them make the page."""
    rows = []
    for path in sorted(DAYS.glob("*.toml")):
        if sys.argv[1:] and path.stem not in sys.argv[1:]:
            continue
        rows.append(costs(read_day_file(path)).row(path.stem))
        print(rows[-1], flush=True)
    if not sys.argv[1:]:
        PAGE.write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
