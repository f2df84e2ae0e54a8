"""What is noted of a plan: each caution with its code, what it is about and its sentence."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.day.pull_words import quoted
from doe.words.notes import Note
from doe.words.numbers import confidence_text, several
from doe.words.phrases import listed, ordinal
from doe.words.verdicts import NO_DIFFERENCE


def pull_scatter_guessed(size: str) -> Note:
    """A pull SD without degrees of freedom."""
    text = (
        f"pull-to-pull scatter {size} is a guess: the verdicts will use the day's own scatter, so a promise made on a"
        " low guess won't hold; guess high, or make a noise study"
    )
    return Note("pull-scatter-guessed", "[noise] pull_sd", text, "serious")


def refit_scatter_unknown() -> Note:
    """No install SD for parts that are refitted."""
    text = (
        "nothing is known of what re-fitting a part adds (install_sd), so the promise takes it as nothing; write a"
        " guess, about half the pull-to-pull scatter is usual (common practice, no published source)"
    )
    return Note("refit-scatter-unknown", "[noise] install_sd", text, "serious")


def refit_scatter_guessed(size: str) -> Note:
    """An install SD without degrees of freedom."""
    text = (
        f"refit scatter {size} is a guess: parts that are refitted are judged by the scatter between this day's own"
        " fittings, which need repeating"
    )
    return Note("refit-scatter-guessed", "[noise] install_sd", text, "serious")


def refit_scatter_thin(df: float) -> Note:
    """An install SD from a short study."""
    text = f"refit scatter rests on {df:g} degrees of freedom only: a longer noise study pays"
    return Note("refit-scatter-thin", "[noise] install_df", text, "minor")


def wander_df_assumed(size: str, df: float) -> Note:
    """A wander SD that came without degrees of freedom."""
    text = f"wander {size} is taken on {df:g} degrees of freedom (assumed)"
    return Note("wander-df-assumed", "[noise] wander_sd", text, "minor")


def wander_planned_linear() -> Note:
    """A wander that was asked for without its size."""
    text = 'drift = "wander" needs wander_sd in [noise]; it is planned as linear'
    return Note("wander-without-sd", "[analysis] drift", text, "serious")


def no_interval(change: str) -> Note:
    """A change that is fitted for nothing."""
    return Note("no-interval", change, f"{change}: it is fitted, but this day gives it no interval", "serious")


def few_df(change: str, df: float) -> Note:
    """A change that is judged on little."""
    text = f"{change}: judged on {df:.1f} degrees of freedom only; its interval will be wide"
    return Note("few-df", change, text, "minor")


def later_verdict(changes: Sequence[str], number: int, risk: float) -> Note:
    """Changes on which there was a verdict before, or an early look; `risk` is what the next one has."""
    names = listed(changes)
    text = (
        f"{names}: planned for the {ordinal(number)} verdict on {'it' if len(changes) == 1 else 'them'}, a bracket of"
        f" {confidence_text(risk, 4)} %"
    )
    return Note("later-verdict", names, text, "minor")


def no_smallest_gain(change: str, stand_in: str) -> Note:
    """A change of which nobody said what would be worth having."""
    text = (
        f"{change}: no smallest_gain in day.toml, so '{NO_DIFFERENCE}' can't be said of it;"
        f" planned as if {stand_in} were worth having"
    )
    return Note("no-smallest-gain", change, text, "minor")


def search_stopped(orders: int) -> Note:
    """A search that was interrupted."""
    text = f"the search was stopped early: this is the best of {orders:,} orders; plan again for more"
    return Note("search-stopped", "", text, "serious")


def few_fittings(fittings: int) -> Note:
    """A short noise study."""
    text = f"only {fittings} fittings: what re-fitting adds will be known on few degrees of freedom; a longer day pays"
    return Note("few-fittings", "", text, "serious")


def judged_together(earlier: str) -> Note:
    """A day that goes on with an earlier one."""
    text = f"the promise is for both days judged together: doe judge {earlier} and this one"
    return Note("judged-together", earlier, text, "serious")


def planned_together(days: Sequence[str]) -> Note:
    """A day of several that share one risk."""
    text = (
        f"one of the days planned together, {listed(days)}: what it promises is what all of them show, judged when the"
        f" last is done: doe judge {' '.join(days)}"
    )
    return Note("planned-together", days[-1], text, "minor")


def no_pulls_yet(earlier: str) -> Note:
    """An earlier day that is a plan only."""
    text = f"{earlier} has no pulls yet: its plan is counted as if it had been made"
    return Note("no-pulls-yet", earlier, text, "serious")


def not_ended_in_baseline(earlier: str, parts: str) -> Note:
    """An earlier day that left parts on."""
    text = f"{earlier} does not end in the baseline: fit {parts} before this day begins"
    return Note("not-ended-in-baseline", earlier, text, "serious")


def must_stay_on(earlier: str, parts: str, part: str) -> Note:
    """Parts that the plan counts on over night."""
    text = (
        f"{parts} must stay on over night from {earlier}: if it is refitted before this day's first pull, log that"
        f" pull with --fresh {quoted(part)}"
    )
    return Note("must-stay-on", earlier, text, "serious")


WITH_OTHER_DAYS = "with-other-days"  # the screen of a plan shows it, too


def with_other_days(days: Sequence[tuple[str, int, int]]) -> Note:
    """Of the rest of a day that was planned together with others; each by name, with its pulls made and to come."""
    each = [f"{name} ({_made_and_to_come(made, to_come)})" for name, made, to_come in days]
    text = f"what it promises is what all days show when they are judged together, counted with {listed(each)}"
    return Note(WITH_OTHER_DAYS, "", text, "minor")


def _made_and_to_come(made: int, to_come: int) -> str:
    parts = [*([f"{several(made, 'pull')} made"] if made else []), *([f"{to_come} to come"] if to_come else [])]
    return ", ".join(parts) or "no pull, and its hours are over"


def days_not_counted(days: Sequence[str]) -> Note:
    """Days planned together with one that do not lie next door, or have a file that is wrong."""
    text = (
        f"{listed(days)}, planned together with this day, {'is' if len(days) == 1 else 'are'} not next door or can't be"
        " read ('doe check' says why): what the plan promises is without the pulls there; put that right, then plan the"
        " rest again"
    )
    return Note("days-not-counted", "", text, "serious")


def other_parts_there(days: Sequence[str]) -> Note:
    """Days planned together with one whose day.toml has a part more or less: the judge of all wants one set of them."""
    text = (
        f"day.toml of {listed(days)} has other parts than that of this day, and days are judged together with one set"
        " of parts: what joins one of them must join each, by 'doe plan' with --from-now --add there"
    )
    return Note("other-parts-there", "", text, "serious")


def other_day_replanned(days: Sequence[str], shows: str, anew: str) -> Note:
    """Of a plan, when another of the days planned together was planned anew after it.

    `shows`: the line that shows the newest figures of all days; `anew`: the one that plans this day for them.
    """
    text = (
        f"the rest of {listed(days)}, planned together with this day, was planned anew since: what this plan promises"
        f" of all days no longer holds; '{shows}' shows what does, and '{anew}' plans this day for it"
    )
    return Note("other-day-replanned", "", text, "serious")


def this_day_alone(earlier: str) -> Note:
    """Of the rest of a day that goes on with an earlier one whose files are out of reach."""
    text = (
        f"what it promises is what this day shows by itself: {earlier}, judged with it, is not next door or can't be"
        " read, and its pulls come on top; put that right, then plan the rest again"
    )
    return Note("this-day-alone", earlier, text, "serious")
