"""What is noted of a day folder that can be read: each oddity with its code, what it is about and its sentence."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from doe.words.cell.limit_words import Limit
from doe.words.notes import Note
from doe.words.phrases import listed_short

FIXED, UNANSWERED = "fixed", "unanswered"  # doe log tells them at their pulls
DAMAGED_LINE = "damaged-line"
BROKEN_CHAIN = "broken-chain"
OF_THE_JOURNAL = (DAMAGED_LINE, BROKEN_CHAIN)  # doe check tells them with their remedy


def lost_rows(table: str, what: str) -> Note:
    """Something that a table has lost and the journal has."""
    return Note("lost-rows", table, f"{table} has lost {what}; taken from the journal", "serious")


def plan_from_journal(faults: Sequence[str]) -> Note:
    """A plan.csv or plan.json that can't be read."""
    text = f"the plan is taken from the journal, its file can't be read: {faults[0]}"
    return Note("plan-from-journal", "plan.csv", text, "serious")


def lost_plan() -> Note:
    """A plan.csv that is gone."""
    return Note("lost-plan", "plan.csv", "plan.csv is gone; the plan is taken from the journal", "minor")


def taken_out_of_day(parts: Sequence[str]) -> Note:
    """A day.toml that was ahead of the plan: the machine stopped between the two."""
    text = (
        f"day.toml asked about {listed_short(parts)}, whose plan was never logged, or was taken back; it is taken out"
        " again, as pulls.journal says; 'doe plan --from-now --add' lets it join"
    )
    return Note("taken-out-of-day", "day.toml", text, "minor")


PLAN_BY_HAND = "plan-by-hand"


def plan_by_hand(steps: Sequence[str]) -> Note:
    """A plan.csv that is not as it was drawn."""
    text = (
        f"plan.csv was edited by hand, and is followed as it stands: {listed_short(steps)}; the order is no drawn one"
        " any more, so there is no randomisation test"
    )
    return Note(PLAN_BY_HAND, "plan.csv", text, "serious")


def plan_made_anew(files: Sequence[str], why: str, aside: Sequence[str]) -> Note:
    """Files of a plan that were written again.

    Parameters
    ----------
    aside : sequence of str
        Each that was there, and what it is called now.
    """
    kept = f"; what was there is set aside: {', '.join(aside)}" if aside else ""
    return Note("plan-made-anew", files[0], f"{' and '.join(files)} made anew from the journal: {why}{kept}", "serious")


def other_document(files: Sequence[str]) -> Note:
    """A plan.json or orders.txt that is not what the plan was logged with."""
    text = f"{' and '.join(files)}: not as the plan was logged; seed, seal and orders are taken from the journal"
    return Note("other-document", files[0], text, "serious")


def damaged_table(table: str, faults: Sequence[str], *, logged: bool) -> Note:
    """A table that can't be read, so that the journal stands in for it, or what is sound of it where there is none."""
    more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
    taken = f"{table} is taken from the journal, and what was edited in it by hand does not count"
    text = f"{faults[0]}{more}; {taken if logged else 'the rows that can be read are taken'}"
    return Note("damaged-table", table, text, "serious")


def numbers_waiting(count: int) -> Note:
    """Numbers that were typed while the folder could not be read."""
    which = "a number has" if count == 1 else f"{count} entries have"
    text = f"{which} no place in the day yet, typed when its files could not be read: 'doe check' gives the place"
    return Note("numbers-waiting", "", text, "serious")


def faulty_row(fault: str) -> Note:
    """A row of readings.csv that can't be read, among others that can."""
    return Note("faulty-row", "readings.csv", f"{fault}; the row is left out", "serious")


def set_aside_now(table: str, name: str, faults: Sequence[str], left_out: Sequence[int]) -> Note:
    """A table that can't be read, and is made anew while a pull is logged."""
    lost = (
        f"; not in the log, only there: {listed_short([f'pull {number}' for number in left_out])}" if left_out else ""
    )
    text = f"{table} can't be read, so it is set aside as {name} and made anew from the journal ({faults[0]}){lost}"
    return Note("table-set-aside", table, text, "serious")


def table_set_aside(table: str, name: str, left_out: Sequence[str]) -> Note:
    """A table that could not be read and was made anew."""
    lost = f"; only there, and not in the log: {listed_short(left_out)}" if left_out else ""
    text = f"{table} could not be read during the day; it was set aside as {name} and made anew from the journal{lost}"
    return Note("table-set-aside", table, text, "serious" if left_out else "minor")


