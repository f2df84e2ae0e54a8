"""Why a photo of the day isn't shown, and what to do."""

from __future__ import annotations

UNREADABLE = "it can't be read as a JPEG or PNG; take it out of photos/, or save it anew"
UNKNOWN = "it is no JPEG or PNG; save it as one of them"
TOO_LARGE = "it has too many pixels to be unpacked; save it smaller"


def too_many(most: int) -> str:
    """The page is full."""
    return f"a page has at most {most} photos; take those out that say least"
