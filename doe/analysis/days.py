"""Day folders judged: one day, or several as one campaign."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from doe.analysis.judgement import Gain, Judgement, NoiseEstimate
from doe.analysis.known_noise import KnownNoise
from doe.analysis.looks import next_look
from doe.analysis.randomisation import randomisation_tests
from doe.analysis.settle import Costs
from doe.analysis.trial import Trial
from doe.analysis.verdicts import Ask, judge_trial
from doe.day.dayfile import day_warnings, read_day_file
from doe.day.fittings import fittings_of
from doe.day.log import read_log
from doe.day.looks import Look, read_looks, write_looks
from doe.day.planfile import PlanFile, read_plan
from doe.day.records import Pull, Run
from doe.day.schema import DayFile
from doe.day.seal import seal_of
from doe.errors import DoeError, InputError


@dataclass(frozen=True, slots=True)
class DayFolder:
    """Everything that a judge reads of one day."""

    folder: Path
    day: DayFile
    plan: PlanFile | None
    pulls: tuple[Pull, ...]
    warnings: tuple[str, ...]

    @classmethod
    def read(cls, folder: Path) -> DayFolder:
        """Read the day file, the plan and the log.

        Raises
        ------
        InputError
            A file is missing or wrong; all its faults at once.
        """
        folder = Path(folder)
        day = read_day_file(folder)
        plan = read_plan(folder, day)
        log = read_log(folder, day, plan)
        return cls(folder, day, plan, log.pulls, (*day_warnings(day), *log.warnings))

    @property
    def sealed(self) -> bool | None:
        """Whether metric, noise, analysis and questions are as they were planned; None without a plan."""
        return None if self.plan is None else self.plan.document.get("seal") == seal_of(self.day)

    def finished(self, now: dt.datetime | None = None) -> bool:
        """Tell whether every planned counted run has its pull, or the day's finish has passed (or there is no plan)."""
        if self.plan is None:
            return True
        done = {pull.run for pull in self.pulls if pull.void is None and pull.count == "yes"}
        if all(run.run in done for run in self.plan.runs if run.count == "yes"):
            return True
        return (now or dt.datetime.now()) > dt.datetime.combine(self.day.day.date, self.day.day.finish)


def judge_day(
    folder: Path | str | Sequence[Path | str],
    *,
    metric: str | None = None,
    method: str = "auto",
    look: bool = False,
    final: bool = False,
) -> Judgement:
    """Judge a day folder, or several as one campaign. Writes nothing: see `judge_and_log`.

    Parameters
    ----------
    folder : path or sequence of path
    metric : str, optional
        Another column or reading than the sealed metric.
    method : {"auto", "kenward-roger", "install-means"}
    look : bool
        Show the gains although the plan is not finished, at the risk that the look may spend.
    final : bool
        No more pulls will be made, although the plan is not finished.

    Returns
    -------
    Judgement
        While the plan is unfinished, noise and progress only, unless `look` or `final` ask for more.

    Raises
    ------
    InputError
        A file is wrong.
    DoeError
        There is nothing to judge.
    """
    return _judged(folder, metric, method, look, final)[0]


def judge_and_log(
    folder: Path | str | Sequence[Path | str],
    *,
    metric: str | None = None,
    method: str = "auto",
    look: bool = False,
    final: bool = False,
) -> Judgement:
    """Judge as `judge_day` does, and write a new look and the risk that it spent to looks.csv."""
    judgement, new = _judged(folder, metric, method, look, final)
    if new is not None:
        where = Path(folder) if isinstance(folder, str | Path) else Path(folder[0])
        write_looks(where, [*read_looks(where), new])
    return judgement


