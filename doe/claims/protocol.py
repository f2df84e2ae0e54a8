"""The reverse of an audit: the smallest honest test that could have settled a claim, from the planner."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise
from pathlib import Path

import numpy as np

from doe.claims.evidence.interval import sensitivity
from doe.claims.evidence.own_noise import noise_of_day
from doe.claims.evidence.scatter import USUAL_REFIT_RATIO, USUAL_SHARES, noise_used
from doe.claims.findings.arithmetic import baseline_value
from doe.claims.protocol_result import LONGEST_HOURS, POWER, HonestTest, HonestTests, ShortestDay
from doe.claims.reading.claimsfile import read_claims_file
from doe.claims.reading.schema import TYPICAL_SHARE, Claim, ClaimsFile, NoiseTable, Protocol
from doe.day.clock import minutes_used
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.errors import DoeError
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.search.exchange import search
from doe.words.claims import protocol_words as words
from doe.words.claims.protocol_notes import no_gain_to_plan_for, pull_scatter_assumed, refit_scatter_assumed
from doe.words.notes import Note, texts

Progress = Callable[[str], None]

STEP_MINUTES = 10
_EVALUATIONS = 400  # orders looked at for each length of the day
_SHORTEST, _LONGEST = 12, LONGEST_HOURS * 6  # steps: from two hours on
_SMALLEST_SCATTER = 1e-3  # of the gain
_REFIT_MINUTES, _SWITCH_MINUTES = 30.0, 2.0


def protocol_of(
    path: Path | str, *, noise_from: Path | str | None = None, progress: Progress | None = None
) -> HonestTests:
    """What an honest test of each claim of a file would have taken.

    Parameters
    ----------
    path : path
        A claims file.
    noise_from : path, optional
        A day folder of one's own: its [noise] says the scatter that the file does not state.
    progress : callable, optional
        Told what is being planned; each claim takes some seconds.

    Raises
    ------
    InputError
        Faults in a file.
    DoeError
        Nothing says which gain is to be shown.
    """
    file = read_claims_file(Path(path))
    noise = noise_used(file, None if noise_from is None else noise_of_day(Path(noise_from), file))
    return honest_tests(file, noise, file.test.title or Path(path).name, progress)


def honest_tests(file: ClaimsFile, noise: NoiseTable, title: str, progress: Progress | None = None) -> HonestTests:
    """Find the shortest day for each claim of a file.

    Parameters
    ----------
    file : ClaimsFile
    noise : NoiseTable
        The scatter to plan for, in the unit of the test; without a pull SD several are tried.
    title : str
        For the text.
    progress : callable, optional
        Told what is being planned.

    Raises
    ------
    DoeError
        Nothing says which gain is to be shown.
    """
    notes: list[Note] = []
    tests: list[HonestTest] = []
    for place, claim in enumerate(file.claim, start=1):
        if progress is not None:
            progress(f"planning for claim {place} of {len(file.claim)}: {claim.name}")
        tests += _of_claim(file, claim, noise, notes)
    if not tests:
        raise DoeError("\n".join(texts(notes)))
    return HonestTests(title, file.test.unit, tuple(tests), tuple(dict.fromkeys(notes)))


def _of_claim(file: ClaimsFile, claim: Claim, noise: NoiseTable, notes: list[Note]) -> Iterator[HonestTest]:
    to_show = _gain_to_show(file, claim)
    if to_show is None:
        notes.append(no_gain_to_plan_for(claim.name))
        return
    gain, meaning = to_show
    fitted = sensitivity(file, claim).install > 0
    for assumed in _noises(noise, baseline_value(file, claim) or gain / TYPICAL_SHARE, notes):
        yield HonestTest(
            claim=claim.name,
            gain=gain,
            meaning=meaning,
            pull_sd=assumed.pull_sd or 0.0,
            install_sd=assumed.install_sd or 0.0,
            clock=words.clock_text(
                *changeover(file.protocol, fitted), file.protocol.pull_minutes, file.protocol.warm_up_minutes
            ),
            day=_shortest_day(file, gain, assumed, fitted),
        )


def _gain_to_show(file: ClaimsFile, claim: Claim) -> tuple[float, str] | None:
    """The smallest gain worth having where it is stated, else what such parts usually give; never what is claimed."""
    if claim.smallest_gain is not None:
        return claim.smallest_gain, words.WORTH_HAVING
    if file.prior.typical_gain is not None:
        return file.prior.typical_gain, words.USUAL
    base = baseline_value(file, claim)
    return None if base is None else (TYPICAL_SHARE * base, words.share_of_baseline(TYPICAL_SHARE))


def _noises(noise: NoiseTable, base: float, notes: list[Note]) -> Iterator[NoiseTable]:
    """The scatter as given; where no pull SD is, several; where no install SD is, a share of the pull SD."""
    if noise.pull_sd is None:
        notes.append(pull_scatter_assumed(USUAL_SHARES))
    for pull_sd in [share * base for share in USUAL_SHARES] if noise.pull_sd is None else [noise.pull_sd]:
        install_sd = noise.install_sd
        if install_sd is None:
            notes.append(refit_scatter_assumed(USUAL_REFIT_RATIO))
            install_sd = USUAL_REFIT_RATIO * pull_sd
        yield noise.model_copy(update={"pull_sd": pull_sd, "install_sd": install_sd})


def _shortest_day(file: ClaimsFile, gain: float, noise: NoiseTable, fitted: bool) -> ShortestDay | None:
    """The shortest day that will do, to ten minutes: double its length until one does, then halve what is between."""

    def planned(steps: int) -> _Planned | None:
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


@dataclass(frozen=True, slots=True)
class _Planned:
    """A plan that gives the right verdict often enough."""

    day: DayFile
    runs: list[Run]
    if_real: float
    if_nothing: float


def _plan(day: DayFile | None) -> _Planned | None:
    """The best plan of a day, None where it would leave the claim unsettled too often."""
    if day is None:
        return None
    arrays = day_arrays(day, candidate_levels(day, mixed=False))
    best = search(arrays, mixed=False, evaluations=_EVALUATIONS, random=np.random.default_rng(1))
    if best is None:
        return None
    runs = runs_of(arrays, best.plan)
    promise = exact(arrays, runs)
    planned = _Planned(day, runs, float(promise.real[0]), float(promise.none[0]))
    return planned if min(planned.if_real, planned.if_nothing) >= POWER else None


def _day(file: ClaimsFile, gain: float, noise: NoiseTable, fitted: bool, minutes: int) -> DayFile | None:
    """A day for one question: the part against the baseline; None where not even the warm-up fits."""
    protocol = file.protocol
    if minutes <= protocol.warm_up_minutes:
        return None
    on, off, settling = changeover(protocol, fitted)
    change = {"level": "after", "minutes_on": on, "minutes_off": off, "settling_pulls": settling, "smallest_gain": gain}
    # Scatter far below the gain changes no plan, and the planner's matrices can't hold it.
    scatter = noise.model_copy(update={"pull_sd": max(noise.pull_sd or 0.0, gain * _SMALLEST_SCATTER)})
    finish = dt.time(*divmod(minutes, 60))
    return DayFile.model_validate(
        {
            "day": {"date": dt.date(2000, 1, 1), "start": dt.time(0), "finish": finish},
            "cell": {"pull_minutes": protocol.pull_minutes, "warm_up_minutes": protocol.warm_up_minutes},
            "metric": {"name": file.test.metric or "power", "unit": file.test.unit},
            "noise": scatter.model_dump(include={"pull_sd", "pull_df", "install_sd", "install_df"}),
            "factor": [{"name": "part", "baseline": "before", "refit": fitted, "change": [change]}],
        }
    )


def changeover(protocol: Protocol, fitted: bool) -> tuple[float, float, int]:
    """Minutes to fit the part and to go back, and settling pulls: as stated, else what is usual."""
    usual = _REFIT_MINUTES if fitted else _SWITCH_MINUTES
    on, off = (usual if said is None else said for said in (protocol.minutes_on, protocol.minutes_off))
    return on, off, int(fitted) if protocol.settling_pulls is None else protocol.settling_pulls


def _found(planned: _Planned) -> ShortestDay:
    """The plan in figures."""
    counted = [run for run in planned.runs if run.counts]
    sets = [list(rows) for _, rows in groupby(counted, key=lambda run: run.stint)]
    order = [(rows[0].configuration["part"], len(rows)) for rows in sets]
    return ShortestDay(
        minutes=minutes_used(planned.day, planned.runs),
        pulls=len(counted),
        settling_pulls=sum(run.count == "settling" for run in planned.runs),
        fittings=planned.runs[-1].install,
        returns=sum(before == "after" and after == "before" for (before, _), (after, _) in pairwise(order)),
        order=tuple(order),
        if_real=planned.if_real,
        if_nothing=planned.if_nothing,
    )
