"""How many honest pulls are asked about, and how many are taken for the next set's: run it by hand, it takes minutes.

Days of 12 sets of 3 pulls (invented): normal pulls, refits and wander, as [noise] has them or otherwise; testers who
are as quick as day.toml says, give or take, and pause now and then. Nothing is typed wrong and nothing forgotten.

    python tests/benchmarks/honest_pulls.py [DAYS]
"""

from __future__ import annotations

import datetime as dt
import random
import sys
from collections import Counter
from dataclasses import replace

from doe.day.clock import lay_out
from doe.day.files.dayfile import parse_day
from doe.day.pilot.deciding import decide
from doe.day.pilot.entries import Entry
from doe.day.pilot.slips.doubting import doubts_about
from doe.day.pilot.standing import Standing
from doe.day.records import Pull, Stint
from doe.day.schema import DayFile

DAY = """
[day]
date = 2026-05-16
start = 08:00:00
finish = 18:00:00
[cell]
pull_minutes = 4.0
[metric]
name = "mean power"
unit = "hp"
{noise}
[[factor]]
name = "oil"
baseline = "thick"
refit = true
[[factor.change]]
level = "thin"
minutes_on = {change}
minutes_off = {change}
"""
KNOWN = "[noise]\npull_sd = 1.0\ninstall_sd = 0.5\nwander_sd = 0.4"
STUDIED = KNOWN.replace("0.5", "{install}\npull_df = 8\ninstall_df = 5").replace("1.0", "{pull}")
START = dt.datetime(2026, 5, 16, 8, 0)


def chi(rng: random.Random, df: int) -> float:
    """An SD of 1 as a study of so many degrees of freedom finds it."""
    return (sum(rng.gauss(0, 1) ** 2 for _ in range(df)) / df) ** 0.5


def asked(day: DayFile, rng: random.Random, scatter: float, drift: float) -> tuple[int, int]:
    """Questions and pulls of a day; `drift` in hp an hour."""
    made: list[Pull] = []
    doubts, minute = [], 0.0
    for install in range(1, 13):
        oil, refit, wander = ("thick", "thin")[install % 2], rng.gauss(0, 0.5), rng.gauss(0, 0.4)
        minute += 10.0
        for _ in range(3):
            minute += 4.0
            value = round(435 + 6 * (oil == "thin") + refit + wander + drift * minute / 60 + rng.gauss(0, scatter), 1)
            moment = START + dt.timedelta(minutes=minute)
            pull = Pull(len(made) + 1, None, moment, minute, install, {"oil": oil}, {"mean power": value}, "yes")
            doubts += doubts_about(
                Standing(day, (), made, doubts=tuple(doubts)), Entry(value=value), pull, None, crossed=None, now=START
            )
            made.append(pull)
    return len(doubts), len(made)


def taken_for_the_next(day: DayFile, rng: random.Random, *, forgets: bool) -> tuple[int, int]:
    """Pulls with wrong parts, and pulls; with `forgets` half of the sets' last pulls are not logged."""
    sets = [Stint({"oil": ("thick", "thin")[at % 2]}, 3) for at in range(12)]
    runs = lay_out(day, sets)
    standing, minute, wrong, logged = Standing(day, runs, ()), 0.0, 0, 0
    change = day.factor[0].change[0].minutes_on
    for at, stint in enumerate(sets):
        minute += change * rng.uniform(0.7, 1.4) if at else 0.0
        for place in range(3):
            minute += 4.0 * rng.uniform(0.9, 1.3) + (rng.uniform(5, 30) if rng.random() < 0.03 else 0.0)
            if forgets and place == 2 and rng.random() < 0.5:
                continue
            now = START + dt.timedelta(minutes=minute)
            one = decide(standing, Entry(value=435.0 + rng.gauss(0, 1)), now, now)
            wrong += one.pull.configuration != stint.configuration
            logged += 1
            standing = Standing(day, runs, (*standing.pulls, one.pull))
            if one.pull.configuration != stint.configuration:  # the tester is told, and puts it right
                standing = Standing(day, runs, (*standing.pulls[:-1], right(one.pull, standing, stint, runs)))
    return wrong, logged


def right(pull: Pull, standing: Standing, stint: Stint, runs: list) -> Pull:
    """The pull with the parts that were on."""
    made = {one.run for one in standing.pulls[:-1]}
    number = next(
        place
        for place, _ in enumerate(runs)
        if runs[place].configuration == stint.configuration and runs[place].run not in made
    )
    return replace(pull, configuration=stint.configuration, run=runs[number].run, install=runs[number].install)


def main(days: int) -> None:
    rng = random.Random(1)
    for name, noise, scatter, drift in (
        ("as [noise] says", KNOWN, 1.0, 0.0),
        ("nothing known", "", 1.0, 0.0),
        ("studied, 8 and 5 df", STUDIED, 1.0, 0.0),
        ("pulls scatter 1.5 x", KNOWN, 1.5, 0.0),
        ("drift of 0.3 hp/h", KNOWN, 1.0, 0.3),
        ("drift of 1 hp/h", KNOWN, 1.0, 1.0),
    ):
        count: Counter[str] = Counter()
        for _ in range(days):
            text = noise.replace("{pull}", f"{chi(rng, 8):.3f}").replace("{install}", f"{0.5 * chi(rng, 5):.3f}")
            found, made = asked(parse_day(DAY.format(noise=text, change=10)), rng, scatter, drift)
            count.update(asked=found, made=made)
        rate = 1000 * count["asked"] / count["made"]
        print(f"{name:22} {count['asked']:4} of {count['made']} asked about: {rate:.2f} in 1,000")
    for change in (2, 8, 30):
        for forgets in (False, True):
            count = Counter()
            day = parse_day(DAY.format(noise=KNOWN, change=change))
            for _ in range(max(1, days // 3)):
                wrong, made = taken_for_the_next(day, rng, forgets=forgets)
                count.update(wrong=wrong, made=made)
            who = "forgets half of the sets' last" if forgets else "forgets nothing"
            print(f"a change of {change} min, {who}: {count['wrong']} of {count['made']} pulls got wrong parts")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