def fixed(fixes: Sequence[str]) -> Note:
    """Stretches of pulls that were given other parts or steps, each as it was typed."""
    lines = [f"doe fix {what}" for what in fixes]
    text = f"put right after it was logged: {listed_short(lines)}; 'doe log' shows what was there before"
    return Note(FIXED, "", text, "minor")


def unanswered(questions: Mapping[int, str]) -> Note:
    """Questions about pulls, by their numbers, that nobody has answered."""
    (first, question), *more = questions.items()
    if more:
        names = listed_short([f"pull {number}" for number in questions])
        text = f"asked about when logged, and not answered: {names}; 'doe log' shows the questions"
    else:
        text = f"pull {first}, not answered since it was logged: {question}"
    return Note(UNANSWERED, "", f"{text}; right as it is: doe fix {'PULL' if more else first} --keep", "serious")


def damaged_line(text: str) -> Note:
    """A line of the journal whose checksum is wrong."""
    return Note(DAMAGED_LINE, "pulls.journal", text, "serious")


def broken_chain(text: str) -> Note:
    """A journal that is not as it was written."""
    return Note(BROKEN_CHAIN, "pulls.journal", text, "serious")


def edited_row(table: str, pull: int, differences: Sequence[str]) -> Note:
    """A row that is not as it was logged."""
    text = f"pull {pull} was edited in {table}: {'; '.join(differences)} (not witnessed by the log)"
    return Note("edited-row", f"pull {pull}", text, "serious")


def install_goes_down(pull: int, before: int, install: int) -> Note:
    """A fitting's number that is smaller than the one before."""
    text = f"pull {pull}: install goes down from {before} to {install}"
    return Note("install-goes-down", f"pull {pull}", text, "serious")


def changed_in_one_install(pull: int, changed: Sequence[str], install: int) -> Note:
    """A refit part that was changed while the install stays."""
    text = f"pull {pull}: {', '.join(changed)} changed, but install stays {install}; the parts are taken as fitted anew"
    return Note("changed-in-one-install", f"pull {pull}", text, "serious")


def install_without_change(pull: int, install: int, part: str) -> Note:
    """A new install in which nobody knows what was fitted."""
    text = (
        f"pull {pull}: install goes up to {install}, but no part changed; name the part that was fitted afresh in"
        f" readings.csv: {pull},fresh,{part}"
    )
    return Note("install-without-change", f"pull {pull}", text, "serious")


def mixed_offsets(offsets: int, zone: dt.tzinfo) -> Note:
    """Times with several offsets from UTC."""
    text = f"times are written with {offsets} different offsets; all are taken as local time in {zone}"
    return Note("mixed-offsets", "", text, "serious")


def pulls_without_time(pulls: Sequence[str]) -> Note:
    """Pulls without a time among others that have one."""
    text = f"no time for {listed_short(pulls)}; put evenly between the pulls around"
    return Note("pulls-without-time", "", text, "minor")


def no_pull_has_a_time(*, planned: bool) -> Note:
    """A log without any time."""
    known = "the planned minutes are taken" if planned else "a drift can't be taken out"
    return Note("no-times", "", f"no pull has a time: {known}", "minor" if planned else "serious")


def equal_times(pulls: Sequence[str]) -> Note:
    """Pulls at the same moment."""
    return Note("equal-times", "", f"equal times: {listed_short(pulls)}", "minor")


def times_out_of_order(pulls: Sequence[str]) -> Note:
    """Pulls whose times go back."""
    return Note("times-out-of-order", "", f"times out of order: {listed_short(pulls)}", "serious")


def other_date(date: dt.date, pulls: Sequence[str]) -> Note:
    """Pulls of another date than the day's."""
    return Note("other-date", "", f"not on the day's date, {date}: {listed_short(pulls)}", "serious")


def before_start(start: dt.time, pulls: Sequence[str]) -> Note:
    """Pulls before the day begins."""
    return Note("before-start", "", f"before the day's start, {start:%H:%M}: {listed_short(pulls)}", "minor")


def runs_without_plan(pulls: Sequence[str]) -> Note:
    """Runs that are named although there is no plan."""
    text = f"there is no plan: the run of {listed_short(pulls)} is ignored"
    return Note("runs-without-plan", "", text, "minor")


