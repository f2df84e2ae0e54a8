"""What is noted of gain curves: pulls without a usable trace, ranges that are short, changes without a band."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.notes import Note
from doe.words.numbers import several
from doe.words.phrases import listed_short

NO_TRACE = "no trace was logged with it"
WITHHELD = "they are shown when the gains are"
_WHERE = "curves"


def disagrees(file: str, metric: str, by_trace: float | None, logged: float) -> str:
    """A trace that doesn't give the number that was logged with it."""
    found = "gives none" if by_trace is None else f"gives {by_trace:.6g}"
    return f"{metric} of {logged:.6g} was logged, {file} {found}: not the trace that was logged, or read otherwise"


def altered(file: str) -> str:
    """A trace whose bytes are others than those that were logged."""
    return f"{file} is not as it was when the pull was logged: it was altered, or another file lies in its place"


def several_sweeps(file: str, count: int) -> str:
    """A file that holds several pulls, and nothing to tell which is meant."""
    return f"{file} holds {count} sweeps, and no number tells which is this pull's"


def left_out(reasons: Sequence[tuple[str, str]], pulls: int) -> Note:
    """Counted pulls whose curves are not there; `reasons` has the pull and why, `pulls` how many counted."""
    every = listed_short([f"pull {name}: {why}" for name, why in reasons])
    text = f"the curves rest on {pulls - len(reasons)} of {several(pulls, 'counted pull')}; left out: {every}"
    return Note("curves-left-out", _WHERE, text, "serious")


def no_curves(why: str) -> Note:
    """Nothing to show."""
    return Note("no-curves", _WHERE, f"no gain curves: {why}", "serious")


def no_traces(pulls: int) -> Note:
    """No counted pull has a trace that can be used."""
    what = "the counted pull has no trace" if pulls == 1 else f"none of the {pulls} counted pulls has a trace"
    return no_curves(f"{what}; doe record --trace FILE logs a pull with its trace")


def no_common_range(low: float, high: float) -> Note:
    """Sweeps that hardly overlap."""
    span = f"only {low:,.0f} to {high:,.0f} rpm" if high > low else "no range"
    return no_curves(f"the pulls' sweeps have {span} in common")


def short_sweeps(names: Sequence[str], low: float, high: float) -> Note:
    """Pulls that cover less than the others: the curves end where theirs do."""
    pulls = f"{'pull' if len(names) == 1 else 'pulls'} {listed_short(names)}"
    text = f"the curves run from {low:,.0f} to {high:,.0f} rpm only, since {pulls} covered less than the others"
    return Note("curves-short", _WHERE, text, "minor")


def no_gain(change: str) -> Note:
    """A change whose gain these pulls don't determine."""
    return Note("no-curve", change, f"{change}: its gain can't be told from these pulls", "serious")


def no_band(change: str) -> Note:
    """A change whose gain at each rpm can be told, but not how sure it is."""
    text = f"{change}: no band, as the pulls with traces give its gain no interval; the curve alone shows nothing"
    return Note("no-band", change, text, "serious")


def widened(change: str, times: float) -> Note:
    """A band that was made wider along with the verdict's interval."""
    text = f"{change}: the band is made {times:.2g} times wider, as the verdict's interval is"
    return Note("band-widened", change, text, "minor")
