"""What a check found: how surprising it is, the sentence for it, and the same day with it allowed for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from doe.analysis.judging.checks.outcome import Outcome, Reader
from doe.words.judgements.check_notes import Reading
from doe.words.notes import Note


@dataclass(frozen=True)
class Finding:
    """One check of one day.

    Attributes
    ----------
    check : str
        Its name in the JSON.
    p : float or None
        How surprising it is on a day on which nothing went wrong, over all that this check looked at; None where these
        pulls can't show it.
    told : callable, optional
        Takes how the verdicts read with it allowed for (in words), gives the note.
    allowed : callable, optional
        Gives the day with it allowed for, on which the other checks go on.
    reread : callable, optional
        How the verdicts read, where that is not simply those of `allowed`.
    """

    check: str
    p: float | None
    told: Callable[[str], Note] | None = None
    allowed: Callable[[], Outcome] | None = None
    reread: Callable[[Reader], list[Reading]] | None = None

    def readings(self, reader: Reader) -> list[Reading]:
        """Changes whose verdict would be another with it allowed for."""
        if self.reread is not None:
            return self.reread(reader)
        assert self.allowed is not None
        return reader.of(self.allowed())
