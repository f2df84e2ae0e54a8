"""Starting a day folder: a day.toml that is valid as it stands and explains each of its lines."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from doe.day.files.dayfile import parse_day
from doe.day.files.which_folder import FILE_NAME, FIRST_DAY, command, next_door
from doe.day.storage import write_atomically
from doe.day.tables import number_text
from doe.errors import InputError
from doe.words.result import Answer

_TEMPLATES = Path(__file__).parent / "templates"
_MARK = "  # REPLACE"


@dataclass(frozen=True, slots=True)
class NewChange:
    """A choice besides the baseline; the defaults are invented."""

    level: str
    minutes_on: float = 30.0
    minutes_off: float = 30.0
    settling_pulls: int = 1
    smallest_gain: float = 2.0


@dataclass(frozen=True, slots=True)
class NewPart:
    """A part or fluid with its choices; in a noise study the first choice only says what a refit takes."""

    name: str
    baseline: str
    refit: bool
    changes: tuple[NewChange, ...]


OIL = NewPart("oil", "15W-50", True, (NewChange("0W-20"),))
VACUUM = NewPart("crankcase vacuum", "off", False, (NewChange("on", 2.0, 2.0, 0, 1.5),))


@dataclass(frozen=True, slots=True)
class NewDay:
    """The values of a new day.toml; the defaults are invented."""

    title: str = "Thin oil and crankcase vacuum"
    date: dt.date = field(default_factory=dt.date.today)
    start: dt.time = dt.time(8, 30)
    finish: dt.time = dt.time(16, 30)
    breaks: tuple[tuple[dt.time, float], ...] = ((dt.time(12), 30.0),)  #: begin and minutes
    warm_up_minutes: float = 40.0
    pull_minutes: float = 4.0
    metric: str = "mean power"
    unit: str = "hp"
    pull_sd: float = 1.0
    install_sd: float | None = 0.7  #: None: left out
    parts: tuple[NewPart, ...] = (OIL, VACUUM)
    pull_df: int | None = None  #: where the scatter is that of readings


def new_noise_study() -> NewDay:
    """The invented values of a noise study."""
    return NewDay(title="Noise study", start=dt.time(9), finish=dt.time(12), breaks=(), parts=(OIL,))


@dataclass(frozen=True, slots=True, repr=False)
class Started(Answer):
    """A day folder that was begun."""

    file: Path
    study: bool
    asked: bool  #: the essential values are the tester's own

    def to_dict(self) -> dict[str, Any]:
        """Where the file is, for machines."""
        return {"folder": str(self.file.parent), "file": str(self.file), "noise_study": self.study}

    def to_text(self) -> str:
        """What to do next."""
        folder = self.file.parent
        look = "look through what is marked REPLACE" if self.asked else "replace what is marked REPLACE"
        steps = [f"open {self.file} in an editor and {look}", command("plan", folder)]
        if self.study:
            steps.append(
                f"after the last pull: {command('noise', folder, f'--save-to {next_door(folder, FIRST_DAY)}')}"
            )
        kind = "a noise study" if self.study else "a day"
        return "\n".join([f"started {kind}: {self.file}", *(f"  {n}. {step}" for n, step in enumerate(steps, 1))])


def start_folder(folder: Path, day: NewDay, *, study: bool = False, asked: bool = False) -> Started:
    """Write a new day.toml; the folder is made when it is not there.

    Parameters
    ----------
    folder : Path
        The day folder.
    day : NewDay
        The values.
    study : bool
        A noise study: the parts are refitted, not changed.
    asked : bool
        The values are the tester's own: they are not marked as invented.

    Raises
    ------
    InputError
        There is a day.toml already, or the values don't make sense together. Nothing is written then.
    """
    file = free_place(folder)
    text = day_text(day, study=study, asked=asked)
    parse_day(text, FILE_NAME)
    folder.mkdir(parents=True, exist_ok=True)
    write_atomically(file, text)
    return Started(file, study, asked)


def free_place(folder: Path) -> Path:
    """The day file of a folder that has none yet.

    Raises
    ------
    InputError
        There is one, or the folder is a file.
    """
    file = folder / FILE_NAME
    if file.exists():
        raise InputError(f"{file} is there already and was left alone; edit it, or name another folder")
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file; name a folder")
    return file


def day_text(day: NewDay, *, study: bool = False, asked: bool = False) -> str:
    """The text of a new day.toml."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(loader=FileSystemLoader(_TEMPLATES), undefined=StrictUndefined, autoescape=False)
    environment.filters.update(quoted=_quoted, number=number_text)
    template = environment.get_template("noise_study.toml.j2" if study else "day.toml.j2")
    text = template.render(day=day, mark="" if asked else _MARK)
    return re.sub(r"\n{3,}", "\n\n", text).rstrip() + "\n"


def _quoted(text: str) -> str:
    """A TOML string: JSON's is one."""
    return json.dumps(text, ensure_ascii=False)
