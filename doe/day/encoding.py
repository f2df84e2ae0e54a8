"""Bytes to text, whatever program saved them."""

from __future__ import annotations

import codecs

from doe.errors import InputError

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def encoding_of(data: bytes) -> str:
    """The encoding of a text file: by its byte-order mark, else UTF-8, else what Windows programs save."""
    for mark, name in _MARKS:
        if data.startswith(mark):
            return name
    if b"\0" in data[:200]:
        return "utf-16-be" if data[:1] == b"\0" else "utf-16-le"
    try:
        _decoded(data, "utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def decode(data: bytes, name: str) -> str:
    """The text of a file; half a letter at its end, where writing was cut off, is left out.

    Raises
    ------
    InputError
        The bytes are no text at all.
    """
    try:
        return _decoded(data, encoding_of(data))
    except UnicodeDecodeError:
        raise InputError(f"{name}: this is no text file; save it as UTF-8 text") from None


def _decoded(data: bytes, encoding: str) -> str:
    """The text of all whole letters."""
    return codecs.getincrementaldecoder(encoding)().decode(data)
