"""The photos of a day: what lies in its folder photos/, made small enough for a page, without what a camera hides."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from pathlib import Path

FOLDER = "photos"
_KINDS = {".jpg", ".jpeg", ".png"}
_MOST_BYTES = 100_000
_MOST = 24  # photos on a page
_SIDES = (1280, 1024, 800, 640, 480, 320)  # longest side [px], until it is small enough


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo."""

    name: str  #: of the file, without its ending
    data: str  #: a data URI; "" where the file can't be read or is one too many
    width: int = 0
    height: int = 0


def photos_of(folder: Path) -> tuple[Photo, ...]:
    """The photos of a day folder by name; one that can't be read has no data."""
    place = folder / FOLDER
    if not place.is_dir():
        return ()
    files = [path for path in sorted(place.iterdir()) if path.suffix.lower() in _KINDS and path.is_file()]
    return tuple(_photo(path) if number < _MOST else Photo(path.stem, "") for number, path in enumerate(files))


def _photo(path: Path) -> Photo:
    """A JPEG of at most 100 kB, turned as the camera was held; the place and date that it noted are left behind."""
    from PIL import Image, ImageOps

    try:
        with Image.open(path) as file:
            upright = ImageOps.exif_transpose(file)
            image = (upright or file).convert("RGB")
    except Exception:  # whatever a damaged file makes a library raise
        return Photo(path.stem, "")
    for side in _SIDES:
        small = image.copy()
        small.thumbnail((side, side))
        stream = io.BytesIO()
        small.save(stream, "JPEG", quality=80, optimize=True)
        if stream.tell() <= _MOST_BYTES:
            break
    data = base64.b64encode(stream.getvalue()).decode()
    return Photo(path.stem, f"data:image/jpeg;base64,{data}", *small.size)
