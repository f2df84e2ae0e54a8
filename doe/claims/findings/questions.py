"""What to ask the publisher: the questions whose answers would move the reading of a claim most."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from doe.claims.evidence.belief import Doubts
from doe.claims.findings.comparison import confounded_with
from doe.claims.findings.selection_faults import unused_returns
from doe.claims.reading.schema import Claim, ClaimsFile
from doe.words.claims import question_words as ask
from doe.words.faults import Fault
from doe.words.phrases import listed

LEAST = 0.02  # a smaller move of the chance that a gain is real is not worth a letter
# How far an answer may move the chance that a gain is real, where no number says it; engineering choice.
_DECIDES, _FIGURE, _AIR_OVER_WEEKS, _AIR, _WARMTH = 1.0, 0.3, 0.5, 0.05, 0.1


@dataclass(frozen=True, slots=True)
class Question:
    """One question, and how far its answer may move the chance that the gain is real."""

    moves: float
    words: Callable[[str], str]  #: the sentence, from what it is about
    about: tuple[str, ...]  #: steps in quotes

    @property
    def text(self) -> str:
        """The sentence."""
        return self.words(listed(self.about))


def questions_of(file: ClaimsFile, claim: Claim, faults: Collection[Fault], doubts: Doubts) -> Iterator[Question]:
    """Every question of one claim that is worth a letter."""
    for one in _all_of(file, claim, {fault.code for fault in faults}, doubts):
        if one.moves >= LEAST:
            yield one


def _all_of(file: ClaimsFile, claim: Claim, codes: set[str], doubts: Doubts) -> Iterator[Question]:
    steps = tuple(f"'{step.name}'" for step in file.used(claim))
    if "torque-power-mismatch" in codes:
        yield Question(_DECIDES, ask.units, steps)
    if "no-numbers" in codes:
        yield Question(_DECIDES, ask.readings, steps)
    if "different-engine" in codes:
        yield Question(_DECIDES, ask.engines, steps)
    if "confounded" in codes:
        yield Question(_DECIDES, ask.alone, tuple(dict.fromkeys([*claim.about, *confounded_with(file, claim)])))
    if codes & {"mixed-corrections", "correction-unknown", "correction-unknown-over-weeks"}:
        over_weeks = _AIR_OVER_WEEKS if "correction-unknown-over-weeks" in codes else _AIR
        yield Question(_DECIDES if "mixed-corrections" in codes else over_weeks, ask.corrections, steps)
    if codes & {"difference-wrong", "sum-wrong", "percent-wrong"}:
        yield Question(_FIGURE, ask.which_figure, (f"'{claim.name}'",))
    picked = codes & {"pulls-unknown", "selection-unknown", "best-shown", "last-shown"}
    unseen = tuple(f"'{step.name}'" for step in file.used(claim) if not step.singles)
    if unseen:
        yield Question(max(doubts.scatter, doubts.pulls if picked else 0.0), ask.single_pulls, unseen)
    if "no-return" in codes and not unused_returns(file, claim):
        yield Question(doubts.drift, ask.back_again, (f"'{file.step[file.from_places(claim)[0]].name}'",))
    if "different-day" in codes:
        yield Question(doubts.day, ask.between_days, steps)
    if codes & {"temperature-differs", "temperatures-not-stated"}:
        yield Question(_WARMTH if "temperature-differs" in codes else LEAST, ask.temperatures, steps)


def most_telling(asked: Collection[Question], most: int = 3) -> tuple[str, ...]:
    """The few that move most, each kind once, of all steps that it is about."""
    kinds: dict[Callable[[str], str], Question] = {}
    for one in asked:
        same = kinds.get(one.words, one)
        about = tuple(dict.fromkeys((*same.about, *one.about)))
        kinds[one.words] = Question(max(one.moves, same.moves), one.words, about)
    return tuple(one.text for one in sorted(kinds.values(), key=lambda one: -one.moves)[:most])
