"""A judgement in ten seconds: what to do in one sentence, a line a change, and what would settle the open ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from doe.words.day.pull_words import quoted
from doe.words.judgements.gain_notes import FOR_WANDER
from doe.words.judgements.judge_notes import NOT_NAMED, OTHER_METRIC
from doe.words.judgements.judged import Gain, Judgement
from doe.words.judgements.judgement_words import (
    FUTILE,
    by_inner,
    decimals,
    holding,
    less_is_better,
    little_hope,
    look_words,
    more_words,
    no_gain,
    noise_line,
    pulls_words,
    shown_interval,
    too_small,
)
from doe.words.judgements.second_opinion_words import opinion_text
from doe.words.notes import briefly, pressing, texts
from doe.words.numbers import several, signed, with_unit
from doe.words.phrases import capital, listed, sentence
from doe.words.screen import Cell, Grid, Part, Screen, Tone, grid
from doe.words.verdicts import (
    NO_DIFFERENCE,
    NOT_SETTLED,
    REAL_GAIN,
    REAL_LOSS,
    Verdict,
    may_be_small,
    size_beside,
)

_NAMED = 4  # changes of a kind that the sentence names; all of them stand in the table
_LEAVE = "or leave it"
HERE = "."  # a day folder that the tester is in
TONES: Mapping[Verdict, Tone] = {REAL_GAIN: "good", REAL_LOSS: "bad", NO_DIFFERENCE: "plain", NOT_SETTLED: "open"}


def judge_screen(j: Judgement) -> Screen:
    """What a judgement says first.

    Parameters
    ----------
    j : Judgement

    Returns
    -------
    Screen
        Its first sentence names every change under the verdict that it has.
    """
    if j.withheld:
        told = [capital(note.text.removeprefix(f"{note.where}: ")) for note in pressing(j.notes)]
        return Screen(_go_on(j), ("\n".join([*told, pulls_words(j), noise_line(j)]),))
    warned = [f"Warning: {text.rstrip('.')}." for text in briefly(pressing(j.notes))]
    foot = ["; ".join([pulls_words(j, baseline=False), *holding(j)]) + "."]
    read = [sentence("; ".join(j.read_as))] if j.read_as else []
    blocks: list[Part] = [_table(j)] if j.changes else []
    blocks += [
        "\n".join(
            [
                *_open_lines(j),
                *by_inner(j),
                *look_words(j),
                *less_is_better(j),
                *warned,
                *foot,
                *read,
                *([j.unkept] if j.unkept else []),
            ]
        )
    ]
    if j.second_opinion is not None:
        blocks.append("\n".join(opinion_text(j.changes, j.second_opinion, decimals(j), j.gain_unit)).strip("\n"))
    return Screen(what_to_do(j), tuple(blocks))


def _go_on(j: Judgement) -> str:
    """While the plan is unfinished and nobody asked for a look."""
    code, progress = next(((note.code, note.where) for note in j.notes if note.severity == "fatal"), ("", ""))
    if code == NOT_NAMED:
        return f"No day has hours to come: {progress}."
    how = f"; '{_command('next', j)}' says what comes" if j.next_day else ""
    return f"Go on pulling: {progress}{how}."


def what_to_do(j: Judgement) -> str:
    """One sentence over all changes, on the screen and at the head of the page."""
    settled = [gain for gain in j.changes if gain.gain is not None]
    kinds = {verdict: [gain for gain in settled if gain.verdict == verdict] for verdict in TONES}
    clauses = []
    small = [gain for gain in kinds[REAL_GAIN] if _may_be_small(gain, j)]
    if sure := [gain for gain in kinds[REAL_GAIN] if gain not in small]:
        clauses.append(f"keep {_names(sure, 'or')}")
    if small:
        clauses.append(f"keep {_names(small, 'or')} if less than {_worth(small, j)} would pay")
    if kinds[REAL_LOSS]:
        clauses.append(f"don't keep {_names(kinds[REAL_LOSS], 'or')}")
    if kinds[NO_DIFFERENCE]:
        clauses.append(f"{NO_DIFFERENCE}: {_names(kinds[NO_DIFFERENCE])}")
    if kinds[NOT_SETTLED]:
        clauses.append(f"{NOT_SETTLED}: {_names(kinds[NOT_SETTLED])}{_in_short(kinds[NOT_SETTLED], j)}")
    nothing: dict[str, list[Gain]] = {}
    for gain in j.changes:
        if gain.gain is None:
            nothing.setdefault(no_gain(gain), []).append(gain)
    clauses += [f"{why}: {_names(gains)}" for why, gains in nothing.items()]
    doubted = {name for note in j.notes for name in note.doubts}
    if doubtful := [gain for gain in settled if _name(gain) in doubted and gain.verdict != NOT_SETTLED]:
        clauses.append(f"a warning puts {_names(doubtful)} in doubt")
    said = "; ".join(clauses) or "no change was tested"
    said = f"so far: {said}" if j.final is False else said
    if any(note.code == OTHER_METRIC for note in j.notes):
        said = f"by {j.metric}, which decides nothing: {said}"
    return sentence(said)


def _may_be_small(gain: Gain, j: Judgement) -> bool:
    """Whether a real gain may be less than what was worth having."""
    low, high, smallest = gain.family_low, gain.family_high, gain.smallest_gain
    if low is None or high is None or smallest is None:
        return False
    return may_be_small(gain.verdict, low, high, smallest, j.better)


def _worth(gains: Sequence[Gain], j: Judgement) -> str:
    """What was worth having of some changes: a number where it is the same of all."""
    sizes = {gain.smallest_gain for gain in gains}
    return with_unit(f"{sizes.pop():g}", j.gain_unit) if len(sizes) == 1 else "the gain worth having"


def _names(gains: Sequence[Gain], between: str = "and") -> str:
    """The changes in the sentence; of one factor only one can be on: ``oil A or oil B``."""
    named: dict[str, list[str]] = {}
    for gain in gains[:_NAMED]:
        name = f"{gain.factor} {gain.level}"
        named.setdefault(gain.factor if between == "or" else name, []).append(name)
    groups = [f" {between} ".join(names) for names in named.values()]
    more = len(gains) - _NAMED
    return listed([*groups, f"{more} more"] if more > 0 else groups)


def _in_short(gains: Sequence[Gain], j: Judgement) -> str:
    """What the only open question takes."""
    if len(gains) > 1 or j.final is False:
        return ""
    pulls = gains[0].more_pulls
    return f" ({several(pulls, 'more pull')}, {_LEAVE})" if pulls else ""


def _table(j: Judgement) -> Grid:
    unit = f" {j.gain_unit}" if j.gain_unit else ""
    rows = [_row(gain, j, unit) for gain in j.changes]
    asked = any(gain.smallest_gain for gain in j.changes)
    head = ["change", "gain", "between", "worth having", "verdict"]
    if not asked:
        head, rows = [*head[:3], head[4]], [[*row[:3], row[4]] for row in rows]
    return grid(head, rows, right=(1,))


def _row(gain: Gain, j: Judgement, unit: str) -> list[str | Cell]:
    name, worth = f"{gain.factor} {gain.level}", f"{gain.smallest_gain:g}{unit}" if gain.smallest_gain else "not said"
    if gain.gain is None:
        return [name, "-", "-", worth, Cell(no_gain(gain), "open")]
    between = f"({shown_interval(gain, j)})" if shown_interval(gain, j) else "no interval"
    told = Cell(_verdict(gain, j), TONES[gain.verdict])
    return [name, signed(gain.gain, decimals(j), j.gain_unit), between, worth, told]


def _verdict(gain: Gain, j: Judgement) -> str:
    """The word with what its size leaves in doubt."""
    low, high, smallest = gain.family_low, gain.family_high, gain.smallest_gain
    if low is None or high is None or smallest is None:
        return gain.verdict
    return size_beside(gain.verdict, low, high, smallest, j.gain_unit, j.better)


def as_shown(gain: Gain, j: Judgement) -> str:
    """A verdict as it is shown, in a line: the word with its clause, the gain and its bracket."""
    if gain.gain is None:
        return f"{gain.verdict} ({no_gain(gain)})"
    between = f" ({shown_interval(gain, j)})" if shown_interval(gain, j) else ", no interval"
    return f"{_verdict(gain, j)}, {signed(gain.gain, decimals(j), j.gain_unit)}{between}"


def _open_lines(j: Judgement) -> list[str]:
    """What keeps the open questions open, and what to do about them: a command, or nothing; the same is said once."""
    untold: dict[str, list[str]] = {}
    kinds: dict[str, list[Gain]] = {"hopeless": [], "as yet": [], "more": [], "never": []}
    for gain in j.changes:
        if (why := _untold(gain)) is not None:
            untold.setdefault(why, []).append(_name(gain))
        elif gain.verdict == NOT_SETTLED:
            kinds[_kind(gain, j)].append(gain)
    further = [f"{listed(names)}: {why}" for why, names in untold.items()]
    further += [_more_line(kinds["more"])] if kinds["more"] else []
    lines = [_hopeless_line(kinds["hopeless"], j)] if kinds["hopeless"] else []
    lines += [f"{_all_names(kinds['as yet'])}: open as yet: {_go_on_command(j)}."] if kinds["as yet"] else []
    lines += [f"{_all_names(kinds['never'])}: {too_small()}: leave it."] if kinds["never"] else []
    if further:
        # what settles them is typed once, behind the last of them
        joint = ":" if kinds["more"] else ";"
        lines += [*(f"{line}." for line in further[:-1]), f"{further[-1]}{joint} {_further(j)}."]
    return lines


def _name(gain: Gain) -> str:
    return f"{gain.factor} {gain.level}"


def _all_names(gains: Sequence[Gain]) -> str:
    return listed([_name(gain) for gain in gains])


def _untold(gain: Gain) -> str | None:
    """Why a change can't be told, or what it takes beside more pulls; None where neither is the case."""
    why = "; ".join(text.rstrip(".") for text in texts(gain.notes))
    if gain.gain is None:
        return why or no_gain(gain)
    if gain.verdict != NOT_SETTLED:
        return None
    if gain.route == "none" or gain.family_low is None:
        return f"no interval: {why}" if why else "no interval"
    # the pulls that back-to-back pairs would take are no remedy for an engine that wanders
    wander = next((note.brief for note in gain.notes if note.code == FOR_WANDER), None)
    return wander or (None if gain.more_pulls or gain.smallest_gain else "more pulls may settle it")


