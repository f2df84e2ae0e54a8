"""The ledger of risk in words: which verdict it is and what it costs, what was altered after one, what isn't kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from doe.words.day.ending_words import next_verdicts
from doe.words.notes import Note
from doe.words.numbers import confidence_text, duration, several
from doe.words.phrases import listed, listed_first, ordinal

LITTLE_LEFT = 0.005  # of the risk for the end: a look that leaves less is advised against
_NAMED = 5  # pulls that are named
_TINY = 1e-5  # a risk of which nobody needs the figures


class Alteration(Protocol):
    """What was altered after a verdict."""

    @property
    def voided(self) -> Sequence[int]: ...
    @property
    def gone(self) -> Sequence[int]: ...
    @property
    def counted(self) -> Sequence[int]: ...
    @property
    def mended(self) -> Sequence[int]: ...
    @property
    def asked(self) -> bool: ...


def share(risk: float) -> str:
    """A risk in percent, to three figures: "1.25 %"; a tiny one has no figures."""
    return f"{100 * risk:.3g} %" if risk >= _TINY or risk == 0 else f"less than {100 * _TINY:g} %"


def later_verdict(number: int, risk: float) -> str:
    """Which verdict on its question a line is, where it isn't the first."""
    return f"the {ordinal(number)} verdict on this question: its bracket is a {confidence_text(risk, 4)} % one"


def halves(questions: Sequence[tuple[str, int, float, float]]) -> str:
    """Before a verdict that is not the first.

    Parameters
    ----------
    questions : sequence of (name, number, risk, risk of the next)
    """
    same = {(number, risk, after): None for _, number, risk, after in questions}
    parts = []
    for number, risk, after in same:
        names = [name for name, *rest in questions if tuple(rest) == (number, risk, after)]
        parts.append(
            f"This is the {ordinal(number)} verdict on {listed(names)}: it has {share(risk)} of risk in place of the"
            f" first one's, and leaves {share(after)} to the next."
        )
    return " ".join(parts)


def given_up(
    made: int, left: int, minutes: float, questions: Sequence[str], due: Sequence[tuple[str, int, float]]
) -> str:
    """Before a day is ended with much of its plan open.

    Parameters
    ----------
    made, left : int
        Pulls that count: made under any plan, or none, and still to come by the one that is followed.
    minutes : float
        From the last pull to the end of the plan.
    questions : sequence of str
        Those that have planned pulls left.
    due : sequence of (name, number, risk)
        The verdict of each question that comes after this one.
    """
    about = f", of {listed(questions)}" if questions else ", of the baseline"
    return (
        f"This ends the day: {several(made, 'pull')} that count{'s' * (made == 1)} made; the {left} still to come"
        f" {'is' if left == 1 else 'are'} given up, {duration(minutes)} of work{about}."
        f" 'doe judge --reopen' goes on; then {', and '.join(next_verdicts(due))}."
    )


def unmade(days: Sequence[tuple[str, str]]) -> str:
    """Before a verdict that is final only since the hours of days without a pull, by folder and date, have passed."""
    names = listed([f"{folder} ({date})" for folder, date in days])
    whose = "its finish has" if len(days) == 1 else "their finishes have"
    return (
        f"No pull of {names} counts, and {whose} passed, so this verdict would be the last word and spend all the risk"
        " that is left: to make the day after all, put the hours of [day] in its day.toml right first."
    )


def look_price(spends: float, whole: float, left: float, judge: str) -> str:
    """What an early look would cost, before it is taken; `judge` is the line that judges the day."""
    spent = f"{share(spends)} of risk, of {share(whole)} in all"
    if left < LITTLE_LEFT:
        return (
            f"'{judge} --look' would spend {spent}, and leave {share(left)} for the end, which is too little to settle"
            f" much: better wait for the end; '{judge} --final' ends the day"
        )
    return (
        f"'{judge} --look' shows the gains so far, for {spent}, and leaves {share(left)} for the end;"
        f" '{judge} --final' ends the day"
    )


def little_left(left: float) -> str:
    """Before an early look that takes nearly all."""
    return (
        f"This look leaves {share(left)} of the risk for the end, too little to settle much: better wait for the end."
    )


