"""Day folders judged: one day, or several as one campaign."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from doe.analysis.judging.ask import Ask, questions_of
from doe.analysis.judging.checks.correction_slope import correction_slope
from doe.analysis.judging.day_asks import ask_of, better_of, outside_limits
from doe.analysis.judging.judgement import Judgement
from doe.analysis.judging.ledger.books import Books, counted_on
from doe.analysis.judging.ledger.how_far import how_far
from doe.analysis.judging.ledger.information import information, shares, with_conditional_power
from doe.analysis.judging.ledger.keeping import Kept, keep
from doe.analysis.judging.ledger.ledger_entries import asks, entries, given_up, unmade
from doe.analysis.judging.ledger.planned_together import campaign_information, days_missing, links_of
from doe.analysis.judging.ledger.turns import turn_of
from doe.analysis.judging.randomisation import randomisation_tests
from doe.analysis.judging.verdicts import judge_trial, withheld
from doe.analysis.trials.campaign import read_days
from doe.analysis.trials.corrected import is_corrected
from doe.analysis.trials.from_folders import CountedPulls, DayFolder, fitting_names, trial_of_days, trial_to_the_end
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.day.files.which_folder import command
from doe.day.log.looks import Look
from doe.day.log.planned.day_text import put_right
from doe.day.records import Pull
from doe.errors import DoeError, InputError
from doe.words.judgements import judge_notes, ledger_notes
from doe.words.notes import Note
from doe.words.significance import risk_of
from doe.words.verdicts import Better


def judge_day(
    folder: Path | str | Sequence[Path | str],
    *,
    metric: str | None = None,
    method: str = "auto",
    look: bool = False,
    final: bool = False,
    checks: bool = True,
    second_opinion: bool = False,
    r_script: bool = False,
    curve: bool = False,
    better: Better | None = None,
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
    checks : bool
        Look for what the verdicts hang on as well, such as a single pull; without it, a sixth of the time.
    second_opinion : bool
        Fit the same pulls with statsmodels too.
    r_script : bool
        Write the lines of R that fit them: `Judgement.r_script`.
    curve : bool
        Gain over rpm from the pulls' traces: `Judgement.curves`.
    better : {"higher", "lower"}, optional
        Of another metric than the sealed one, whose [metric] says it; "higher" where it is left out.

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
    also = {"checks": checks, "second_opinion": second_opinion, "r_script": r_script, "curve": curve}
    return _judged(folder, metric, method, look, final, better, **also).judgement


def judge_and_log(
    folder: Path | str | Sequence[Path | str],
    *,
    metric: str | None = None,
    method: str = "auto",
    look: bool = False,
    final: bool = False,
    checks: bool = True,
    second_opinion: bool = False,
    r_script: bool = False,
    curve: bool = False,
    better: Better | None = None,
    agreed: Callable[[str], bool] = lambda text: True,
) -> Judgement:
    """Judge as `judge_day` does, and write what is shown into the ledger of each day.

    Parameters
    ----------
    folder, metric, method, look, final, checks, second_opinion, r_script, curve, better
        As in `judge_day`.
    agreed : callable
        Told, before anything is shown, of a verdict that is not the first on its question or of a look that leaves
        hardly anything; False: then nothing is shown.

    Raises
    ------
    DoeError
        As in `judge_day`; a question was answered with no; or another process holds a folder.
    """
    also = {"checks": checks, "second_opinion": second_opinion, "r_script": r_script, "curve": curve}
    folders = [folder] if isinstance(folder, str | Path) else folder
    told = [note for one in folders for note in put_right(Path(one))]
    while True:
        found = _judged(folder, metric, method, look, final, better, **also)
        if found.asks and not agreed(found.asks):
            raise DoeError(ledger_notes.DECLINED)
        kept = keep(found.new, found.read) if found.new else Kept()
        if kept is not None:  # else somebody else's verdict came in between
            break
    unkept = found.judgement.unkept if found.kept_elsewhere else kept.refused or None
    return replace(found.judgement, unkept=unkept, notes=(*found.judgement.notes, *told, *kept.notes))


@dataclass(frozen=True, slots=True)
class _Found:
    """A judgement, and what belongs into the ledgers."""

    judgement: Judgement
    new: Mapping[Path, Look] = field(default_factory=dict)  #: by folder, where something is to be written
    read: Mapping[Path, Sequence[Look]] = field(default_factory=dict)  #: the ledgers that it was made by
    asks: str = ""  #: what to agree to before it is shown
    kept_elsewhere: bool = False  #: another metric: the ledger has nothing to do with it


def _judged(
    folder: Path | str | Sequence[Path | str],
    metric: str | None,
    method: str,
    look: bool,
    final: bool,
    better: Better | None,
    **also: Any,
) -> _Found:
    folders = [folder] if isinstance(folder, str | Path) else list(folder)
    days = read_days([Path(f) for f in folders])
    first = days[0].day
    own = first.metric.name
    name = metric or own
    _refuse(days, name, look=look, final=final)
    better = better_of(first, name, better)
    known = KnownNoise.of(first.noise.of(name, own))
    books = Books.of(days, method)
    counted, notes = _counted(days, books, name)
    trial = counted.trial
    marked = tuple(np.flatnonzero(outside_limits(counted.whole, days, name)[counted.kept]).tolist())
    ask = replace(
        ask_of(days, name, better, method, counted.names, notes),
        **also,
        fitting_names=fitting_names(trial, counted.names),
        marked=marked,
        unkept=_unkept(name, own),
    )
    together, missing = campaign_information(days), days_missing(days)
    ended = final or (books.over and not missing)
    planned = trial if ended or days[0].plan is None else trial_to_the_end(days[0], name)
    fitted = np.any(trial.changes, axis=0).tolist()
    turn = turn_of(
        books.ledgers,
        books.seen,
        [question for question, on in zip(questions_of(trial), fitted, strict=True) if on],
        risk_of(first.analysis.confidence),
        final=ended,
        information=_information_in(days, trial, planned, ended=ended, together=together),
    )
    if not (ended or (look and turn.allowed) or (turn.again and (turn.final or name != own))):
        return _Found(_hidden(counted, known, ask, how_far(days, trial, turn, name, look=look)))
    leaves = None if turn.final else turn.left
    ask = replace(ask, ledger=turn.levels, look=turn.look, look_leaves=leaves, final=turn.final)
    judgement = _with_the_rest(judge_trial(trial, counted.values, known, ask), counted, known, ask)
    if not turn.final:
        share = shares(trial, planned, first) if together is None else np.full(len(judgement.changes), together)
        judgement = with_conditional_power(judgement, share, turn.levels)
    if name != own:
        return _Found(judgement, kept_elsewhere=True)
    new = entries(judgement, turn, trial, books, closes=final and not books.closed)
    return _Found(
        replace(judgement, notes=(*judgement.notes, *books.notes(new))),
        new={day.folder: entry for day, entry in zip(days, new, strict=True)} if new else {},
        read={day.folder: ledger for day, ledger in zip(days, books.everything, strict=True)},
        asks=" ".join(filter(None, (_given_up(days, books, new), unmade(books, turn, final), asks(turn)))),
    )


@dataclass(frozen=True, slots=True)
class _Counted:
    """The pulls of some days that a verdict counts: those that were there when each day was closed."""

    days: Sequence[DayFolder]
    metric: str
    whole: Trial  #: with those that came later
    kept: np.ndarray  #: rows of it that count
    trial: Trial
    values: np.ndarray
    names: tuple[str, ...]

    def by_day(self) -> list[tuple[int, Pull]]:
        """The number of its day and each pull, in the order of `trial`."""
        pulls = [
            (number, pull) for number, day in enumerate(self.days) for pull in CountedPulls.of(day, self.metric).counted
        ]
        return [pulls[row] for row in self.kept.tolist()]


def _counted(days: Sequence[DayFolder], books: Books, metric: str) -> tuple[_Counted, tuple[Note, ...]]:
    """The pulls that were there when each day said "no more pulls today", and what is to be said of all of them."""
    trial, values, names, notes = trial_of_days(days, metric)
    kept, late = _before_closing(trial, days, books, metric)
    own = tuple(names[row] for row in kept)
    return _Counted(days, metric, trial, kept, trial.take(kept), values[kept], own), (*notes, *late)


def _hidden(counted: _Counted, known: KnownNoise, ask: Ask, progress: Note) -> Judgement:
    """Noise and progress alone."""
    hidden = withheld(counted.trial, counted.values, known, ask, progress)
    if not ask.curve:
        return hidden
    from doe.analysis.judging.curves.of_days import curves_withheld

    return replace(hidden, curves=curves_withheld(counted.days[0].day, ask))


def _with_the_rest(judgement: Judgement, counted: _Counted, known: KnownNoise, ask: Ask) -> Judgement:
    """What stands beside the verdicts: whether the air's correction corrects, the curves, the randomisation test."""
    days, metric = counted.days, counted.metric
    if ask.checks and is_corrected(days[0].day, metric):
        judgement = _with_correction(judgement, counted)
    if ask.curve:  # only then: a plain judge needs no optimiser
        from doe.analysis.judging.curves.of_days import curves_of_days, pulls_of_days

        pulls = pulls_of_days(days, metric, counted.kept, counted.names)
        judgement = replace(judgement, curves=curves_of_days(pulls, counted.trial, counted.values, known, ask))
    if len(days) == 1 or all(links_of(days)):
        judgement = _with_randomisation(judgement, counted)
    return judgement


