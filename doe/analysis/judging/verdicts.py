"""Verdicts: from a trial and its readings to one judged line a change."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.ask import Ask, Question, questions_of, smallest_gains
from doe.analysis.judging.checks.guess import told_under_a_guess
from doe.analysis.judging.checks.health import checked, health, told_of_refits
from doe.analysis.judging.checks.insurance import told_of_wander
from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.family import Risks, family_risks
from doe.analysis.judging.judgement import Gain, Judgement, NoiseEstimate
from doe.analysis.judging.noise_used import noise_used
from doe.analysis.judging.opinions.asked_for import opinions
from doe.analysis.judging.reasons import why_no_gain, why_no_interval
from doe.analysis.judging.settle import More, what_would_settle
from doe.analysis.judging.verdict_rule import verdict
from doe.analysis.trials.confounding import clear_changes
from doe.analysis.trials.known_noise import KnownNoise, StudiedNoise, stated_noise
from doe.analysis.trials.trial import Trial
from doe.errors import DoeError, InputError
from doe.stats.student import upper_quantile
from doe.words.judgements import gain_notes, ledger_notes
from doe.words.notes import Note
from doe.words.significance import CONFIDENCE
from doe.words.verdicts import HIGHER, NOT_SETTLED, Better, check_better


def judge(
    table: Any,
    *,
    value: str | Sequence[str],
    change: str | Sequence[str] = (),
    baseline: str | Sequence[str],
    install: str | Sequence[str] | None = None,
    day: str | None = None,
    time: str | None = None,
    drift: str | None = None,
    noise: Mapping[str, Any] | StudiedNoise | None = None,
    smallest_gain: float | Mapping[Any, float] | None = None,
    scale: Literal["absolute", "percent"] = "absolute",
    method: str = "auto",
    confidence: float = CONFIDENCE,
    checks: bool = True,
    second_opinion: bool = False,
    r_script: bool = False,
    missing: str = "refuse",
    better: Better = HIGHER,
) -> Judgement:
    """Judge every change in a table of results.

    Parameters
    ----------
    table : DataFrame or mapping of columns
        One row per pull; or several pulls side by side, or one column a level, see `value`.
    value : str or sequence of str
        Column of the readings. What numbered columns have in common ("pull" for "pull 1", "pull 2") takes them all;
        several columns are pulls side by side, or, without `change`, one column a level.
    change : str or sequence of str
        Column of what was fitted; one column per factor.
    baseline : str or sequence of str
        The level that every change is compared with, in the order of `change`.
    install : str or sequence of str, optional
        A column of install labels, "stints" (each unbroken run of one configuration is one install: the default), or
        "each" (every row was fitted on its own); or one of these for each factor.
    day : str, optional
        Column of days, each a fixed block.
    time : str, optional
        Column of dates with times, clock times, minutes, or a spreadsheet's fractions of days; what allows two
        readings is refused. Without it rows are in file order and the drift is "none".
    drift : {"none", "linear", "quadratic", "wander"}, optional
        "linear" with times.
    noise : mapping or NoiseStudy, optional
        What `doe.noise` found of the same metric; or pull_sd, pull_df, install_sd, install_df, wander_sd, wander_df: in
        the metric's unit, or in percent.
    smallest_gain : float or mapping, optional
        Worth having: one number for all, or by level or (factor, level).
    scale : {"absolute", "percent"}
    method : {"auto", "kenward-roger", "install-means"}
    confidence : float
    second_opinion : bool
        Fit the same pulls with statsmodels too.
    r_script : bool
        Write the lines of R that fit them: `Judgement.r_script`.
    checks : bool
        Whether the study goes with the day, what hangs on few pulls, which parts act together; False: numbers only.
    missing : {"refuse", "skip"}
        What to do with a row that lacks a reading, a level, a fitting or a time (blank, "n/a", "-").
    better : {"higher", "lower"}
        "lower" for fuel flow or a temperature: a real gain is then a decrease; gains stay change minus baseline.

    Returns
    -------
    Judgement

    Raises
    ------
    InputError
        A column, level or value is wrong; all faults at once.
    ConfoundedError
        No change can be told from the others.
    """
    from doe.analysis.trials.from_table import read_trial

    found = read_trial(
        table, value=value, change=change, baseline=baseline, install=install, day=day, time=time, drift=drift,
        missing=missing, together=True,
    )  # fmt: skip
    _check_options(scale, method, confidence)
    check_better(better)
    smallest = smallest_gains(found.trial, smallest_gain)
    ask = Ask(
        metric=next(iter(found.readings)),
        unit=found.read.unit,
        scale=scale,
        better=better,
        confidence=confidence,
        method=method,
        smallest_gain=smallest,
        notes=found.notes,
        read_as=found.read_as,
        unkept=ledger_notes.TABLE,
        pull_names=tuple(f"in row {name}" for name in found.columns.pull_names()),
        checks=checks,
        second_opinion=second_opinion,
        r_script=r_script,
    )
    known = KnownNoise.of(stated_noise(noise, ask.metric, ask.unit, percent=scale == "percent"))
    return judge_trial(found.trial, found.values, known, ask)


def _check_options(scale: str, method: str, confidence: float) -> None:
    if scale not in ("absolute", "percent"):
        raise InputError(f"scale: '{scale}' is not known; expected absolute or percent")
    if method not in r.METHODS:
        raise InputError(f"method: '{method}' is not known; expected one of {', '.join(r.METHODS)}")
    if not 0.5 < confidence < 1:
        raise InputError(f"confidence: {confidence:g} must lie between 0.5 and 1, e.g. 0.95")


def judge_trial(trial: Trial, values: np.ndarray, known: KnownNoise, ask: Ask) -> Judgement:
    """Judge one outcome of a trial.

    Parameters
    ----------
    trial : Trial
        Changes without a counted pull are listed, not judged.
    values : ndarray, shape (pulls,)
    known : KnownNoise
    ask : Ask

    Returns
    -------
    Judgement

    Raises
    ------
    DoeError
        Nothing to judge; the message says what is missing.
    """
    fitted = np.asarray(trial.changes.any(axis=0))
    if not fitted.any():
        raise DoeError(_nothing_to_judge(trial))
    seen = trial.only(fitted)
    clear, reasons = clear_changes(seen)
    found = estimate(seen, values[None], known, method=ask.method, percent=ask.scale == "percent")
    why = dict(zip(np.flatnonzero(~clear).tolist(), reasons, strict=True))
    risks = family_risks(found, ask.family_levels(seen))
    judged = _judged_gains(seen, values, found, risks, known, ask, why)
    noise = noise_used(seen, found, known, percent=ask.scale == "percent")
    judged = told_of_refits(seen, found, told_of_wander(seen, values, found, known, ask, judged))
    judged = told_under_a_guess(seen, values, known, ask, judged, noise.pull_sd)
    looked = checked(seen, values, found, risks, known, ask, judged)
    gains = dict(zip(questions_of(seen), looked.gains, strict=True))
    changes = tuple(gains.get(q) or _unjudged(q, gain_notes.no_pull(" ".join(q)), ask) for q in questions_of(trial))
    return Judgement(
        **_described(trial, ask),
        noise=noise,
        baseline_mean=float(found.baseline[0]) if seen.fixed().tells_baseline else None,
        baseline_se=_number(found.baseline_se[0]) if seen.fixed().tells_baseline else None,
        changes=changes,
        interplay=looked.interplay,
        checks=looked.checks,
        look=ask.look,
        look_leaves=ask.look_leaves,
        final=ask.final,
        unkept=ask.unkept,
        notes=(*ask.notes, *known.notes, *health(seen, known, ask), *looked.notes),
        read_as=ask.read_as,
        **opinions(seen, values, known, found, ask, looked.gains),
    )


def withheld(trial: Trial, values: np.ndarray, known: KnownNoise, ask: Ask, note: Note) -> Judgement:
    """Noise and progress of an unfinished day, without a gain in it.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    ask : Ask
    note : Note
        How far the day is, and what would show the gains.

    Returns
    -------
    Judgement
    """
    noise, baseline = NoiseEstimate(None, None, None, None), None
    if trial.changes.any():
        try:
            full = judge_trial(trial, values, known, replace(ask, checks=False, second_opinion=False, r_script=False))
            noise, baseline = full.noise, full.baseline_mean
        except DoeError:
            pass  # too little yet to tell the changes apart: progress alone is shown
    gains = tuple(
        Gain(*question, smallest_gain=ask.smallest_gain.get(question), notes=(note,))
        for question in questions_of(trial)
    )
    return Judgement(
        **_described(trial, ask),
        noise=noise,
        baseline_mean=baseline,
        baseline_se=None,
        changes=gains,
        final=False,
        notes=(*ask.notes, note),
        read_as=ask.read_as,
    )


def _described(trial: Trial, ask: Ask) -> dict[str, Any]:
    """What a judgement says of the question and the pulls, whatever comes out."""
    return {
        "metric": ask.metric,
        "scale": ask.scale,
        "unit": ask.unit,
        "gain_unit": ask.gain_unit,
        "better": ask.better,
        "confidence": ask.confidence,
        "method": ask.method,
        "pulls": trial.pulls,
        "installs": len(np.unique(trial.install)),
        "sealed": ask.sealed,
        **{name: getattr(ask, name) for name in ("folders", "next_day", "together", "another")},
    }


def _nothing_to_judge(trial: Trial) -> str:
    if not trial.pulls:
        return "No counted pulls: nothing to judge yet. Log or add pulls with and without a change, then ask again."
    named = ", ".join(trial.name(i) for i in range(len(trial.factors))) or "none"
    every = "The only counted pull is" if trial.pulls == 1 else f"All {trial.pulls} counted pulls are"
    then = "Pull with a change too, then ask again; 'doe noise' says" if trial.factors else "'doe noise' says"
    return f"{every} in the baseline: no change to judge (changes: {named}). {then} what the pulls tell of the scatter."


def _judged_gains(
    trial: Trial, values: np.ndarray, found: Estimates, risks: Risks, known: KnownNoise, ask: Ask, why: dict[int, Note]
) -> list[Gain]:
    """One judged line a change; `why` says of those that can't be told from something else what that is."""
    levels = [ask.level_of(question) for question in questions_of(trial)]
    (outer, inner), after = risks, risks[0]
    if any(level.next_risk != level.risk for level in levels):
        after = family_risks(found, np.array([1 - level.next_risk for level in levels]))[0]
    single = 1 - ask.confidence
    halves = np.stack([found.half_width(risk)[0] for risk in (single, outer, inner)])
    governing, p = found.governing(single)[0], found.p_value(single)[0]
    members = sum(route != r.NONE for route in found.routes)
    per_unit = 100.0 / found.baseline[0] if ask.scale == "percent" else 1.0
    gains = []
    for i, question in enumerate(questions_of(trial)):
        gain, smallest = float(found.gain[0, i]), ask.smallest_gain.get(question)
        if not math.isfinite(gain):
            gains.append(_unjudged(question, why.get(i) or why_no_gain(trial, known, i, ask.method), ask))
            continue
        (low, high), (family_low, family_high), (inner_low, inner_high) = (
            (_number(gain - half), _number(gain + half)) for half in halves[:, i]
        )
        word = verdict(_nan(family_low), _nan(family_high), _nan(inner_low), _nan(inner_high), smallest, ask.better)
        longer = governing[i]
        more: More | None = None
        if word == NOT_SETTLED and smallest and family_low is not None:
            more = what_would_settle(
                trial,
                values,
                found,
                i,
                smallest_gain=smallest / per_unit,
                risk=float(after[0, i, longer]),
                family_risk=levels[i].next_risk,
                questions=members,
                costs=ask.costs(*question),
            )
        gains.append(
            Gain(
                *question,
                gain,
                _number(found.se[0, i, longer]),
                _number(found.df[0, i, longer]),
                low,
                high,
                _number(p[i]),
                family_low,
                family_high,
                inner_low,
                inner_high,
                smallest,
                word,
                found.routes[i],
                more_pulls=more.pulls if more else None,
                more_installs=more.installs if more else None,
                more_minutes=more.minutes if more else None,
                if_refits_add_nothing=_pretended(found, i, ask.confidence),
                risk=levels[i].risk if family_low is not None else None,
                verdict_number=levels[i].number if family_low is not None else None,
                notes=why_no_interval(trial, found, i),
            )
        )
    return gains


def _pretended(found: Estimates, change: int, confidence: float) -> tuple[float, float] | None:
    se, df = found.pretended_se[0, change], found.pretended_df[0, change]
    if found.routes[change] != r.NONE or not (np.isfinite(se) and df > 0):
        return None
    half = float(upper_quantile((1 - confidence) / 2, df) * se)
    gain = float(found.gain[0, change])
    return gain - half, gain + half


def _unjudged(question: Question, reason: Note, ask: Ask) -> Gain:
    return Gain(*question, smallest_gain=ask.smallest_gain.get(question), notes=(reason,))


def _number(x: float | np.floating[Any]) -> float | None:
    return float(x) if math.isfinite(x) else None


def _nan(x: float | None) -> float:
    return float("nan") if x is None else x
