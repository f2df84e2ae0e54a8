"""What is odd in a log that can be read: told, never mended in silence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence

from doe.day.files.limits import limits_of, noted
from doe.day.records import Draft, Pull, Run
from doe.day.schema import DayFile
from doe.words.day import log_notes
from doe.words.notes import Note


def run_oddities(drafts: Sequence[Draft], runs: Mapping[int, Run], voids: Collection[int]) -> Iterator[Note]:
    """Runs that no plan has, runs fulfilled twice or with something else fitted, counted pulls without a run."""
    live = [draft for draft in drafts if draft.number not in voids]
    if not runs:
        if with_run := [f"pull {draft.number}" for draft in live if draft.run]:
            yield log_notes.runs_without_plan(with_run)
        return
    if unknown := [f"run {draft.run} of pull {draft.number}" for draft in live if draft.run and draft.run not in runs]:
        yield log_notes.unknown_runs(unknown)
    at = defaultdict(list)
    for draft in live:
        at[draft.run].append(str(draft.number))
    if twice := [
        f"run {run} by pulls {' and '.join(same)}" for run, same in at.items() if run in runs and len(same) > 1
    ]:
        yield log_notes.fulfilled_twice(twice)
    if other := [f"pull {draft.number}" for draft in live if _other(draft, runs)]:
        yield log_notes.otherwise_fitted(other)
    if extra := [f"pull {draft.number}" for draft in live if draft.run not in runs and draft.count == "yes"]:
        yield log_notes.not_in_plan(extra)


def _other(draft: Draft, runs: Mapping[int, Run]) -> bool:
    """Whether a pull was made in another configuration than its run asks for."""
    return draft.run is not None and draft.run in runs and runs[draft.run].configuration != draft.configuration


def value_oddities(pulls: Sequence[Pull], day: DayFile) -> Iterator[Note]:
    """Counted pulls without their number, values outside [limits], limited numbers that some pulls lack."""
    metric = day.metric.name
    counted = [pull for pull in pulls if pull.counts]
    if blank := [f"pull {pull.number}" for pull in counted if metric not in pull.values]:
        yield log_notes.without_number(metric, blank)
    for limit in limits_of(day):
        found = [(pull.number, noted(limit, pull.values)) for pull in counted]
        if outside := [f"pull {number} at {v:g}" for number, v in found if v is not None and not limit.holds(v)]:
            yield log_notes.outside_limits(limit, outside)
        if blank := [f"pull {number}" for number, value in found if value is None]:
            yield log_notes.limit_unknown(limit.name, blank if len(blank) < len(found) else [])


def stray_numbers(pulls: Sequence[Pull], tables: Mapping[str, Collection[int]]) -> Iterator[Note]:
    """Rows of the small tables for pulls that the log doesn't have."""
    known = {pull.number for pull in pulls}
    for table, numbers in tables.items():
        if strays := [f"pull {number}" for number in sorted(numbers) if number not in known]:
            yield log_notes.strays(table, strays)


def late_kept(pulls: Sequence[Pull]) -> Iterator[Note]:
    """Parts that are said to have stayed on over night, by a pull that is not the day's first."""
    said = [pull for pull in pulls if pull.kept and pull.void is None]
    if not said:  # of most days: what looks through a night isn't loaded for them
        return
    from doe.day.log.overnight import morning

    first = {pulls[place].number for place in morning(pulls)}
    live = [pull for pull in said if pull.number not in first]
    if late := [f"pull {pull.number}" for pull in live]:
        yield log_notes.kept_too_late(late)