def _given_up(days: Sequence[DayFolder], books: Books, new: Sequence[Look]) -> str:
    """What is to be said before a verdict that ends a day with much of its plan open."""
    return given_up(days[0], [*books.ledgers[0], new[0]]) if new and new[0].closes else ""


def _refuse(days: Sequence[DayFolder], metric: str, *, look: bool, final: bool) -> None:
    """--look and --final are for one day and for its own metric.

    Raises
    ------
    InputError
        They are asked of something else.
    """
    if not (look or final):
        return
    option, own = "--look" if look else "--final", days[0].day.metric.name
    if len(days) > 1 and not any(links_of(days)):
        raise InputError(_one_by_one(days, option))
    if metric != own:
        raise InputError(
            f"{option} is for {own}, which this day is about; {metric} is shown beside it, when its gains may be:"
            f" {command('judge', days[0].folder, option)}, then --metric"
        )
    if look and days[0].plan is None and not days[0].finished():
        raise InputError("--look: without a plan nobody knows how much of the day is in; --final ends the day")


def _information_in(
    days: Sequence[DayFolder], trial: Trial, planned: Trial, *, ended: bool, together: float | None
) -> float:
    """Share of the planned information that is in."""
    if ended:
        return 1.0
    if together is not None:
        return together
    return 1.0 if len(days) > 1 else information(trial, planned, days[0].day)


