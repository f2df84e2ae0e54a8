"""A further day of the same questions: its day.toml is that of the day before, with a date of its own."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from doe.day.encoding import decode
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.template import free_place
from doe.day.files.which_folder import FILE_NAME
from doe.day.storage import write_atomically


def start_next_day(folder: Path, earlier: Path) -> dt.date:
    """Start a day folder that goes on with an earlier day; the folder is made when it is not there.

    Parameters
    ----------
    folder : Path
        Has no day.toml.
    earlier : Path
        The day folder whose questions it goes on with.

    Returns
    -------
    date
        Of the new day: today, or the day after the earlier one where that is later.

    Raises
    ------
    InputError
        There is a day.toml already, or that of the earlier day can't be read.
    """
    import tomlkit

    file = free_place(folder)
    date = max(dt.date.today(), read_day_file(earlier).day.date + dt.timedelta(days=1))
    document: Any = tomlkit.parse(decode((earlier / FILE_NAME).read_bytes(), FILE_NAME))
    document["day"]["date"] = date
    text = str(tomlkit.dumps(document))
    parse_day(text, FILE_NAME)
    folder.mkdir(parents=True, exist_ok=True)
    write_atomically(file, text)
    return date
