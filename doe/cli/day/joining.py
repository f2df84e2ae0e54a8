"""``doe plan --from-now --add``: parts that arrive during the day join it."""

from __future__ import annotations

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
    text: str = ""  #: day.toml with it; "" where nothing joins
    added: tuple[tuple[str, str], ...] = ()

    def save(self, folder: Path, plan: Plan) -> tuple[Note, ...]:
        """Write day.toml, then the plan; where the plan is not logged, day.toml is as it was."""
        if not self.text:
            return plan.save(folder)
        from doe.day.pilot.settings.added_change import asked_as_planned, write_day

        with asked_as_planned(folder, self.added):
            write_day(folder, self.text)
            return plan.save(folder)


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
    name = find_factor(day, factor).name
    text, with_it = day_with(folder, Added(name, level.strip(), worth))
    return Joining(with_it, text, ((name, level.strip()),))
