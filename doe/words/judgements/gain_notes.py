"""What is noted of one change: why it has no gain or no interval, what would give it one, and what keeps it open.

`where` is the change; the sentences stand beside its line, so those that are read alone name it.
"""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.notes import Note

_SEEN = 0.05  # pull SDs: what is written with one figure as something
_MANY = 10.0  # pull SDs
FOR_WANDER = "open-for-wander"
NO_PULL = "no-pull"  # not tested at all, where the others can't be told


def no_pull(change: str) -> Note:
    """A change that no counted pull had on."""
    return Note(NO_PULL, change, "no counted pull", "fatal")


def refit_scatter_unknown(change: str) -> Note:
    """Fittings that were compared with nothing."""
    text = "re-fitting noise can't be known from this day: a noise study, or a return"
    return Note("refit-scatter-unknown", change, text, "fatal")


def nothing_repeated(change: str) -> Note:
    """Pulls that nothing is left of."""
    text = "nothing was repeated, so the scatter can't be known: one more pull of each would show it"
    return Note("nothing-repeated", change, text, "fatal")


def rounded_away(change: str) -> Note:
    """Readings without scatter."""
    text = "the readings repeat to the last digit, and rounding hides the scatter: log more digits"
    return Note("rounded-away", change, text, "fatal")


def refit_scatter_zero(change: str) -> Note:
    """The estimate of the install scatter is on its boundary."""
    text = (
        "re-fitting noise estimated as 0: where it really is large, brackets from such a day are too short "
        "(no method cures this without a noise study)"
    )
    return Note("refit-scatter-zero", change, text, "minor")


def open_for_wander(change: str, pull_sds: float) -> Note:
    """Not settled, and only the insurance against wander keeps it so; `pull_sds` is what the insured fit makes of it.

    What it would be without stays unsaid: nobody should be led to vouch for a calm engine after seeing the numbers.
    """
    todo = "more and shorter sets would probably settle it"
    text = f"open because this day may wander, {wander_size(pull_sds)}: {todo}"
    return Note(FOR_WANDER, change, text, "minor", brief=f"open because this day may wander: {todo}")


def wander_size(pull_sds: float) -> str:
    """By how much a day wanders; where next to nothing is left of the pulls' own scatter the ratio says nothing."""
    if pull_sds < _SEEN:
        return "by an amount too small to be seen"
    return f"by about {pull_sds:.1f} pull SDs" if pull_sds <= _MANY else f"by more than {_MANY:g} pull SDs"


def always_on(change: str) -> Note:
    """On in every pull."""
    text = f"'{change}' was on in every counted pull: one pull of the baseline would show its gain."
    return Note("always-on", change, text, "fatal")


def always_together(change: str, other: str, factor: str) -> Note:
    """Two changes that came and went together; `factor` is what one pull alone would need."""
    text = f"'{change}' and '{other}' were always on together: one pull with the {factor} alone would tell them apart."
    return Note("always-together", change, text, "fatal")


def no_baseline_pull(change: str) -> Note:
    """No pull of the untouched engine."""
    text = f"'{change}': no counted pull of the baseline, with nothing else changed: one would tell them apart."
    return Note("no-baseline-pull", change, text, "fatal")


def never_within_a_day(change: str) -> Note:
    """A change that came and went with the days."""
    text = (
        f"'{change}' was never changed within a day, so its gain can't be told from the days' own level: "
        "one pull with it and one without on the same day would."
    )
    return Note("never-within-a-day", change, text, "fatal")


def too_few_pulls(change: str, company: Sequence[str], factor: str) -> Note:
    """A change that other things together make up."""
    text = (
        f"'{change}' can't be told from {_joined(company)} on so few pulls: "
        f"one more pull of the baseline after it, and one with the {factor} alone, would help."
    )
    return Note("too-few-pulls", change, text, "fatal")


def never_switched_alone(change: str, company: Sequence[str], factor: str) -> Note:
    """A quick change that came only with work whose scatter nobody knows."""
    pair = "the two" if len(company) == 1 else "them"
    text = (
        f"{change} was only ever changed together with {_joined(company)}: nobody can tell {pair} apart; "
        f"one switch of the {factor} with nothing re-fitted would"
    )
    return Note("never-switched-alone", change, text, "fatal")


def refit_of(factor: str) -> str:
    """A re-fit, in the company of a change."""
    return f"a re-fit of the {factor}"


def others_of(factor: str) -> str:
    """The other levels of a factor, in the company of one of them."""
    return f"the other {factor}s"


DAYS, DRIFT = "the days' own level", "the drift"


def _joined(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names) or "the other changes"