def unknown_runs(runs: Sequence[str]) -> Note:
    """Runs that the plan has not."""
    return Note("unknown-runs", "", f"the plan has no such run: {listed_short(runs)}", "serious")


def fulfilled_twice(runs: Sequence[str]) -> Note:
    """Runs with more than one pull."""
    return Note("fulfilled-twice", "", f"fulfilled twice: {listed_short(runs)}", "minor")


def otherwise_fitted(pulls: Sequence[str]) -> Note:
    """Pulls made in another configuration than their run asks for."""
    text = f"something else was fitted than the plan has for their run: {listed_short(pulls)}"
    return Note("otherwise-fitted", "", text, "serious")


def not_in_plan(pulls: Sequence[str]) -> Note:
    """Counted pulls that no run asked for."""
    return Note("not-in-plan", "", f"not in the plan, but counted: {listed_short(pulls)}", "minor")


def without_number(metric: str, pulls: Sequence[str]) -> Note:
    """Pulls that would count if they had their number."""
    return Note("without-number", metric, f"no {metric}, so not counted: {listed_short(pulls)}", "serious")


def outside_limits(limit: Limit, pulls: Sequence[str]) -> Note:
    """Values outside [limits]."""
    text = f"{limit.name} outside {limit.low:g} to {limit.high:g}: {listed_short(pulls)}"
    return Note("outside-limits", limit.name, text, "serious")


def limit_unknown(name: str, pulls: Sequence[str]) -> Note:
    """A limited number that counted pulls lack: some of them, or, where none is named, all."""
    which = f"not noted with {listed_short(pulls)}" if pulls else "noted with no counted pull"
    return Note("limit-not-noted", name, f"{name} is {which}: whether [limits] held nobody knows", "minor")


def strays(table: str, pulls: Sequence[str]) -> Note:
    """Rows of a small table for pulls that the log has not."""
    text = f"{table} speaks of what is not in the log: {listed_short(pulls)}"
    return Note("strays", table, text, "minor")


def wander_without_sd() -> Note:
    """A day file that asks for a wander whose size nobody states."""
    text = 'drift = "wander" needs wander_sd in [noise]; without it the drift is taken as linear'
    return Note("wander-without-sd", "[analysis] drift", text, "serious")


def unknown_limit(name: str, close: str) -> Note:
    """A limit for a column that is not there."""
    text = f"[limits] {name}: no column is called so; did you mean '{close}'?"
    return Note("unknown-limit", f"[limits] {name}", text, "minor")


def drift_through_nights() -> Note:
    """A table over several dates in which nobody named the days."""
    text = (
        "the times run over several dates, and no column of days is named (--day): the drift is taken to go on "
        "through the nights"
    )
    return Note("drift-through-nights", "", text, "serious")


def kept_too_late(pulls: Sequence[str]) -> Note:
    """Parts that are said to have stayed on over night, by a pull that is not the day's first."""
    text = f"the reading 'kept' is for the day's first pull, and ignored elsewhere: {listed_short(pulls)}"
    return Note("kept-too-late", "", text, "serious")


def carried_over_night(parts: Sequence[str]) -> Note:
    """Parts that stayed on from one day to the next."""
    return Note("carried-over-night", "", f"taken as the same fitting over night: {'; '.join(parts)}", "minor")


def fresh_each_day(
    names: Sequence[str], unsaid: Sequence[tuple[str, str, str]], *, but_for_these: bool, pull: int | None
) -> Note:
    """Parts of which nobody says that they stayed on.

    Parameters
    ----------
    names : sequence of str
        The parts of which each day has fresh fittings.
    unsaid : sequence of (part, level, day)
        Nights over which a part may have stayed on, but nobody says so.
    but_for_these : bool
        Whether others stayed on.
    pull : int, optional
        The first pull after the first of these nights.
    """
    text = f"each day has fresh fittings of {' and '.join(names)}{', but for these' * but_for_these}"
    if unsaid:
        nights = ", ".join(f"{name} {level} before {day}" for name, level, day in unsaid)
        text += (
            f": neither plan nor log says that it stayed on over night ({nights}); where it did, a line in"
            f" readings.csv of that day says so, such as {pull},kept,{unsaid[0][0]}"
        )
    return Note("fresh-each-day", "", text, "serious" if unsaid else "minor")


def not_carried(text: str) -> Note:
    """A part that is said to have stayed on, and did not."""
    return Note("not-carried", "", text, "serious")