def _kind(gain: Gain, j: Judgement) -> Literal["hopeless", "as yet", "more", "never"]:
    """What can be done about an open question that has an interval."""
    if j.next_day and gain.conditional_power is not None and gain.conditional_power < FUTILE:
        return "hopeless"
    if j.final is False:
        return "as yet"
    return "more" if gain.more_pulls else "never"


def _hopeless_line(gains: Sequence[Gain], j: Judgement) -> str:
    """Open questions that the rest of the plan will hardly settle."""
    drops = " ".join(f"--drop {quoted(f'{gain.factor}={gain.level}')}" for gain in gains)
    said = "; ".join(f"{_name(gain)}: {little_hope(gain, j)}" for gain in gains)
    time = "its time" if len(gains) == 1 else "their time"
    return f"{said}: '{_command('plan', j)} --from-now {drops}' gives {time} to the others."


def _more_line(gains: Sequence[Gain]) -> str:
    """What would settle the open questions that more pulls settle; in full of the first."""
    same: dict[str, list[Gain]] = {}
    for gain in gains:
        same.setdefault(more_words(gain), []).append(gain)
    full, *others = same
    said = [f"{_each(same[full])}: {full}"]
    return "; ".join([*said, *(f"{_each(same[one])}: {more_words(same[one][0], brief=True)}" for one in others)])


def _each(gains: Sequence[Gain]) -> str:
    return f"{_all_names(gains)}{', each' if len(gains) > 1 else ''}"


def _further(j: Judgement) -> str:
    """How more pulls come about."""
    if not j.folders:
        return f"add the rows and ask again, {_LEAVE}"
    if j.final is False:
        return _go_on_command(j)
    return f"'doe plan {j.another} --after {quoted(j.folders[-1])}', {_LEAVE}"


def _go_on_command(j: Judgement) -> str:
    if j.together:
        return f"'{j.together}' judges all of them together"
    return f"go on with '{_command('next', j)}'" if j.next_day else "go on"


def _command(name: str, j: Judgement) -> str:
    """A line to type about the day that has pulls to make next; the folder is left out where it is this one."""
    where = "" if j.next_day in ("", HERE) else f" {quoted(j.next_day)}"
    return f"doe {name}{where}"
