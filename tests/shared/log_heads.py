"""What two logs of the same pulls don't share: the end of their chain, for every event has a key and a moment."""

import re

_HEAD = re.compile(r" · [0-9a-f]{4} [0-9a-f]{4}|\b[0-9a-f]{64}\b")


def without_heads(text: str) -> str:
    """A text without the eight characters of a log's head, and without the whole hash."""
    return _HEAD.sub("", text)
