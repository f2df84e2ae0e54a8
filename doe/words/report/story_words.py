"""What happened on a day, in sentences, as the report tells it in order."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.numbers import several
from doe.words.phrases import listed


def planned(counted: int) -> str:
    """The first plan."""
    return f"Planned: {_pulls(counted)}."


def drawn(seed: object, not_drawn: str | None) -> str:
    """Whether the order of a plan was drawn."""
    if not_drawn:
        return f"The order was not drawn at random: {not_drawn}."
    if seed is None:
        return "Nothing shows how the order was drawn: plan.json is missing."
    return f"The order was drawn at random with seed {seed}."


def replanned(counted: int, taken: str | None, *, as_drawn: bool) -> str:
    """A plan for the rest of the day."""
    how = f" ({taken})" if taken else ""
    order = "in the order that was drawn" if as_drawn else "in an order that was not drawn"
    return f"The rest of the day was planned anew{how}: {_pulls(counted)} from here, {order}."


def taken_back(counted: int) -> str:
    """An earlier plan, followed again."""
    return f"The last plan was taken back, and the one before is followed again: {_pulls(counted)}."


def edited() -> str:
    """A plan that somebody wrote by hand."""
    return "The plan was edited by hand, so from here its order is not the one that was drawn."


def left_out(names: Sequence[str]) -> str:
    """Questions that a plan does not ask."""
    return f"Left out by this plan, so that these hours settle more: {listed(names)}."


def joined(names: Sequence[str]) -> str:
    """Questions that joined during the day."""
    return f"Added from here on, sealed with the rest before its first pull: {listed(names)}."


def dropped(names: Sequence[str]) -> str:
    """Questions that no longer had a place."""
    return f"Dropped from here on: {listed(names)}."


def no_more_pulls(names: Sequence[str]) -> str:
    """Questions whose parts the rest of the day fits no more."""
    return f"No pull from here on is planned with {listed(names)}; what has pulls already is judged by them."


def sheet_printed(name: str) -> str:
    """A run sheet was made."""
    return f"A run sheet was made ({name})."


def first_pull(number: int) -> str:
    """Where the pulls begin."""
    return f"First pull, number {number}."


def void(number: int, fitted: str, why: str | None) -> str:
    """A pull that does not count; `why` None where the reason is held back."""
    return f"Pull {number} ({fitted}) does not count{f': {why}' if why else ''}."


def looked(number: int, pulls: int, share: float, told: Sequence[str]) -> str:
    """Somebody looked at the gains early."""
    return (
        f"Early look {number} at the gains, after {_pulls(pulls)}; it spent {100 * share:.2g} % of risk{_told(told)}."
    )


def shown(pulls: int, told: Sequence[str], *, closes: bool) -> str:
    """Final verdicts were shown; with `closes` the day was ended for them."""
    ended = "The day was ended, and the verdicts" if closes else "The verdicts"
    return f"{ended} were shown, after {_pulls(pulls)}{_told(told)}."


def reopened() -> str:
    """A day that was ended goes on."""
    return "The day was opened again: what follows has a verdict of its own."


def fixed(what: str, *, undone: bool) -> str:
    """A stretch of pulls that was put right, as it was typed, or was taken back."""
    pulls, _, how = what.partition(" ")
    if undone:
        return "The last change of a stretch of pulls was taken back."
    one = pulls.isdecimal()
    return f"{'Pull' if one else 'Pulls'} {pulls} {'was' if one else 'were'} put right ({how})."


def _told(verdicts: Sequence[str]) -> str:
    return f": {'; '.join(verdicts)}" if verdicts else ""


def last_pull(number: int, late: float) -> str:
    """Where the pulls end; `late` minutes after the day's finish."""
    after = f", {several(round(late), 'minute')} after the day's finish" if late >= 1 else ""
    return f"Last pull, number {number}{after}."


def held_back(count: int) -> str:
    """The customer's copy names no reasons."""
    return f"{several(count, 'pull')} {'was' if count == 1 else 'were'} taken out; the reasons stand in the file copy."


def summary(made: int, asked: int, plans: int, extra: int) -> str:
    """How many of the pulls that a plan asked for were made."""
    if plans > 1:
        words = f"{_pulls(made)}, under {plans} plans, the later ones made during the day: {asked} were asked for."
    else:
        words = f"{made} of {asked} planned pulls {'was made and counts' if made == 1 else 'were made and count'}."
    return f"{words} {extra} more {'was' if extra == 1 else 'were'} in no plan." if extra else words


def _pulls(count: int) -> str:
    return f"{several(count, 'pull')} that {'counts' if count == 1 else 'count'}"
