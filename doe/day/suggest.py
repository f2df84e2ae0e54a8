"""The nearest right spelling of a word that nobody knows."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that is spelled most like it, None when none is near."""
    from difflib import get_close_matches  # only for a word that is wrong: `doe record` doesn't wait for it

    spellings = {candidate.casefold(): candidate for candidate in known}
    close = get_close_matches(word.casefold(), spellings, n=1, cutoff=0.6)
    return spellings[close[0]] if close else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """The end of an error message: the nearest word, or all of them, or nothing."""
    words = list(known)
    close = nearest(word, words)
    if close is not None:
        return f"did you mean '{close}'?"
    return f"known are {', '.join(words)}" if words else "there is none here"
