"""While the plan is unfinished and nobody asked for a look: how far the days are, and what would show the gains."""

from __future__ import annotations

from collections.abc import Sequence

from doe.analysis.judging.ledger.planned_together import days_missing, judge_line, judges_all, links_of
from doe.analysis.judging.ledger.turns import Turn
from doe.analysis.trials.from_folders import DayFolder, runs_due
from doe.analysis.trials.trial import Trial
from doe.words.judgements import judge_notes, ledger_notes
from doe.words.notes import Note


def how_far(days: Sequence[DayFolder], trial: Trial, turn: Turn, metric: str, *, look: bool) -> Note:
    """How far the days are, and what would show the gains; `look`: somebody asked for one, which may not be taken."""
    own, missing = days[0].day.metric.name, days_missing(days)
    if metric != own:
        why = f"the gains in {metric} are shown when those in {own} may be"
    elif len(days) > 1 and not any(links_of(days)):
        why = "a campaign shows its gains when all of its days are over"
    elif days[0].plan is None:
        return judge_notes.not_over(trial.pulls, f"{days[0].day.day.finish:%H:%M}")
    elif not turn.levels:
        why = ledger_notes.NO_CHANGE_YET
    elif not turn.allowed:
        why = ledger_notes.look_too_early(taken=look)
    else:
        whole = max(level.risk + level.next_risk for level in turn.levels.values())
        judge = judge_line([day.folder for day in days])
        why = ledger_notes.look_price(max(level.risk for level in turn.levels.values()), whole, turn.left, judge)
    due = sum(run.counts for day in days for run in runs_due(day))
    if missing:
        absent = [(day.folder, day.date) for day in missing]
        if not due:
            return judge_notes.days_to_come(trial.pulls, absent, why, judges_all(days))
        why = f"{ledger_notes.planned_with(absent)}; {why}"
    return judge_notes.not_finished(trial.pulls, trial.pulls + due, why)
