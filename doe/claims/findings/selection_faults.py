"""How the printed figures were come by: how many pulls, which of them, and whether the test went back."""

from __future__ import annotations

from collections.abc import Iterator

from doe.claims.findings.comparison import part_states, where_of
from doe.claims.reading.schema import Claim, ClaimsFile, Step
from doe.words.faults import Fault
from doe.words.phrases import listed


def selection_faults(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    """Everything that is weak in how the compared figures were measured and picked."""
    used = file.used(claim)
    yield from _return(file, claim)
    yield from _counts(used)
    yield from _picked(used)


def _quoted(steps: list[Step]) -> str:
    return listed([f"'{step.name}'" for step in steps])


def _return(file: ClaimsFile, claim: Claim) -> Iterator[Fault]:
    start, end = file.from_places(claim), file.to_places(claim)
    if max(start) > min(end) and max(end) > min(start):
        return
    what = "the test does not go back to where it started"
    back = unused_returns(file, claim)
    if back:
        what = f"the test went back to the start ('{back[0]}'), but the claim does not use it"
    yield Fault.of("no-return", where_of(file, claim), what)


def unused_returns(file: ClaimsFile, claim: Claim) -> list[str]:
    """Steps behind those of a claim with the parts on that it starts from: a return that it does not use."""
    states, start = part_states(file), file.from_places(claim)
    last = max(*start, *file.to_places(claim))
    return [step.name for place, step in enumerate(file.step) if place > last and states[place] == states[start[0]]]


def _counts(used: list[Step]) -> Iterator[Fault]:
    single = [step for step in used if step.selection == "only"]
    if single:
        yield Fault.of("one-pull", _quoted(single), "one pull" + (" each" if len(single) > 1 else ""))
    unknown = [step for step in used if step.pulls is None and not step.singles and step.shown != "only"]
    if unknown:
        yield Fault.of("pulls-unknown", _quoted(unknown), "the test does not say how many pulls were made")


def _picked(used: list[Step]) -> Iterator[Fault]:
    best = [step for step in used if step.selection == "best"]
    if best:
        counts = listed([f"the best of {step.pulls or 'an unknown number'}" for step in best])
        yield Fault.of("best-shown", _quoted(best), f"{counts} pulls is shown")
    last = [step for step in used if step.selection == "last"]
    if last:
        yield Fault.of("last-shown", _quoted(last), "only the last pull is shown")
    unknown = [step for step in used if step.selection == "unknown"]
    if unknown:
        yield Fault.of("selection-unknown", _quoted(unknown), "the test does not say which of its pulls is shown")
    kinds = {_kind(step): _in_words(step) for step in used if step.selection != "unknown"}
    if len(kinds) > 1:
        yield Fault.of("unequal-selection", _quoted(used), f"{' against '.join(kinds.values())}")


def _kind(step: Step) -> tuple[str, int]:
    """Steps of one kind are picked alike: means and single pulls lie on the engine's mean, whatever their number."""
    if step.selection in ("mean", "only"):
        return "mean", 0
    return step.selection, step.numbers if step.selection == "best" else 0


def _in_words(step: Step) -> str:
    if step.selection == "only":
        return "a single pull"
    pulls = f" of {step.pulls}" if step.pulls else ""
    return f"the {step.selection}{pulls}"