def _judged(
    folder: Path | str | Sequence[Path | str], metric: str | None, method: str, look: bool, final: bool
) -> tuple[Judgement, Look | None]:
    folders = [folder] if isinstance(folder, str | Path) else list(folder)
    days = [DayFolder.read(Path(f)) for f in folders]
    same_questions(days)
    if look and len(days) > 1:
        raise InputError("--look is for one day folder; a campaign of several is judged when its days are finished")
    first = days[0].day
    name = metric or first.metric.name
    sealed_metric = name == first.metric.name
    trial, values, names, warnings = trial_of_days(days, name)
    known = KnownNoise.of(first.noise.model_dump() if sealed_metric else None)
    looks = read_looks(days[0].folder) if len(days) == 1 else []
    trial, values, late = _before_closing(trial, values, looks)
    ask = Ask(
        metric=name,
        unit=first.metric.unit if sealed_metric else "",
        scale=first.metric.scale,
        confidence=first.analysis.confidence,
        method=method,
        smallest_gain=_smallest(first) if sealed_metric else {},
        costs=lambda factor, level: _costs(first, factor, level),
        warnings=(*(w for day in days for w in day.warnings), *warnings, *late, *_seal_warnings(days)),
        sealed=_sealed(days),
        pull_names=names[: trial.pulls],
    )
    finished = all(day.finished() for day in days)
    if not (finished or final or look or any(x.final for x in looks)):
        return _withheld(days, trial, values, known, ask), None
    new = None
    if looks or not finished:
        planned = planned_trial(days[0].day, days[0].plan.runs) if days[0].plan else trial
        turn = next_look(looks, trial, planned, first, ended=finished or final)
        new = turn if turn not in looks and (look or final) and not finished else None
        if turn.risk_spent <= 0:
            return _withheld(
                days, trial, values, known, ask, "so little is new that no risk may be spent on a look yet"
            ), None
        ask = replace(ask, risk=turn.risk_spent, look=(turn.look, turn.risk_spent), final=turn.final)
    judgement = judge_trial(trial, values, known, ask)
    return (_with_randomisation(judgement, days[0], name, trial, values) if len(days) == 1 else judgement), new


def _with_randomisation(
    judgement: Judgement, day: DayFolder, metric: str, trial: Trial, values: np.ndarray
) -> Judgement:
    """Add the randomisation p of each judged change; a supplementary number, never the verdict's."""
    if day.plan is None:
        return judgement
    tests = randomisation_tests(day.plan, _Block.of(day, metric).counted[: trial.pulls], trial, values)
    changes = tuple(
        gain if gain.gain is None else replace(gain, randomisation_p=test.p, randomisation_p_smallest=test.smallest)
        for gain, test in zip(judgement.changes, tests, strict=True)
    )
    return replace(judgement, changes=changes)


def _before_closing(trial: Trial, values: np.ndarray, looks: Sequence[Look]) -> tuple[Trial, np.ndarray, list[str]]:
    """Leave out pulls that were logged after "no more pulls today"."""
    closing = next((x for x in looks if x.final), None)
    if closing is None or trial.pulls <= closing.pulls:
        return trial, values, []
    keep = np.arange(closing.pulls)
    note = f"{trial.pulls - closing.pulls} counted pull(s) came after the final judgement: logged, and left out"
    return trial.take(keep), values[keep], [note]


def planned_trial(day: DayFile, runs: Sequence[Run]) -> Trial:
    """Return the counted runs of a plan as a trial.

    Parameters
    ----------
    day : DayFile
    runs : sequence of Run
        All of them: settling pulls and fresh refits number the fittings.

    Returns
    -------
    Trial
    """
    at = [i for i, run in enumerate(runs) if run.count == "yes"]
    questions = [(f.name, c.level) for f, c in day.questions]
    fittings = fittings_of(day, runs)
    return Trial(
        tuple(f for f, _ in questions),
        tuple(level for _, level in questions),
        np.array([[runs[i].configuration.get(f) == level for f, level in questions] for i in at], float),
        {name: np.array(own)[at] for name, own in fittings.items()},
        np.array([runs[i].install for i in at]),
        np.array([runs[i].minute for i in at]),
        np.zeros(len(at), int),
        day.drift,
    )


