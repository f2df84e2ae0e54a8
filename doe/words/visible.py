"""Text of files and of people on its way out: nothing in it moves a cursor, colours, hides or turns the writing round.

Every door through which text leaves (terminal, page, figure) goes through this one function.
"""

from __future__ import annotations

import re

# C0 but the line feed, DEL and C1; marks, embeddings and isolates of writing direction (Unicode Standard Annex 9) and
# the deprecated format characters beside them; line and paragraph separators; halves of surrogate pairs.
_UNSEEN = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u206f\ud800-\udfff]")


def visible(text: str) -> str:
    r"""The text with every character that acts and can't be seen written as ``\uXXXX``.

    JSON reads that as the same character, so that a JSON document stays the same document.
    """
    return _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def acts_unseen(text: str) -> bool:
    """Whether a text holds a character that `visible` would write out."""
    return _UNSEEN.search(text) is not None
