"""What is said of a stretch of pulls that was put right: each pull before and after, and what follows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from doe.words.day import pull_words
from doe.words.notes import Note
from doe.words.phrases import columns, listed_first, listed_short

UNDO = "--undo"
_NAMED = 5  # of many pulls
_NOT_COUNTED = {"settling": "throw-away", "warm-up": "warm-up"}


class Meant(Protocol):
    """What a pull is taken for."""

    @property
    def configuration(self) -> Mapping[str, str]: ...
    @property
    def run(self) -> int | None: ...
    @property
    def count(self) -> str: ...
    @property
    def install(self) -> int | None: ...


class Fixed(Protocol):
    """Pulls that are taken for something else from now on."""

    @property
    def day(self) -> pull_words.Day: ...
    @property
    def what(self) -> str: ...
    @property
    def before(self) -> Sequence[pull_words.Pull]: ...
    @property
    def after(self) -> Sequence[Meant]: ...
    @property
    def undoes(self) -> bool: ...
    @property
    def head(self) -> pull_words.Head: ...
    @property
    def mirrored(self) -> Disks: ...


class Disks(Protocol):
    """On how many disks it is."""

    @property
    def disks(self) -> int | None: ...


def typed(which: str, settings: Mapping[str, str], later: int) -> str:
    """What was asked for, as it is typed."""
    said = [f"--set {pull_words.setting_text(name, level)}" for name, level in settings.items()]
    said += [f"--later {later}"] if later else []
    return " ".join([which, *said])


def redo_splits(pull: int, settings: Sequence[str]) -> str:
    """A pull logged again with another part, in the middle of a fitting or in that of other pulls."""
    said = " ".join(f"--set {setting}" for setting in settings)
    return (
        f"--redo {pull}: with that part its fitting would hold two; put right what was on first, which numbers the"
        f" fittings after it anew: doe fix {pull} {said}; then --redo {pull} with the number alone, if that is another"
    )


def fixed_text(fixed: Fixed) -> str:
    """All of it."""
    rows = [["pull", "before", "after"]]
    for pull, now in zip(fixed.before, fixed.after, strict=True):
        was, is_ = _told(fixed.day, pull, now), _told(fixed.day, now, pull)
        rows.append([f"{pull.number} {'void' if pull.void is not None else ''}".strip(), was, is_])
    done = f"undone: doe fix {fixed.what}" if fixed.undoes else f"fixed: {fixed.what}"
    line = pull_words.witnessed_line(done, fixed.head, fixed.mirrored.disks)
    return "\n".join([*columns(rows), line, *([] if fixed.undoes else ["take it back: doe fix --undo"])])


def _told(day: pull_words.Day, one: Meant | pull_words.Pull, other: Meant | pull_words.Pull) -> str:
    """What is otherwise in one of two; the fitting and the step in any case."""
    return ", ".join(_parts(day, one, other))


def _parts(day: pull_words.Day, one: Meant | pull_words.Pull, other: Meant | pull_words.Pull) -> Iterator[str]:
    for factor in day.factor:
        if one.configuration[factor.name] != other.configuration[factor.name]:
            yield f"{factor.name} {one.configuration[factor.name]}"
    yield f"fitting {one.install}"
    yield f"step {one.run}" if one.run else "no step"
    if one.count != other.count:
        yield _NOT_COUNTED.get(one.count, "counts")


def nothing_changes(what: str) -> str:
    """A fix that alters nothing."""
    return f"doe fix {what}: these pulls are logged so already; doe log shows them"


def outside_the_plan(pulls: Sequence[int]) -> Note:
    """Pulls that fulfil no step any more."""
    names = listed_short([f"pull {number}" for number in pulls])
    return Note("not-in-plan", "", f"in no plan any more, and counted: {names}; their steps are due again", "minor")


def same_fitting(pulls: Sequence[int]) -> Note:
    """Pulls before which the log had a refit, and has none now."""
    names = listed_first([f"pull {number}" for number in pulls], _NAMED)
    text = (
        f"by the log no part is changed now before {names}: there the fitting goes on; where the part was fitted anew:"
        f" doe record --redo {pulls[0]} --fresh"
    )
    return Note("fitting-goes-on", "", text, "serious")
