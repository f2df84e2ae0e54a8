"""``doe plan --from-now --add``: parts that arrive during the day join it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from doe.day.schema import DayFile
    from doe.planning.drawn.result import Plan
    from doe.words.notes import Note


@dataclass(frozen=True, slots=True)
class Joining:
    """The day with what joins it."""

    day: DayFile
    read: str = ""  #: day.toml as it was
    text: str = ""  #: day.toml with it; "" where nothing joins
    added: tuple[tuple[str, str], ...] = ()

    def save(self, folder: Path, plan: Plan) -> tuple[Note, ...]:
        """Write day.toml, then the plan; where the plan is not logged, day.toml is as it was."""
        if not self.text:
            return plan.save(folder)
        from doe.day.pilot.settings.added_change import joined

        with joined(folder, self.read, self.text, self.added):
            return plan.save(folder)


def day_at_work(folder: Path, *, writes: bool = True) -> DayFile:
    """day.toml as it is; for a command that writes it is put right first, where a stopped one left it.


    Raises
    ------
    InputError, DoeError
        day.toml is wrong; another process holds the folder.
    OSError
        day.toml can't be written.
    """
    from doe.day.files.dayfile import read_day_file
    from doe.day.log.planned.day_text import bring_up_day, is_behind
    from doe.day.storage import only_writer

    day = read_day_file(folder)
    if not (writes and is_behind(folder)):
        return day
    with only_writer(folder):
        notes = bring_up_day(folder)
    for note in notes:
        print(note, file=sys.stderr)
    return read_day_file(folder)


def joining(folder: Path, day: DayFile, texts: Sequence[str]) -> Joining:
    """What is asked to join a day.

    Raises
    ------
    InputError
        It can't be read, or can't join.
    """
    if not texts:
        return Joining(day)
    from doe.day.configuration import find_factor
    from doe.day.log.planned.day_text import text_of
    from doe.day.pilot.settings.added_change import Added, day_with
    from doe.day.tables import parse_number
    from doe.errors import InputError

    if len(texts) > 1:
        raise InputError("--add: one part at a time, each with a plan of its own")
    setting, colon, gain = texts[0].rpartition(":")
    factor, equals, level = setting.partition("=")
    if not (colon and equals and level.strip()):
        raise InputError(f"--add {texts[0]}: expected FACTOR=LEVEL:GAIN, such as oil=5W-30:2")
    try:
        worth = parse_number(gain)
    except ValueError as fault:
        raise InputError(f"--add {texts[0]}: {fault}") from fault
    name, read = find_factor(day, factor).name, text_of(folder)
    text, with_it = day_with(folder, Added(name, level.strip(), worth))
    return Joining(with_it, read, text, ((name, level.strip()),))