def _sealed(days: Sequence[DayFolder]) -> bool | None:
    seals = [day.sealed for day in days]
    return None if None in seals else all(seals)


def _seal_warnings(days: Sequence[DayFolder]) -> list[str]:
    notes = []
    for day in days:
        where = f"{day.folder.name}: " if len(days) > 1 else ""
        if day.plan is None:
            notes.append(f"{where}no plan: nothing was sealed before the first pull")
        elif not day.sealed:
            notes.append(
                f"{where}metric, noise, analysis or questions in day.toml are not as they were when it was planned"
            )
    return notes


def same_questions(days: Sequence[DayFolder]) -> None:
    """Refuse days that don't ask the same.

    Raises
    ------
    InputError
        Metric, analysis, factors or baseline differ.
    """
    first = days[0].day
    faults = []
    for other in days[1:]:
        for what, a, b in (
            ("the metric", first.metric, other.day.metric),
            ("[analysis]", first.analysis, other.day.analysis),
            ("the factors", [f.name for f in first.factor], [f.name for f in other.day.factor]),
            ("the baseline", first.baseline, other.day.baseline),
        ):
            if a != b:
                faults.append(
                    f"{other.folder}/day.toml: {what} differs from {days[0].folder}: one campaign has one of each"
                )
    if faults:
        raise InputError(faults)


def _smallest(day: DayFile) -> dict[tuple[str, str], float]:
    return {(f.name, c.level): c.smallest_gain for f, c in day.questions if c.smallest_gain}


def _costs(day: DayFile, factor: str, level: str) -> Costs | None:
    found = [change for f, change in day.questions if (f.name, change.level) == (factor, level)]
    if not found:
        return None
    return Costs(found[0].minutes_on + found[0].minutes_off, found[0].settling_pulls, day.cell.pull_minutes)


def trial_of_days(days: Sequence[DayFolder], metric: str) -> tuple[Trial, np.ndarray, tuple[str, ...], list[str]]:
    """Counted pulls of all days as one trial, with their readings, their names and what was assumed.

    Raises
    ------
    DoeError
        No pull counts, or none has the metric.
    """
    blocks = [_Block.of(day, metric) for day in days]
    first = days[0].day
    levels = {
        (f.name, level): None for day in days for f in day.day.factor for level in f.levels if level != f.baseline
    }
    questions = list(levels)
    pulls = [pull for block in blocks for pull in block.counted]
    if not pulls:
        raise DoeError(
            f"No counted pulls with '{metric}' in {', '.join(str(d.folder) for d in days)}: nothing to judge yet."
        )
    changes = np.array([[pull.configuration.get(f) == level for f, level in questions] for pull in pulls], float)
    minutes, warnings = _minutes(blocks)
    drift = first.drift if minutes is not None else "none"
    trial = Trial(
        factors=tuple(f for f, _ in questions),
        levels=tuple(level for _, level in questions),
        changes=changes.reshape(len(pulls), len(questions)),
        fittings=_joined(days, blocks),
        install=np.concatenate(
            [np.array([p.install for p in b.counted], int) + 100_000 * i for i, b in enumerate(blocks)]
        ),
        minute=minutes,
        day=np.concatenate([np.full(len(b.counted), i) for i, b in enumerate(blocks)]),
        drift=drift,
    )
    places = [
        f"{d.folder.name}/" if len(days) > 1 else "" for d, b in zip(days, blocks, strict=True) for _ in b.counted
    ]
    names = tuple(f"{place}{pull.number}" for place, pull in zip(places, pulls, strict=True))
    return trial, np.array([pull.values[metric] for pull in pulls]), names, warnings


