"""The photos of a day: what lies in its folder photos/, made small enough for a page, without what a camera hides."""

from __future__ import annotations

import base64
import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from doe.words.report.photo_words import TOO_LARGE, UNKNOWN, UNREADABLE, too_many

if TYPE_CHECKING:
    from PIL import Image

FOLDER = "photos"
_KINDS = {".jpg", ".jpeg", ".png"}
_OTHER_KINDS = {".heic", ".heif", ".avif", ".webp", ".tif", ".tiff", ".gif", ".bmp", ".dng"}
_MOST_CHARACTERS = 100_000  # of one photo in the page, where four characters stand for three bytes
_MOST = 24  # photos on a page
_SIDES = (1280, 1024, 800, 640, 480, 320)  # longest side [px], until it is small enough


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo."""

    name: str  #: of the file, without its ending
    data: str = ""  #: a data URI; "" where it isn't shown
    width: int = 0
    height: int = 0
    why: str = ""  #: it isn't shown, and what to do


def photos_of(folder: Path) -> tuple[Photo, ...]:
    """The photos of a day folder by name; one that can't be shown has no data, and says why."""
    place = folder / FOLDER
    if not place.is_dir():
        return ()
    found: list[Photo] = []
    for path in sorted(place.iterdir()):
        if path.name.startswith(".") or not path.is_file():  # a Mac's copies have a companion "._name.jpg"
            continue
        if path.suffix.lower() in _OTHER_KINDS:
            found.append(Photo(path.name, why=UNKNOWN))
        elif path.suffix.lower() in _KINDS:
            full = sum(bool(photo.data) for photo in found) == _MOST
            found.append(Photo(path.stem, why=too_many(_MOST)) if full else _photo(path))
    return tuple(found)


def _photo(path: Path) -> Photo:
    """A JPEG of at most 100 kB in the page, turned as the camera was held; the place and date are left behind."""
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            # No other format, whatever the file's ending says: some are programs that a reader would run.
            with Image.open(path, formats=("JPEG", "PNG")) as file:
                file.draft("RGB", (_SIDES[0], _SIDES[0]))  # of a JPEG no more is unpacked than is shown
                image = _on_white(ImageOps.exif_transpose(file) or file)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        return Photo(path.stem, why=TOO_LARGE)
    except Exception:  # whatever a damaged file makes a library raise
        return Photo(path.stem, why=UNREADABLE)
    for side in _SIDES:
        image.thumbnail((side, side))
        stream = io.BytesIO()
        image.save(stream, "JPEG", quality=80, optimize=True)
        data = f"data:image/jpeg;base64,{base64.b64encode(stream.getvalue()).decode()}"
        if len(data) <= _MOST_CHARACTERS:
            break
    return Photo(path.stem, data, *image.size)


def _on_white(image: Image.Image) -> Image.Image:
    """In red, green and blue; where it is transparent the paper shows, and 16 bits of grey become 8."""
    from PIL import Image

    if image.mode.startswith("I"):
        image = image.convert("I").point(lambda grey: grey * (1 / 256)).convert("L")
    if "A" not in image.getbands() and "transparency" not in image.info:
        return image.convert("RGB")
    shown = image.convert("RGBA")
    paper = Image.new("RGBA", shown.size, "white")
    return Image.alpha_composite(paper, shown).convert("RGB")
