"""Writing how a dyno's exports are mapped into the [traces] table of a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit

from doe.cell.traces.layout import Layout
from doe.day.encoding import decode
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.which_folder import FILE_NAME, command
from doe.day.log.planned.followed import followed_plan
from doe.day.pilot.settings.noise_table import not_begun
from doe.day.storage import only_writer, write_atomically
from doe.words.result import Answer


@dataclass(frozen=True, slots=True, repr=False)
class SavedTraces(Answer):
    """A [traces] table that was written."""

    file: Path
    warnings: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {"file": str(self.file), "warnings": list(self.warnings)}

    def to_text(self) -> str:
        """Where it stands, and what to do about the plan."""
        return "\n".join([f"wrote [traces] of {self.file}", *(f"Warning: {warning}" for warning in self.warnings)])


def save_traces(folder: Path, layout: Layout, exports: str = "") -> SavedTraces:
    """Write the [traces] table of a day file; comments, and keys that a layout doesn't tell, stay.

    Parameters
    ----------
    folder : Path
        The day folder.
    layout : Layout
    exports : str
        Where the dyno writes its files, seen from the day folder; "" leaves what is told.

    Raises
    ------
    InputError
        The day file is wrong, or would be with this mapping; or the day has counted pulls: its mapping is sealed.
    """
    with only_writer(folder):
        file = folder / FILE_NAME
        day = read_day_file(folder)
        new = with_traces(decode(file.read_bytes(), FILE_NAME), layout, exports)
        after = parse_day(new, FILE_NAME)
        if after.traces != day.traces:
            not_begun(folder, day, "[traces]", "Set it up in the next day's folder")
            write_atomically(file, new)
        planned = followed_plan(folder, day) is not None and after.traces != day.traces
    again = command("plan", folder, "--new")
    sealed = f"the plan was made before, and [traces] is sealed in it: make it again with '{again}'"
    return SavedTraces(file, (sealed,) if planned else ())


def with_traces(text: str, layout: Layout, exports: str = "") -> str:
    """Return the text of a day file with a new mapping in [traces]."""
    document = tomlkit.parse(text)
    table = document.get("traces")
    if table is None:
        table = tomlkit.table()
        document.append("traces", table)
    for key, value in {**({"folder": exports} if exports else {}), **_keys_of(layout)}.items():
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
    return tomlkit.dumps(document)


def _keys_of(layout: Layout) -> Mapping[str, Any]:
    """The keys of [traces] that a look at an export settles; None: the default, left out."""
    return {
        "columns": _inline(layout.columns),
        "units": _inline(layout.units) if layout.units else None,
        "delimiter": layout.delimiter,
        "decimal": layout.decimal,
        "unit_row": True if layout.unit_row else None,
        "title_lines": layout.title_lines or None,
    }


def _inline(mapping: Mapping[str, str]) -> Any:
    table = tomlkit.inline_table()
    table.update(mapping)
    return table
