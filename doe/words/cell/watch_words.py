"""What `doe watch` says beside a file that the dyno wrote."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.numbers import several
from doe.words.phrases import listed

#: key -> what it does
KEYS = {
    "Enter": "logs it",
    "w": "logs it as warm-up",
    "s": "logs a spoiled pull, and asks why",
    "x": "leaves it alone",
    "q": "ends",
}
WHY = "what spoiled it? "
NO_REASON = "no reason, so nothing was logged"


def watching(place: str, left: int) -> str:
    """What is watched, and which key does what."""
    before = f"{several(left, 'file')} there already, left alone" if left else "no file there yet"
    what = "; ".join(f"{key} {does}" for key, does in KEYS.items())
    return f"watching {place} ({before})\n{what}"


def question(keys: Sequence[str]) -> str:
    """What is asked of a file; a number takes that sweep."""
    return f"log it? [{' '.join(map(_name, keys))}]"


def several_sweeps(name: str, count: int) -> str:
    """A file that holds several pulls."""
    return f"{name}: {count} sweeps in one file; its number shows one of them, which can be logged then"


def other_key(key: str, keys: Sequence[str]) -> str:
    """A key that does nothing here."""
    shown = key if key.isprintable() and key.strip() else "that key"
    return f"{shown} does nothing here; {listed([_name(key) for key in keys])} do"


def _name(key: str) -> str:
    return key if key.isprintable() and key.strip() else "Enter"


def left_alone(name: str) -> str:
    """A file that is not logged; it is told again where its content changes."""
    return f"{name} is left alone"


def changed(name: str) -> str:
    """A file that was written anew between the showing and the key."""
    return f"{name} has changed since it was shown: nothing was logged; it is shown again when it is whole"


def unreachable(place: str, why: str) -> str:
    """A folder that can't be read for the moment."""
    return f"{place} can't be read ({why}); is the share mounted? Looking again"


def reachable(place: str) -> str:
    """A folder that can be read again."""
    return f"{place} can be read again"