def planned_with(missing: Sequence[tuple[str, str]]) -> str:
    """The days, by folder and date, that were planned together with these and share their risk."""
    names = listed([f"{folder} ({date})" for folder, date in missing])
    return (
        f"it shares one risk with {names}, planned together with it: the gains are shown when all are done and judged"
        " together"
    )


def look_too_early(*, taken: bool) -> str:
    """A look that would have nothing to spend; `taken`: somebody asked for it."""
    why = "so little is new that a look would have no risk to spend yet; --final ends the day"
    return f"no look was taken: {why}" if taken else why


NO_CHANGE_YET = "no change has a counted pull yet; --final ends the day"
DECLINED = "nothing was shown, and nothing spent"
TABLE = (
    "A table keeps no ledger of its verdicts: judged again whenever rows are added, each time has the whole risk anew."
)
LIBRARY = "Not in the ledger of risk: `doe judge` and `doe report` write it, the library doesn't."


def other_metric_unkept(own: str) -> str:
    """Of a metric that the day is not about."""
    return f"Not in the ledger of risk, which holds the verdicts on {own}."


def unwritable(why: str) -> str:
    """Of a folder that can't be written in; `why` names it."""
    return f"NOT IN THE LEDGER of risk: {why}."


def perhaps_written(why: str) -> str:
    """Of a folder whose disk failed in such a way that nobody can tell; `why` names it."""
    return f"NOT SURE whether it is in the ledger of risk: {why}. The next 'doe judge' counts it where it is."


def past_the_ledger(command: str) -> Note:
    """A table that is the log of a day folder."""
    text = f"this table is the log of a day: judged here, it goes past the day's plan and its ledger of risk; {command}"
    return Note("past-the-ledger", "pulls.csv", f"{text} keeps to both", "serious")


def altered(
    day: str, what: Alteration, before: Mapping[str, str], after: Mapping[str, str], *, whole: bool = True
) -> Note:
    """What was altered after a verdict was shown, and what became of the verdicts.

    Parameters
    ----------
    day : str
        Named in a campaign, else "".
    what : Alteration
    before, after : mapping of question to str
        The verdicts as they were shown.
    whole : bool
        With gains and brackets; else the words alone, which is all that an older ledger has.
    """
    same = "they came out the same" if whole else "their words came out the same, the gains of then are not kept"
    parts = [
        *_pulls(what.voided, "voided"),
        *_pulls(what.gone, "taken out of the log"),
        *_pulls(what.counted, "counted after all"),
        *_pulls(what.mended, "mended"),
        *(["day.toml ([noise], [analysis], a question) or the method was changed"] if what.asked else []),
    ]
    moved = {name: (old, after[name]) for name, old in before.items() if after.get(name, old) != old}
    told = "; ".join(f"{name} {old}; after: {new}" for name, (old, new) in moved.items())
    what_was = listed(parts)
    text = f"before {what_was}: {told}" if moved else f"{what_was} after the verdicts were shown; {same}"
    return Note("altered-after-verdict", day, f"{day}: {text}" if day else text, "serious")


def reopening_missing(day: str, closing: int, later: int) -> Note:
    """A journal that was lost, and with it that a closed day was opened again; the looks are those of looks.csv."""
    text = (
        f"{day}: the journal has no reopening after look {closing}, which closed the day, but looks.csv has the later"
        f" look {later}: the day is taken as opened again in between, and its later verdicts count"
    )
    return Note("reopening-missing", day, text, "serious")


def metric_changed(before: str, now: str, told: Mapping[str, str]) -> Note:
    """Verdicts in another metric, which day.toml was about before."""
    verdicts = "; ".join(f"{name} {verdict}" for name, verdict in told.items())
    text = f"day.toml was about {before} before it was made to be about {now}; the verdicts then: {verdicts}"
    return Note("metric-changed", before, text, "serious")


def _pulls(numbers: Sequence[int], what: str) -> list[str]:
    if not numbers:
        return []
    if len(numbers) == 1:
        return [f"pull {numbers[0]} was {what}"]
    return [f"pulls {listed_first([str(number) for number in numbers], _NAMED)} were {what}"]
