"""Bytes to text, whatever program saved them."""

from __future__ import annotations

import codecs
import re
from pathlib import Path

from doe.errors import InputError

MOST_MB = 64  #: a larger table holds no pulls: some million rows fit, and reading takes about ten times its size
MOST_CELLS = 20_000_000  #: the same, for rows that are short beside a wide header

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_STRAY_BYTES = re.compile(r"[\udc80-\udcff]+")  # as Python keeps bytes that it could not decode
_WIDE_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def read_bytes(path: Path) -> bytes:
    """The bytes of a table, its size looked at first.

    Raises
    ------
    InputError
        It is larger than any table of pulls.
    """
    refuse_large(path.name, path.stat().st_size)
    with path.open("rb") as file:
        data = file.read(MOST_MB * 1_000_000 + 1)  # what is no plain file doesn't tell its size
    refuse_large(path.name, len(data))
    return data


def refuse_large(name: str, size: int) -> None:
    """Refuse what is larger than any table of pulls.

    Parameters
    ----------
    name : str
        Of the file.
    size : int
        Bytes.

    Raises
    ------
    InputError
        It is.
    """
    if size > MOST_MB * 1_000_000:
        raise InputError(
            f"{name}: {size / 1e6:.0f} MB, not read: a table of pulls has at most {MOST_MB} MB; traces go through"
            " doe trace, and a large table can be parted by day"
        )


def without_zeros(data: bytes) -> bytes:
    """A file without the zeros at its end: a power cut leaves them in the place of bytes that were not safe yet."""
    bare = data.rstrip(b"\0")
    wide = bare.startswith(_WIDE_MARKS) or b"\0" in bare[:200]
    return data[: len(bare) + len(bare) % 2] if wide else bare


def encoding_of(data: bytes) -> str:
    """The encoding of a text file: by its byte-order mark, else UTF-8, else what Windows programs save."""
    data = without_zeros(data)
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
    """The text of a file; what stands at its end where writing was cut off, half a letter or zeros, is left out.

    Raises
    ------
    InputError
        The bytes are no text at all.
    """
    try:
        return _decoded(without_zeros(data), encoding_of(data))
    except UnicodeDecodeError:
        raise InputError(f"{name}: this is no text file; save it as UTF-8 text") from None


def as_text(words: str) -> str:
    """Words of a command line or a terminal; bytes in them that are no UTF-8 are read as those of a file are."""
    return _STRAY_BYTES.sub(lambda found: found[0].encode(errors="surrogateescape").decode("cp1252", "replace"), words)


def _decoded(data: bytes, encoding: str) -> str:
    """The text of all whole letters."""
    return codecs.getincrementaldecoder(encoding)().decode(data)