@dataclass(frozen=True, slots=True)
class _Block:
    """One day's counted pulls, and the fittings of all its pulls."""

    counted: tuple[Pull, ...]
    at: tuple[int, ...]
    fittings: dict[str, list[int]]
    planned: dict[int, float]

    @classmethod
    def of(cls, day: DayFolder, metric: str) -> _Block:
        at = tuple(i for i, p in enumerate(day.pulls) if p.count == "yes" and p.void is None and metric in p.values)
        planned = {run.run: run.minute for run in day.plan.runs} if day.plan else {}
        return cls(tuple(day.pulls[i] for i in at), at, fittings_of(day.day, day.pulls), planned)

    def minutes(self) -> list[float | None]:
        return [p.minute for p in self.counted]

    def planned_minutes(self) -> list[float | None]:
        return [None if p.run is None else self.planned.get(p.run) for p in self.counted]


def _minutes(blocks: Sequence[_Block]) -> tuple[np.ndarray | None, list[str]]:
    """Minutes of the counted pulls: the logged ones, else the planned ones, else none at all."""
    logged = [minute for block in blocks for minute in block.minutes()]
    planned = [minute for block in blocks for minute in block.planned_minutes()]
    missing = sum(minute is None for minute in logged)
    if not missing:
        return np.array(logged, float), []
    both = [b if a is None else a for a, b in zip(logged, planned, strict=True)]
    if all(minute is not None for minute in both):
        return np.array(both, float), [f"{missing} pull(s) have no time: the planned minutes are taken"]
    return None, [f"{missing} pull(s) have neither a time nor a planned run: drift is taken as none"]


def _joined(days: Sequence[DayFolder], blocks: Sequence[_Block]) -> dict[str, np.ndarray]:
    """Fittings numbered on through the days; a part left on overnight is the same fitting."""
    joined: dict[str, list[int]] = {factor.name: [] for factor in days[0].day.refit_factors}
    top = dict.fromkeys(joined, 0)
    left_on: dict[str, str | None] = dict.fromkeys(joined)
    for day, block in zip(days, blocks, strict=True):
        for name, own in joined.items():
            numbers = block.fittings[name]
            stayed = bool(day.pulls) and left_on[name] == day.pulls[0].configuration[name]
            shift = top[name] - (numbers[0] if stayed and numbers else 0)
            own += [numbers[i] + shift for i in block.at]
            top[name] = max([top[name], *(n + shift for n in numbers)])
            left_on[name] = day.pulls[-1].configuration[name] if day.pulls else left_on[name]
    return {name: np.array(own, int) for name, own in joined.items()}


def _withheld(
    days: Sequence[DayFolder],
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    ask: Ask,
    why: str = "--look shows the gains and spends some of the risk, --final ends the day",
) -> Judgement:
    """Noise and progress of an unfinished day, without a gain in it."""
    planned = sum(run.count == "yes" for day in days if day.plan for run in day.plan.runs)
    note = f"the plan is not finished ({trial.pulls} of {planned} counted pulls): {why}"
    noise, baseline = NoiseEstimate(None, None, None, None), None
    if trial.changes.any():
        try:
            full = judge_trial(trial, values, known, ask)
            noise, baseline = full.noise, full.baseline_mean
        except DoeError:
            pass  # too little yet to tell the changes apart: progress alone is shown
    gains = tuple(
        Gain(f, level, smallest_gain=ask.smallest_gain.get((f, level)), notes=(note,))
        for f, level in zip(trial.factors, trial.levels, strict=True)
    )
    return Judgement(
        metric=ask.metric,
        scale=ask.scale,
        unit=ask.unit,
        gain_unit=ask.gain_unit,
        confidence=ask.confidence,
        method=ask.method,
        pulls=trial.pulls,
        installs=len(np.unique(trial.install)),
        noise=noise,
        baseline_mean=baseline,
        baseline_se=None,
        changes=gains,
        final=False,
        sealed=ask.sealed,
        warnings=(*ask.warnings, note),
    )
