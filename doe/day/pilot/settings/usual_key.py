"""Writing the range of the baseline on earlier days into [cell] of a day."""

from __future__ import annotations

from pathlib import Path

import tomlkit

from doe.day.encoding import decode
from doe.day.files.dayfile import parse_day
from doe.day.files.which_folder import FILE_NAME
from doe.day.storage import only_writer, write_atomically


def save_usual(folder: Path, low: float, high: float) -> None:
    """Write `usual` into [cell] of a day file; everything else stays. It is not sealed.

    Parameters
    ----------
    folder : Path
        The day folder.
    low, high : float
        In the metric's unit; rounded to five figures.

    Raises
    ------
    InputError
        The day file is wrong.
    """
    with only_writer(folder):
        file = folder / FILE_NAME
        document = tomlkit.parse(decode(file.read_bytes(), FILE_NAME))
        document["cell"]["usual"] = [float(f"{low:.5g}"), float(f"{high:.5g}")]
        text = tomlkit.dumps(document)
        parse_day(text, FILE_NAME)
        write_atomically(file, text)