def _unkept(metric: str, own: str) -> str:
    """Why what the library or another metric shows is not in the ledger."""
    return ledger_notes.LIBRARY if metric == own else ledger_notes.other_metric_unkept(own)


def _one_by_one(days: Sequence[DayFolder], option: str) -> str:
    """Where an early look, or the end of a day, belongs: to its own day."""
    open_days = [day.folder for day in days if not day.finished()] or [days[-1].folder]
    return (
        f"{option} is for one day folder; a campaign is judged when its days are over. "
        f"To end a day before its plan is done: {command('judge', open_days[0], '--final')}"
    )


def _with_correction(judgement: Judgement, counted: _Counted) -> Judgement:
    """Add whether the correction for the air corrects, where one is made on reading."""
    factors = np.array([counted.days[day].factors.get(pull.number, np.nan) for day, pull in counted.by_day()])
    known = np.flatnonzero(np.isfinite(factors))
    if not known.size:
        return judgement
    factors = factors[known]
    found = correction_slope(counted.trial.take(known), counted.values[known] / factors, factors)
    note = judge_notes.correction_untold(None) if found is None else found.note
    return replace(judgement, correction=found, notes=(*judgement.notes, note))


def _with_randomisation(judgement: Judgement, counted: _Counted) -> Judgement:
    """Add the randomisation p of each judged change; a supplementary number, never the verdict's."""
    days = counted.days
    if any(day.plan is None for day in days):
        return judgement
    judged = counted.by_day()
    pulls = [[pull for day, pull in judged if day == number] for number in range(len(days))]
    tests = randomisation_tests([day.plan for day in days], pulls, counted.trial, counted.values)
    changes = tuple(
        gain if gain.gain is None else replace(gain, randomisation_p=test.p, randomisation_p_smallest=test.smallest)
        for gain, test in zip(judgement.changes, tests, strict=True)
    )
    return replace(judgement, changes=changes)


def _before_closing(
    trial: Trial, days: Sequence[DayFolder], books: Books, metric: str
) -> tuple[np.ndarray, list[Note]]:
    """Rows of the pulls that were there when each day said "no more pulls today", and what is left out."""
    kept, notes = [], []
    for number, (day, ledger) in enumerate(zip(days, books.everything, strict=True)):
        own = np.flatnonzero(trial.day == number)
        stays = {pull.number for pull in counted_on(day, metric, ledger)}
        kept.append(own[[pull.number in stays for pull in CountedPulls.of(day, metric).counted]])
        if len(stays) < len(own):
            where = day.name if len(days) > 1 else ""
            notes.append(judge_notes.after_closing(where, len(own) - len(stays)))
    return np.concatenate(kept), notes
