"""Starting a claims file: valid as it stands, with a word on each of its lines."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from doe.day.storage import write_atomically
from doe.errors import InputError
from doe.words.result import Answer


@dataclass(frozen=True, slots=True, repr=False)
class StartedClaims(Answer):
    """A claims file that was begun."""

    file: Path

    def to_dict(self) -> dict[str, Any]:
        """Where the file is, for machines."""
        return {"file": str(self.file)}

    def to_text(self) -> str:
        """What to do next."""
        return f"started {self.file}\n  1. type in what the test tells\n  2. doe audit {self.file}"


def start_claims(file: Path) -> StartedClaims:
    """Write a new claims file.

    Raises
    ------
    InputError
        Something is there already, or there is no such folder. Nothing is written then.
    """
    if file.exists():
        raise InputError(f"{file} is there already and was left alone; edit it, or name another file")
    if not file.parent.is_dir():
        raise InputError(f"{file}: there is no folder {file.parent}")
    write_atomically(file, new_claims_text())
    return StartedClaims(file)


def new_claims_text() -> str:
    """The text of a new claims file."""
    return (files("doe.claims") / "new_claims.toml").read_text(encoding="utf-8")
