"""The reverse of an audit: the smallest honest test that could have settled a claim, from the planner."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import groupby, pairwise
from pathlib import Path

from doe.claims.arithmetic import baseline_value, measured_gain
from doe.claims.claimsfile import read_claims_file
from doe.claims.day_noise import noise_of_day
from doe.claims.evidence import sensitivity
from doe.claims.protocol_result import POWER, HonestTest, HonestTests, ShortestDay
from doe.claims.schema import Claim, ClaimsFile, NoiseTable, Protocol
from doe.day.schema import DayFile
from doe.errors import DoeError
from doe.planning.plan import plan_of
from doe.planning.result import Plan, Question

STEP_MINUTES = 10
_SHORTEST, _LONGEST = 12, 143  # steps: two hours, a whole day
#: pull SDs as shares of the baseline, and install SD as a share of the pull SD, where nobody states the scatter;
#: common practice, no published source
ASSUMED_PULL_SHARES = (0.0025, 0.005, 0.01)
ASSUMED_INSTALL_RATIO = 0.6
_REFIT_MINUTES, _SWITCH_MINUTES = 30.0, 2.0


def protocol_of(path: Path | str, *, noise_from: Path | str | None = None) -> HonestTests:
    """What an honest test of each claim of a file would have taken.

    Parameters
    ----------
    path : path
        A claims file.
    noise_from : path, optional
        A day folder of one's own: its [noise] takes the place of what the file states or assumes.

    Raises
    ------
    InputError
        Faults in a file.
    DoeError
        No claim says which gain is to be shown.
    """
    file = read_claims_file(Path(path))
    noise = file.noise if noise_from is None else noise_of_day(Path(noise_from), file)
    return honest_tests(file, noise, file.test.title or Path(path).name)


def honest_tests(file: ClaimsFile, noise: NoiseTable, title: str) -> HonestTests:
    """Find the shortest day for each claim of a file.

    Parameters
    ----------
    file : ClaimsFile
    noise : NoiseTable
        The scatter to plan for, in the unit of the test; without a pull SD several are tried.
    title : str
        For the text.

    Raises
    ------
    DoeError
        No claim says which gain is to be shown.
    """
    notes: list[str] = []
    tests = [test for claim in file.claim for test in _of_claim(file, claim, noise, notes)]
    if not tests:
        raise DoeError("\n".join(notes))
    return HonestTests(title, file.test.unit, tuple(tests), tuple(dict.fromkeys(notes)))


def _of_claim(file: ClaimsFile, claim: Claim, noise: NoiseTable, notes: list[str]) -> Iterator[HonestTest]:
    gain = _gain_to_show(file, claim)
    if gain is None:
        notes.append(f"{claim.name}: neither a gain nor a smallest gain is given, so there is nothing to plan for")
        return
    fitted = sensitivity(file, claim).install > 0
    for assumed in _noises(noise, baseline_value(file, claim) or gain / 0.01, notes):
        yield HonestTest(
            claim=claim.name,
            gain=gain,
            pull_sd=assumed.pull_sd or 0.0,
            install_sd=assumed.install_sd or 0.0,
            clock=clock_text(file.protocol, fitted),
            day=_shortest_day(file, gain, assumed, fitted),
        )


def _gain_to_show(file: ClaimsFile, claim: Claim) -> float | None:
    """The smallest gain worth having where it is stated, else the gain that is claimed."""
    if claim.smallest_gain is not None:
        return claim.smallest_gain
    shown = measured_gain(file, claim) if claim.gain is None else float(claim.gain)
    return abs(shown) if shown else None


def _noises(noise: NoiseTable, base: float, notes: list[str]) -> Iterator[NoiseTable]:
    """The scatter as given; where no pull SD is, several; where no install SD is, a share of the pull SD."""
    if noise.pull_sd is None:
        notes.append("nobody states the pull-to-pull scatter: 0.25, 0.5 and 1 % of the baseline are assumed in turn")
    for pull_sd in [share * base for share in ASSUMED_PULL_SHARES] if noise.pull_sd is None else [noise.pull_sd]:
        install_sd = noise.install_sd
        if install_sd is None:
            notes.append(f"refit scatter assumed as {ASSUMED_INSTALL_RATIO:g} of the pull-to-pull scatter")
            install_sd = ASSUMED_INSTALL_RATIO * pull_sd
        yield noise.model_copy(update={"pull_sd": pull_sd, "install_sd": install_sd})


def _shortest_day(file: ClaimsFile, gain: float, noise: NoiseTable, fitted: bool) -> ShortestDay | None:
    """The shortest day that will do, to ten minutes: double its length until one does, then halve what is between."""

    def planned(steps: int) -> Plan | None:
        return _plan(_day(file, gain, noise, fitted, steps * STEP_MINUTES))

    low, high, best = 0, 0, None
    while best is None and high < _LONGEST:
        low, high = high, min(max(2 * high, _SHORTEST), _LONGEST)
        best = planned(high)
    if best is None:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        plan = planned(middle)
        low, high, best = (middle, high, best) if plan is None else (low, middle, plan)
    return _found(best)


def _plan(day: DayFile | None) -> Plan | None:
    """The plan of a day, None where it would leave the claim unsettled too often."""
    if day is None:
        return None
    try:
        plan = plan_of(day, seed=1, effort="quick")
    except DoeError:  # nothing fits
        return None
    return plan if all(chance >= POWER for chance in _chances(plan.questions[0])) else None


def _chances(question: Question) -> tuple[float, float]:
    return question.family_power or 0.0, question.no_difference_power or 0.0


def _day(file: ClaimsFile, gain: float, noise: NoiseTable, fitted: bool, minutes: int) -> DayFile | None:
    """A day for one question: the part against the baseline; None where not even the warm-up fits."""
    protocol = file.protocol
    if minutes <= protocol.warm_up_minutes:
        return None
    on, off, settling = changeover(protocol, fitted)
    change = {"level": "after", "minutes_on": on, "minutes_off": off, "settling_pulls": settling, "smallest_gain": gain}
    finish = dt.time(*divmod(minutes, 60))
    return DayFile.model_validate(
        {
            "day": {"date": dt.date(2000, 1, 1), "start": dt.time(0), "finish": finish},
            "cell": {"pull_minutes": protocol.pull_minutes, "warm_up_minutes": protocol.warm_up_minutes},
            "metric": {"name": file.test.metric or "power", "unit": file.test.unit},
            "noise": noise.model_dump(include={"pull_sd", "pull_df", "install_sd", "install_df"}),
            "factor": [{"name": "part", "baseline": "before", "refit": fitted, "change": [change]}],
        }
    )


def changeover(protocol: Protocol, fitted: bool) -> tuple[float, float, int]:
    """Minutes to fit the part and to go back, and settling pulls: as stated, else what is usual."""
    usual = _REFIT_MINUTES if fitted else _SWITCH_MINUTES
    on, off = (usual if said is None else said for said in (protocol.minutes_on, protocol.minutes_off))
    return on, off, int(fitted) if protocol.settling_pulls is None else protocol.settling_pulls


def clock_text(protocol: Protocol, fitted: bool) -> str:
    """The minutes that are planned with, in words."""
    on, off, settling = changeover(protocol, fitted)
    return (
        f"{on:g} min to fit it, {off:g} min to go back, {settling} throw-away pull{'' if settling == 1 else 's'} after"
        f" each change, {protocol.pull_minutes:g} min a pull, {protocol.warm_up_minutes:g} min to warm up"
    )


def _found(plan: Plan) -> ShortestDay:
    """The plan in figures."""
    counted = [run for run in plan.runs if run.count == "yes"]
    sets = [list(rows) for _, rows in groupby(counted, key=lambda run: run.stint)]
    order = [(rows[0].configuration["part"], len(rows)) for rows in sets]
    real, nothing = _chances(plan.questions[0])
    return ShortestDay(
        minutes=plan.minutes_used,
        pulls=len(counted),
        settling_pulls=sum(run.count == "settling" for run in plan.runs),
        fittings=plan.runs[-1].install,
        returns=sum(before == "after" and after == "before" for (before, _), (after, _) in pairwise(order)),
        order=tuple(order),
        if_real=real,
        if_nothing=nothing,
    )
