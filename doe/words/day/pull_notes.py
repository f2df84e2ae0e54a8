"""What a tester should know at once of a pull that is logged or taken out: each notice with its remedy."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from doe.words.cell.limit_words import Limit, of_the_beginning, outside_text, wait_text
from doe.words.notes import Note
from doe.words.numbers import several
from doe.words.phrases import listed_short


def taken_as_warm_up(until: str) -> Note:
    """A pull that the clock alone makes one of the warm-up."""
    text = f"taken as warm-up, not counted: the warm-up lasts until {until}; --count yes if the engine is warm"
    return Note("taken-as-warm-up", "", text, "minor")


def logged_again_already(pull: int, last: int) -> Note:
    """A pull is to be logged again that was so before."""
    text = f"pull {pull} was logged again before, last as pull {last}: this one is in the place of pull {last}"
    return Note("logged-again-before", "", text, "minor")


def still_on(parts: Sequence[str]) -> Note:
    """Parts that are said to have stayed on since the day before."""
    text = "taken as still on since the day before, judged together with it as the same fitting: " + " and ".join(parts)
    return Note("carried-over-night", "", text, "minor")


def refit_not_done(install: int) -> Note:
    """A fresh refit that the plan orders and the tester did not do."""
    return Note("refit-not-done", "", f"the planned refit was not done: it stays fitting {install}", "serious")


def outside_the_plan() -> Note:
    """A counted pull that no run asked for."""
    return Note("not-in-plan", "", "not in the plan: it counts, and the plan waits where it is", "minor")


def run_made_already(run: int, pull: int) -> Note:
    """A second pull of one run."""
    text = f"step {run} had its pull already; both are kept, 'doe void {pull}' takes this one out"
    return Note("fulfilled-twice", "", text, "minor")


def fitted_otherwise(run: int) -> Note:
    """A pull in another configuration than its run asks for."""
    return Note("otherwise-fitted", "", f"something else is fitted than step {run} of the plan asks for", "serious")


def left_out(pulls: int) -> Note:
    """Planned pulls of the set before that were not made."""
    return Note("left-out", "", f"{several(pulls, 'planned pull')} of the last set left out", "minor")


def hardly_done(planned: float, passed: float, redo: str) -> Note:
    """Work that can't be done in so short a time; `redo` is what to type where it was not."""
    text = (
        f"the work before it takes {planned:g} min by day.toml, but {passed:.0f} min have passed; if it was not done:"
        f" {redo}"
    )
    return Note("work-hardly-done", "", text, "serious")


def throw_away_due(pulls: int, redo: str) -> Note:
    """Throw-away pulls that the work before asks for, where the pull is counted."""
    wanted = several(pulls, "throw-away pull")
    text = f"day.toml asks for {wanted} after this work; if this was one: {redo} --count settling"
    return Note("throw-away-due", "", text, "serious")


def not_the_date(made: dt.date, date: dt.date) -> Note:
    """A pull on another date than the day's."""
    text = f"{made:%Y-%m-%d} is not the day's date, {date}; put 'date' in day.toml right if it is wrong"
    return Note("other-date", "", text, "serious")


def another_half_day(said: dt.datetime, meant: dt.datetime) -> Note:
    """A time of day that lies in the day only half a day, or a day, later."""
    text = f"{said:%H:%M} does not lie in the day so far: taken as {meant:%H:%M} on {meant:%Y-%m-%d}"
    return Note("another-half-day", "", text, "serious")


def not_after(time: dt.datetime, pull: int, before: dt.datetime) -> Note:
    """A pull whose time is not after the last one's."""
    text = f"its time, {time:%H:%M:%S}, is not after that of pull {pull}, {before:%H:%M:%S}"
    return Note("times-out-of-order", "", text, "serious")


def entered_late(after: int) -> Note:
    """A pull that was made before others that are logged."""
    where = f"after pull {after}" if after else "before all others"
    return Note("entered-late", "", f"entered late: it stands where its time puts it, {where}", "minor")


def before_the_throw_away_pull(pull: int, thrown: int) -> Note:
    """A late pull that was made before the pull that was logged as its set's throw-away one."""
    text = (
        f"made before pull {thrown}, which was logged as the throw-away pull of this set; if this one was it:"
        f" doe record --redo {pull} --count settling, then doe record --redo {thrown} --count yes"
    )
    return Note("throw-away-due", "", text, "serious")


def out_of_limits(limit: Limit, value: float) -> Note:
    """A number outside [limits]: what to wait for where it is of the beginning; the pull is marked."""
    if of_the_beginning(limit.name):
        text = f"wait: {wait_text(limit, value)}; a pull that begins so is marked"
    else:
        text = f"{outside_text(limit, value)} is outside [limits]; the pull is marked"
    return Note("outside-limits", limit.name, text, "serious")


def day_is_closed(reopen: str) -> Note:
    """A pull that is logged after somebody said that there are no more; `reopen` is what lets it count."""
    text = f"this day is closed: it is logged, and left out of the verdict; to let it count: {reopen}"
    return Note("day-closed", "", text, "serious")


def doubtful_trace(text: str) -> Note:
    """What the reading of a pull's trace found odd."""
    return Note("doubtful-trace", "", text, "serious")


def mended_trace(text: str) -> Note:
    """What was left out of a pull's trace."""
    return Note("mended-trace", "", text, "minor")


def counts_beside(pull: int) -> Note:
    """Another pull that was logged in the place of one that counts again."""
    text = f"pull {pull} was logged in its place and counts too; 'doe void {pull}' takes it out"
    return Note("counts-beside", f"pull {pull}", text, "serious")


def taken_in(table: str, pulls: Sequence[str]) -> Note:
    """Rows that a person wrote, and that are of the log from now on."""
    text = f"written by hand into {table}, and taken into the log as it stands: {listed_short(pulls)}"
    return Note("by-hand", table, text, "serious")


def placed(clock: str) -> Note:
    """A number that was typed while the folder could not be read."""
    return Note("placed", "", f"typed at {clock}, when the folder could not be read; it has its place now", "minor")
