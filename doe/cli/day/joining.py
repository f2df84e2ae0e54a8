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
    assumed: str = ""  #: what is taken for granted of a new part

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
    """
    from doe.day.files.dayfile import read_day_file
    from doe.day.log.planned.day_text import put_right

    day = read_day_file(folder)
    notes = put_right(folder) if writes else []
    for note in notes:
        print(note, file=sys.stderr)
    return read_day_file(folder) if notes else day


def joining(
    folder: Path,
    day: DayFile,
    texts: Sequence[str],
    *,
    fitting_minutes: float | None = None,
    switching_minutes: float | None = None,
) -> Joining:
    """What is asked to join a day; the minutes say of a new part what its changeover takes, and of which kind it is.

    Raises
    ------
    InputError
        It can't be read, or can't join.
    """
    from doe.errors import InputError

    told = {"--fitting-minutes": fitting_minutes, "--switching-minutes": switching_minutes}
    given = [name for name, minutes in told.items() if minutes is not None]
    if not texts:
        if given:
            raise InputError(f"{', '.join(given)}: for what joins; add --add FACTOR=LEVEL:GAIN")
        return Joining(day)
    if len(given) > 1:
        raise InputError(f"{' and '.join(given)}: say one of them")
    from doe.day.configuration import find_change
    from doe.day.log.planned.day_text import text_of
    from doe.day.pilot.settings.added_change import Added, day_with
    from doe.day.tables import parse_number
    from doe.words.plans.replan_words import new_part_text

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
    factor, level = factor.strip(), level.strip()
    minutes, read = (fitting_minutes if switching_minutes is None else switching_minutes), text_of(folder)
    kind = None if minutes is None else switching_minutes is None
    text, with_it = day_with(folder, Added(factor, level, worth, minutes, kind))
    part, change = find_change(with_it, f"{factor}={level}")
    new = part.name not in [one.name for one in day.factor]
    assumed = new_part_text(part, change.level, change.minutes_on, change.settling_pulls) if new else ""
    return Joining(with_it, read, text, ((part.name, change.level),), assumed)
