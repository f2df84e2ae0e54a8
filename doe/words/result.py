"""The doors to every result: a text for people, a document for machines, a frame for those who go on computing."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, Any

from doe.words.phrases import WIDTH

if TYPE_CHECKING:
    from doe.words.screen import Screen

_LONGEST_REPR = 100  # letters


class Answer(ABC):
    """What a command's work returns: it can be printed for people and for machines.

    The dataclass that takes it in says ``repr=False``, so that the short one of this class is used.
    """

    __slots__ = ()

    @abstractmethod
    def to_dict(self) -> dict[str, Any]:
        """The document that ``--json`` prints, at full precision."""

    @abstractmethod
    def to_text(self) -> str:
        """What a person reads, rounded to what the numbers bear."""

    def __str__(self) -> str:
        return self.to_text()

    def __repr__(self) -> str:
        first = self._first_words()
        short = first if len(first) <= _LONGEST_REPR else f"{first[: _LONGEST_REPR - 1].rstrip()}…"
        return f"<{type(self).__name__}: {short}>"

    def _first_words(self) -> str:
        """What the short repr shows."""
        # Only where it is asked for: at the engine a tester waits for what is loaded.
        from doe.words.judgements.table_words import READING

        paragraphs = [one.strip() for one in self.to_text().split("\n\n") if one.strip()]
        if len(paragraphs) > 1 and paragraphs[0].startswith(READING):
            del paragraphs[0]  # what was read of a table stands before the result
        return paragraphs[0].split("\n")[0] if paragraphs else ""

    def _repr_html_(self) -> str:
        """The text in a notebook, its columns kept."""
        from html import escape  # as in `_first_words`

        return f"<pre>{escape(self.to_text())}</pre>"


class Result(Answer):
    """An answer that is numbers: it has a frame too."""

    __slots__ = ()

    @abstractmethod
    def to_frame(self) -> Any:
        """A tidy pandas DataFrame at full precision; ``frame.attrs["units"]`` maps a column to its unit.

        The result's own room makes it: this room loads no library. Where rows have units of their own, a column
        ``unit`` says them, and the mapping only holds the columns that share one.
        """


class Shown(Answer):
    """An answer that is laid out as a screen."""

    __slots__ = ()

    @abstractmethod
    def screen(self) -> Screen:
        """What to do, in a sentence; a table; what would change it."""

    def to_text(self) -> str:
        """What a person reads, rounded to what the numbers bear."""
        return self.screen().plain()

    def _first_words(self) -> str:
        return self.screen().first


class Told(Shown, Result):
    """A result whose text says first what to do, and keeps the rest for who asks."""

    __slots__ = ()

    @abstractmethod
    def full_text(self, width: int = WIDTH) -> str:
        """Everything that is known in words, the same sentence first; no table is wider than `width` letters."""

    def to_text(self, *, details: bool = False, width: int = WIDTH) -> str:
        """What a person reads, rounded to what the numbers bear; with `details` all that is known.

        Parameters
        ----------
        details : bool
        width : int
            Letters that a table may take.
        """
        return self.full_text(width) if details else self.screen().plain(width)
