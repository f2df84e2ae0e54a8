"""Writing what a noise study found into the [noise] table of a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import Trivia

from doe.day.encoding import decode
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.which_folder import FILE_NAME, command, of_folder
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.day.storage import only_writer, write_atomically
from doe.errors import InputError
from doe.words.numbers import several
from doe.words.phrases import listed
from doe.words.result import Answer

_FIGURES = 4
_MARK = "# REPLACE"  # of a new day.toml: the value is invented


@dataclass(frozen=True, slots=True, repr=False)
class SavedNoise(Answer):
    """A [noise] table that was written."""

    file: Path
    changed: bool  #: False: it said so already
    warnings: tuple[str, ...]
    others: tuple[str, ...] = ()  #: metrics that have a table of their own

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {
            "file": str(self.file),
            "changed": self.changed,
            "others": list(self.others),
            "warnings": list(self.warnings),
        }

    def to_text(self) -> str:
        """Where it stands, and what to do about the plan."""
        tables = listed(["[noise]", *(f'[noise.metric."{name}"]' for name in self.others)])
        done = f"wrote {tables} of {self.file}" if self.changed else f"{tables} of {self.file} said so already"
        return "\n".join([done, *(f"Warning: {warning}" for warning in self.warnings)])


def save_noise(
    folder: Path,
    found: Mapping[str, float | None],
    source: str,
    comment: str = "",
    others: Mapping[str, Mapping[str, float | None]] | None = None,
) -> SavedNoise:
    """Write the [noise] table of a day file; comments, order and what was not studied stay.

    Parameters
    ----------
    folder : Path
        The day folder.
    found : mapping of str to float or None
        Keys of [noise], in the day's unit or percent; rounded to four figures. A None leaves that key as it stands.
    source : str
        Where the numbers come from.
    comment : str
        Beside the source, in place of one that was put there before; begins with a word and a colon.
    others : mapping of str to mapping, optional
        The same keys of other metrics, by name: they go into [noise.metric."NAME"], which is not sealed.

    Returns
    -------
    SavedNoise

    Raises
    ------
    InputError
        The day file is wrong, a number can't stand in it, or the day has counted pulls: its noise is sealed.
    """
    with only_writer(folder):
        file = folder / FILE_NAME
        day = read_day_file(folder)
        text = decode(file.read_bytes(), FILE_NAME)
        new = with_noise(
            text, _figures(found), source, comment, {name: _figures(known) for name, known in (others or {}).items()}
        )
        after = parse_day(new, FILE_NAME)
        if after.noise == day.noise:
            return SavedNoise(file, False, (), tuple(others or ()))
        sealed_too = after.own_noise != day.own_noise
        if sealed_too:
            not_begun(folder, day, "the noise", "Save the study to the next day's folder")
        planned = sealed_too and followed_plan(folder, day) is not None
        write_atomically(file, new)
    again = command("plan", folder, "--new")
    sealed = f"the plan was made with the old noise, which is sealed in it: make it again with '{again}'"
    return SavedNoise(file, True, (sealed,) if planned else (), tuple(others or ()))


def with_noise(
    text: str,
    found: Mapping[str, float],
    source: str,
    comment: str = "",
    others: Mapping[str, Mapping[str, float]] | None = None,
) -> str:
    """Return the text of a day file with a new [noise], and a table of its own for each other metric."""
    document = tomlkit.parse(text)
    table = document.get("noise")
    if table is None:
        table = tomlkit.table()
        document.append("noise", table)
    _fill(table, found, source)
    if comment:
        _comment(table["source"].trivia, comment)
    for name, known in (others or {}).items():
        if "metric" not in table:
            table["metric"] = tomlkit.table(is_super_table=True)
        tables = table["metric"]
        own = next((key for key in tables if name_key(key) == name_key(name)), name)
        new = own not in tables
        if new:
            tables[own] = tomlkit.table()
        _fill(tables[own], known, source)
        if new:
            tables[own].add(tomlkit.nl())
    return tomlkit.dumps(document)


def _fill(table: Any, found: Mapping[str, float], source: str) -> None:
    for key, value in {**found, "source": source}.items():
        table[key] = value
        trivia = table[key].trivia
        if trivia.comment.strip() == _MARK:
            trivia.comment = trivia.comment_ws = ""


def _comment(trivia: Trivia, comment: str) -> None:
    """Set a comment at the end of a line; one that a person wrote there stays."""
    own = f"# {comment.partition(':')[0]}:"
    if not trivia.comment or trivia.comment.startswith(own):
        trivia.comment_ws, trivia.comment = "  ", f"# {comment}"


def _figures(found: Mapping[str, float | None]) -> dict[str, float]:
    """What was studied, rounded."""
    return {key: float(f"{value:.{_FIGURES}g}") for key, value in found.items() if value is not None}


def not_begun(folder: Path, day: DayFile, what: str, instead: str) -> None:
    """Refuse a day whose counted pulls were made under another table of day.toml.

    Raises
    ------
    InputError
        It has counted pulls.
    """
    pulls = read_log(folder, day, followed_plan(folder, day)).pulls
    counted = sum(pull.counts for pull in pulls)
    if counted:
        raise InputError(
            of_folder(
                folder,
                f"{several(counted, 'counted pull')} {'were' if counted > 1 else 'was'} made with {what} as it stands,"
                f" which was fixed before the first; nothing was written. {instead}",
            )
        )
