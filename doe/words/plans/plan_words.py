"""The plan as a tester reads it: the day by the clock, what it can show, what it was compared with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from doe.words.day.bring_words import bring_block
from doe.words.numbers import duration, several, times_in_hundred, two_figures
from doe.words.phrases import WIDTH, capital, listed
from doe.words.plans.clock_table import Clock, day_grid, day_remarks
from doe.words.plans.planned import Drop, Plan, Question, Wandering
from doe.words.plans.replan_words import BREAKS_A_WISH, LACKS_A_PART, alternatives_lines
from doe.words.plans.study_words import worth_lines
from doe.words.plans.wish_words import SEEN, wish_lines
from doe.words.screen import Part, filled, grid, laid_out_text
from doe.words.significance import NOTABLE
from doe.words.verdicts import LOWER, NO_DIFFERENCE, REAL_GAIN, Better, lower_is_better, worth_words

ROOM = "there is room for one more question"


def plan_text(plan: Plan, unit: str, clock: Clock, width: int = WIDTH) -> str:
    """The whole text.

    Parameters
    ----------
    plan : Plan
    unit : str
        Of the gains.
    clock : callable
        The time of day, "HH:MM", at a minute of the day.
    width : int
        That a table may take.
    """
    blocks: list[Sequence[Part]] = [
        _heading(plan, clock),
        replaced_lines(plan, clock),
        ["The day", day_grid(plan, clock), *day_remarks(plan)],
        _question_lines(plan, unit),
        _study_lines(plan, unit),
        outlook_lines(plan, unit),
        _compared_lines(plan, unit, width),
        wish_lines(plan.wishes, plan.wishes_cost, rest=plan.replaced is not None),
        bring_block(plan.needs, {} if plan.replaced else plan.day.baseline),
        _order_lines(plan),
        _caution_lines(plan),
    ]
    return laid_out_text(blocks, width)


def sheet_is_made(moment: str) -> str:
    """What is at stake where a run sheet of the plan was made at a moment (ISO 8601)."""
    return (
        f"a run sheet of this plan was made at {moment[11:16]} on {moment[:10]}: with another plan it is worthless, and"
        " what is filled in on it can't be read back"
    )


def leaves_the_others(days: Sequence[str]) -> str:
    """What is at stake where a plan is one of several days that share a risk."""
    return (
        f"this day was planned together with {listed(days)}: a plan of its own leaves them, and until '--final' their"
        " verdicts wait for it"
    )


def another_is_drawn_by(line: str) -> str:
    """What the line to type for another plan does."""
    return f"'{line}' draws another plan; the old one is kept"


def rest_is_planned_by(line: str) -> str:
    """What the line to type for another plan does once the day has begun."""
    return f"'{line}' plans the rest of the day anew; this plan is kept"


def drawn_before(seed: int, ignored: Sequence[str], another: str, *, changed: bool) -> str:
    """Of a plan that is only shown: that it was drawn before, what was typed for nothing, how another is drawn.

    Parameters
    ----------
    seed : int
        By which it was drawn.
    ignored : sequence of str
        Options that act only where a plan is drawn.
    another : str
        How another is made.
    changed : bool
        day.toml has other values than those that it was drawn with.
    """
    nothing = f", so {listed(list(ignored))} {'changes' if len(ignored) == 1 else 'change'} nothing" if ignored else ""
    since = "; day.toml has changed since" if changed else ""
    return f"This plan was drawn before, with seed {seed}{nothing}{since}: {another}."


def _heading(plan: Plan, clock: Clock) -> list[str]:
    day = plan.day
    counted = sum(run.count == "yes" for run in plan.runs)
    thrown = sum(run.count == "settling" for run in plan.runs)
    fittings = plan.runs[-1].install - plan.runs[0].install + 1
    spare = plan.minutes_available - plan.minutes_used
    return [
        f"{day.day.title or 'The day'}: {day.day.date:%d %B %Y}, {day.day.start:%H:%M} to {day.day.finish:%H:%M}",
        f"{several(counted, 'pull')} that count, {several(thrown, 'throw-away pull')}, {several(fittings, 'fitting')};"
        f" done at {clock(plan.runs[-1].minute)}"
        + (f", {duration(spare)} to spare" if spare >= 1 else "")
        + f" (seed {plan.seed})",
        *hours_left(plan),
    ]


def hours_left(plan: Plan) -> list[str]:
    """What the hours that the plan leaves would add, and whether another question would fit in."""
    if plan.if_filled is None:
        return []
    more = max(plan.if_filled - plan.expected_settled, 0.0)
    adds = f"{more:.2f} of a question" if more >= SEEN else "nothing that can be seen"
    room = f"; {ROOM}" if has_room(plan) else ""
    return [f"The hours to {plan.day.day.finish:%H:%M} would add {adds} ('{_fill(plan)}' takes them){room}."]


def room_line(plan: Plan) -> list[str]:
    """That another question would fit into the hours that the plan leaves, and what takes them without one."""
    finish = f"{plan.day.day.finish:%H:%M}"
    return [f"{capital(ROOM)} until {finish}; '{_fill(plan)}' takes those hours for these."] if has_room(plan) else []


def _fill(plan: Plan) -> str:
    return f"{plan.line}{' --from-now' if plan.replaced else ''} --fill"


def has_room(plan: Plan) -> bool:
    """Whether another question would fit into the hours that the plan leaves."""
    if plan.if_filled is None:
        return False
    asked = sum(not question.dropped for question in plan.questions)
    return plan.minutes_available - plan.minutes_used >= plan.minutes_used / (asked + 1)


def replaced_lines(plan: Plan, clock: Clock) -> list[str]:
    """For the rest of a day: from when, and which of the plans was taken."""
    replaced = plan.replaced
    if replaced is None:
        return []
    if replaced.ways:
        must = [*[BREAKS_A_WISH] * bool(plan.wishes), *[LACKS_A_PART] * bool(plan.made.get("added"))]
        ways = alternatives_lines(replaced.ways, len(plan.questions), clock, replaced.taken, must)
        return [f"The rest of the day, from {clock(replaced.minute)}: {replaced.taken} (*)", *ways]
    rows = [f"  {name}: {f'{value:.2f}' if value > 0 else '-'}" for name, value in replaced.worths.items()]
    return [
        f"The rest of the day, from {clock(replaced.minute)}: {replaced.taken}."
        f" Questions settled of {len(plan.questions)} by",
        *rows,
    ]


def _question_lines(plan: Plan, unit: str) -> list[str]:
    if not plan.questions:
        return []
    drops = {(drop.factor, drop.level): drop for drop in plan.drops}
    metric, better = plan.day.metric.name, plan.day.metric.better
    lines = ["What the day can show", *([lower_is_better(metric, unit)] if better == LOWER else [])]
    for question in plan.questions:
        drop = drops.get((question.factor, question.level))
        lines += _question_text(question, drop, unit, better, wished=bool(plan.wishes))
    return lines


def _question_text(question: Question, drop: Drop | None, unit: str, better: Better, *, wished: bool) -> Iterator[str]:
    name = f"  {question.factor} {question.level}"
    if question.dropped:
        yield f"{name}: left out today. {drop_text(drop, wished=wished)}"
        return
    if question.detectable_gain is None:
        yield f"{name}: nothing; this plan gives it no interval"
        return
    if question.smallest_gain is None:
        yield f"{name}: a gain of {question.detectable_gain:.2g} {unit} would be found 8 times in 10"
        return
    yield f"{name}, worth having from {question.smallest_gain:g} {unit}:"
    found, told = (times_in_hundred(chance or 0.0) for chance in (question.family_power, question.no_difference_power))
    yield (
        f"    if it {worth_words(question.smallest_gain, unit, better)}: '{REAL_GAIN}' {found};"
        f" if it gives nothing: '{NO_DIFFERENCE}' {told}"
    )
    yield (
        f"    were it the day's only question, this plan would find {question.detectable_gain:.2g} {unit} 8 times in 10"
        f" (SE {question.se:.2g} {unit})"
    )


def outlook_lines(plan: Plan, unit: str) -> list[str]:
    """What is settled by the hours at which the day might have to stop, and with an engine that wanders."""
    if not plan.if_cut:
        return []
    *early, last = plan.if_cut
    of = f"of {several(len(plan.questions), 'question')} settled"
    whole = f"{last.settled:.1f} {of} when it is done at {last.clock}"
    stops = ", ".join(f"{cut.settled:.1f} by {cut.clock}" for cut in early)
    lines = [f"If you must stop early: {stops}; {whole}." if early else f"{whole}."]
    if plan.if_it_wanders is not None:
        wander = two_figures(plan.if_it_wanders.wander_sd, unit)
        lines.append(f"If the engine wanders by {wander}, which nobody stated: {plan.if_it_wanders.settled:.1f} {of}.")
        lines += _false_lines(plan.if_it_wanders, unit)
    return lines


def _false_lines(wandering: Wandering, unit: str) -> list[str]:
    """How many days give a false verdict then, where nothing works."""
    shares = [
        f"{100 * one.share:.0f} of 100 with {two_figures(one.wander_sd, unit)}" for one in wandering.false_verdicts
    ]
    if not shares:
        return []
    days = wandering.false_verdicts[0].days
    return [
        f"Days with any false verdict where nothing works: {listed(shares)} of wander ({days} simulated days each)."
    ]


def in_vain_text(what: str, in_vain: Sequence[float] | None, *, wished: bool = False) -> str:
    """That no plan of a longer day was found, as what it is: a search that found none.

    Parameters
    ----------
    what : str
        Such a plan would do, as "answers it".
    in_vain : (int, float), optional
        How many were tried, of a day of up to how many hours; a plan of an earlier version doesn't say.
    wished : bool
        Whether they kept wishes.
    """
    tried, hours = in_vain or (0, None)
    within = "of a day two days longer" if hours is None else f"up to a day of {hours:.0f} hours"
    which = f"none of the {tried:g} block plans" if tried > 1 else "no block plan"
    return f"{which} tried{' with your wishes' if wished else ''}, {within}, {what}"


def drop_text(drop: Drop | None, *, wished: bool) -> str:
    """Why a question was left out."""
    if drop is None:
        return ""
    if drop.no_interval:
        return f"{'With your wishes it' if wished else 'It'} would be fitted too seldom to get an interval"
    if drop.cost is not None and drop.cost < SEEN:
        return "Asking it too would settle no more (best order found)"
    if drop.cost is not None:
        return f"Asking it too would settle {drop.cost:.2f} questions fewer (best order found)"
    if drop.minutes_missing is None:
        return capital(in_vain_text("answers it", drop.in_vain, wished=wished))
    if drop.minutes_missing >= 1:
        return f"By itself it would need {duration(drop.minutes_missing)} more than the day has"
    return f"There is no time for it beside the others{', with your wishes' if wished else ''}"


def _study_lines(plan: Plan, unit: str) -> list[Part]:
    if plan.study is not None:
        shown_in = unit if plan.day.noise.pull_sd else "pull SDs"
        return worth_lines(plan.study, plan.runs[-1].install, shown_in)
    return []


def _compared_lines(plan: Plan, unit: str, width: int) -> list[Part]:
    if not plan.compared:
        return []
    rows = [("this plan", f"{plan.expected_settled:.2f}")]
    if plan.one_at_a_time_settled is not None and plan.mixed:
        rows.append(("never two changes at once", f"{plan.one_at_a_time_settled:.2f}"))
    rows += [(name, f"{practice.expected_settled:.2f}") for name, practice in plan.compared.items()]
    return [
        filled(
            f"Questions settled of {len(plan.questions)} on the same clock (half for each gain worth having that is"
            " found, half for each change worth nothing that is told to be so)",
            width,
        ),
        grid(("", "settled"), rows, right=(1,), wraps=(0,)),
        *as_well_lines(plan),
        *_mixing_lines(plan, unit),
    ]


def as_well_lines(plan: Plan) -> list[str]:
    """That plain sets in turn do as well, where they do: nobody should work to a plan for nothing."""
    return [
        f"  Plain sets of {practice.sets_of} in turn, baseline and changes back and forth, do as well."
        for practice in plan.compared.values()
        if practice.sets_of is not None and practice.expected_settled >= plan.expected_settled - SEEN
    ]


def _mixing_lines(plan: Plan, unit: str) -> list[str]:
    if not plan.mixed:
        return []
    text = "  Two changes are on together at times, so their gains are taken to add up."
    if plan.break_even_interplay is not None:
        text += (
            f" If two of them help or hinder each other by more than {plan.break_even_interplay:.2g}"
            f" {unit}, test them one at a time (alone = true in day.toml)"
        )
    return [text]


def _order_lines(plan: Plan) -> list[str]:
    """Whether the order was drawn, and what a randomisation test can reach."""
    if not plan.questions or ("drawn_from" not in plan.made and "not_randomised" not in plan.made):
        return []
    why = plan.made.get("not_randomised")
    if why:
        return [f"No randomisation test: {why}"]
    reach = [
        f"{row['factor']} {row['level']} p {row['p']:.2g}"
        for row in plan.made["drawn_from"]["smallest_p"]
        if row["p"] is not None and row["p"] <= NOTABLE
    ]
    can = (
        f"; smallest p that a randomisation test can reach: {', '.join(reach)}"
        if reach
        else "; too few orders are as good for a randomisation test"
    )
    return [f"The order was drawn at random{can}"]


def _caution_lines(plan: Plan) -> list[str]:
    return [f"Caution: {caution}" for caution in plan.cautions]


def perhaps_planned(file: str, why: str) -> str:
    """Of a plan on its way to a disk that failed in such a way that nobody can tell."""
    return (
        f"NOT SURE whether the plan is logged: {file} can't be written ({why}); 'doe next' shows the plan that holds,"
        " do not plan again before you have looked"
    )
