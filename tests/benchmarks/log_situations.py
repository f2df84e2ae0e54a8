"""What log_harness.py puts under fire: every command that writes, on its day, and what of that may not be lost."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast
from unittest import mock

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "shared"), str(TESTS / "day"), str(TESTS / "day" / "pilot")]

import simulated_disk  # noqa: E402
from day_files import day_file, factor  # noqa: E402

from doe.analysis.judging.folders import judge_and_log  # noqa: E402
from doe.analysis.judging.judgement import Judgement  # noqa: E402
from doe.cli.day.joining import joining  # noqa: E402
from doe.cli.day.late_day import take_back  # noqa: E402
from doe.day.clock import lay_out  # noqa: E402
from doe.day.files.dayfile import read_day_file  # noqa: E402
from doe.day.files.planfile import ADDED, PlanFile  # noqa: E402
from doe.day.files.seal import seal_entries  # noqa: E402
from doe.day.log.events import events_of  # noqa: E402
from doe.day.log.looks import CLOSE, REOPEN, read_looks  # noqa: E402
from doe.day.log.marks.closing import reopen_day  # noqa: E402
from doe.day.log.marks.without_place import UNPLACED  # noqa: E402
from doe.day.log.planned.followed import followed_plan  # noqa: E402
from doe.day.log.reading import read_log  # noqa: E402
from doe.day.pilot.adopting import adopt  # noqa: E402
from doe.day.pilot.entries import Entry  # noqa: E402
from doe.day.pilot.integrity import Checked, check_folder  # noqa: E402
from doe.day.pilot.recording import record_pulls  # noqa: E402
from doe.day.pilot.said import Said  # noqa: E402
from doe.day.pilot.slips.fixing import fix_pulls, undo_fix  # noqa: E402
from doe.day.pilot.unplaced import log_unplaced  # noqa: E402
from doe.day.records import Stint  # noqa: E402
from doe.day.schema import DayFile  # noqa: E402
from doe.day.sheet.run_sheet import read_run_sheet  # noqa: E402
from doe.day.sheet.sheet_record import SHEET, note_sheet  # noqa: E402
from doe.day.storage import UnsureWriteError  # noqa: E402
from doe.errors import DoeError, InputError, UnsureError  # noqa: E402
from doe.planning.drawn.result import Plan  # noqa: E402
from doe.planning.drawn.saving import save_plan  # noqa: E402
from doe.planning.under_way.joined import refuse_broken_seal  # noqa: E402
from doe.report import html  # noqa: E402
from doe.words.notes import Note  # noqa: E402

DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 20 2 2.0", refit=True),
    factor("crankcase vacuum", "off", "on 2 3 - 1.5"),
    finish="23:00",
    warm_up=30,
)

Command = Callable[[Path], object]


def fresh(folder: Path) -> None:
    """A day of which nothing is there but day.toml."""
    folder.mkdir(parents=True)
    (folder / "day.toml").write_text(DAY, encoding="utf-8")


def begun(folder: Path) -> None:
    """Three pulls and a void."""
    fresh(folder)
    simulated_disk.first_pulls(folder)


def planned(folder: Path) -> None:
    """A day with its plan and no pull."""
    fresh(folder)
    plan(folder)


def under_way(folder: Path) -> None:
    """The same with three pulls and a void."""
    planned(folder)
    simulated_disk.first_pulls(folder)


def judged(folder: Path) -> None:
    """A day of two sets, of which an early look was shown."""
    fresh(folder)
    for oil in ("15W-50", "0W-20", "15W-50"):
        entries = [Entry(value=401.0 + at, note=f"{oil} {at}", settings={"oil": oil}) for at in range(4)]
        entries = [replace(entry, note=f"{len(simulated_disk.pulls_of(folder))} {entry.note}") for entry in entries]
        record_pulls(folder, entries, now=simulated_disk.NOON)
    judge(folder, look=True)


def by_hand(folder: Path) -> None:
    """A value edited in the table, taken as it stands."""
    begun(folder)
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("401", "401.5"), encoding="utf-8")


def damaged(folder: Path) -> None:
    """A table that can't be read."""
    begun(folder)
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("402", "4x2"), encoding="utf-8")


def behind(folder: Path) -> None:
    """Tables and plan that lack what the journal has."""
    under_way(folder)
    for name in ("voids.csv", "plan.csv"):
        (folder / name).unlink()


def waiting(folder: Path) -> None:
    """A number that has no place yet."""
    begun(folder)
    number(folder)


def plan(folder: Path) -> None:
    """A plan, of the whole day or, where pulls were logged, of its rest."""
    _told(lambda: _Drawn(read_day_file(folder)).save(folder))


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A plan that nobody searched for."""

    day: DayFile
    added: tuple[tuple[str, str], ...] = ()  #: what joins with it

    def save(self, folder: Path) -> tuple[Note, ...]:
        day, rest = self.day, bool(simulated_disk.pulls_of(folder))
        document = {**seal_entries(day), "seed": 1 + rest, **({"not_randomised": "one order"} if rest else {})}
        if self.added:
            document[ADDED] = [{"factor": factor, "level": level} for factor, level in self.added]
        stints = [Stint({**day.baseline, factor: level}, 4) for factor, level in (("oil", "0W-20"), *self.added)]
        runs = lay_out(day, [Stint(day.baseline, 4 + rest), *stints])
        return save_plan(folder, day, runs, document, ["ab", "ba"], rest=rest)


def judge(folder: Path, *, look: bool = False) -> None:
    """A verdict, which is shown only where it is in the ledger."""
    _kept(lambda: judge_and_log(folder, look=look, final=not look))


def report(folder: Path) -> None:
    """The same with its page, whose drawing is left out here."""
    with mock.patch.object(html, "report_page", lambda *a, **k: "<html>"):
        found = _kept(lambda: judge_and_log(folder, final=True))
        with suppress(DoeError):  # the verdict was shown by then: the page is written anew
            _told(lambda: html.write_report(folder, found))


def sheet(folder: Path) -> None:
    """A sheet is noted."""
    _told(lambda: note_sheet(folder, read_run_sheet(folder), "sheet.html"))


def number(folder: Path) -> None:
    """A number that is typed while day.toml is wrong."""
    log_unplaced(folder, Said(("404.5",), note="n0"), InputError("day.toml: a slip"), now=simulated_disk.NOON)


def check(folder: Path) -> None:
    """A check mends, and says where it can't."""
    _told(lambda: _mended(check_folder(folder)))


def _mended(found: Checked) -> None:
    if any(note.code == "only-read" for note in found.notes):
        raise DoeError("nothing was mended: the folder is only read")
    if found.remaining:
        raise UnsureError("do not type it again: something remains")


def fix(folder: Path) -> None:
    """Two pulls get other parts."""
    fix_pulls(folder, "1-2", settings={"oil": "0W-20"}, now=simulated_disk.NOON)


def fixed(folder: Path) -> None:
    """A day whose first pulls were fixed."""
    begun(folder)
    fix(folder)


def unfix(folder: Path) -> None:
    """A fix is undone."""
    undo_fix(folder, now=simulated_disk.NOON)


def closed(folder: Path) -> None:
    """A day that is over before its plan is."""
    judged(folder)
    judge(folder)


def reopen(folder: Path) -> None:
    """A closed day goes on."""
    _told(lambda: reopen_day(folder, now=simulated_disk.NOON))


def join(folder: Path) -> None:
    """An oil that arrives at noon joins the day."""
    _told(lambda: _joined(folder))


def _joined(folder: Path) -> None:
    asked = joining(folder, read_day_file(folder), ["oil=5W-30:2"])
    refuse_broken_seal(folder, read_day_file(folder))
    asked.save(folder, cast(Plan, _Drawn(asked.day, asked.added)))


def joined(folder: Path) -> None:
    """A day that an oil has joined."""
    under_way(folder)
    join(folder)


def planned_anew(folder: Path) -> None:
    """A day whose rest was planned."""
    under_way(folder)
    plan(folder)


def unplan(folder: Path) -> None:
    """A plan is taken back, and what had joined by it."""
    _told(lambda: take_back(folder))


def take(folder: Path) -> None:
    """A check takes the log as it is."""
    adopt(folder, "typed anew", now=simulated_disk.NOON)


def _kept(command: Callable[[], Judgement]) -> Judgement:
    """A verdict, with what is said of its way into the ledger."""
    found: list[Judgement] = []
    _told(lambda: found.append(command()))
    if (found[0].unkept or "").startswith("NOT SURE"):
        raise UnsureError(f"do not type it again: {found[0].unkept}")
    if found[0].unkept:
        raise DoeError(f"nothing was kept: {found[0].unkept}")
    return found[0]


def _told(command: Callable[[], object]) -> None:
    """What the command line would say of an error of the system."""
    try:
        command()
    except UnsureWriteError as error:
        raise UnsureError(f"do not type it again: {error}") from None
    except OSError as error:
        raise DoeError(f"nothing was done: {error}") from None
    except UnsureError as error:
        raise UnsureError(f"do not type it again: {error}") from None
    except DoeError as error:
        if "is logged" not in str(error):  # a file of a plan that lags behind
            raise DoeError(f"nothing was done: {error}") from None


@dataclass(frozen=True, slots=True)
class Situation:
    """A command, and the day on which it is typed."""

    command: Command
    day: Callable[[Path], None]


_PULLS = simulated_disk.COMMANDS
SITUATIONS: dict[str, Situation] = {
    **{f"{name}, begun": Situation(command, begun) for name, command in _PULLS.items()},
    "a pull, fresh": Situation(_PULLS["a pull"], fresh),
    "a pull with readings, fresh": Situation(_PULLS["a pull with readings"], fresh),
    "a pull, planned": Situation(_PULLS["a pull"], planned),
    "a pull, under way": Situation(_PULLS["a pull"], under_way),
    "a pull, tables behind": Situation(_PULLS["a pull"], behind),
    "a pull, the table damaged": Situation(_PULLS["a pull"], damaged),
    "a pull, a value by hand": Situation(_PULLS["a pull"], by_hand),
    "a pull, a number waiting": Situation(_PULLS["a pull"], waiting),
    "a void, the table damaged": Situation(_PULLS["a void"], damaged),
    "a void, under way": Situation(_PULLS["a void"], under_way),
    "a plan, fresh": Situation(plan, fresh),
    "a plan, planned": Situation(plan, planned),
    "a plan for the rest, begun": Situation(plan, begun),
    "a plan for the rest, under way": Situation(plan, under_way),
    "a plan taken back, planned anew": Situation(unplan, planned_anew),
    "a plan taken back, joined": Situation(unplan, joined),
    "a part that joins, under way": Situation(join, under_way),
    "a judgement, judged": Situation(judge, judged),
    "a report, judged": Situation(report, judged),
    "a sheet, planned": Situation(sheet, planned),
    "a sheet, under way": Situation(sheet, under_way),
    "a number without a place, fresh": Situation(number, fresh),
    "a number without a place, under way": Situation(number, under_way),
    "a check, tables behind": Situation(check, behind),
    "a check, a number waiting": Situation(check, waiting),
    "a fix, begun": Situation(fix, begun),
    "a fix, under way": Situation(fix, under_way),
    "an undone fix, fixed": Situation(unfix, fixed),
    "a pull, fixed": Situation(_PULLS["a pull"], fixed),
    "a reopening, closed": Situation(reopen, closed),
    "an adoption, a value by hand": Situation(take, by_hand),
}


def state_of(folder: Path) -> dict[str, Any]:
    """What may not be lost of a day, each under a name of its own."""
    day = read_day_file(folder)
    followed = followed_plan(folder, day)
    log = read_log(folder, day, None, salvage=True)
    told = simulated_disk.told(log.pulls)
    for one in events_of(folder, UNPLACED):  # a number that has its place is the same, wherever it waits
        told.setdefault(str(one.payload["said"]["note"]), one.payload["said"]["values"])
    return {
        **told,
        "the plan": tuple((run.run, run.install, tuple(run.configuration.items())) for run in followed.runs)
        if followed
        else (),
        "asked": [question for question in _sealed(followed) if question in _questions(day)],
        "the verdicts": [(look.look, look.final, look.told) for look in read_looks(folder)],
        "sheets": len(events_of(folder, SHEET)),
        "edited": len(log.edited),
        "closed and opened": len(events_of(folder, CLOSE, REOPEN)),
    }


def _sealed(followed: PlanFile | None) -> list[tuple[str, str]]:
    """The questions that a plan has sealed; whatever day.toml asks besides can wait."""
    factors = followed.document["sealed"]["factors"] if followed else []
    return [(factor["name"], change["level"]) for factor in factors for change in factor["changes"]]


def _questions(day: DayFile) -> list[tuple[str, str]]:
    return [(factor.name, change.level) for factor, change in day.questions]


def is_sound(folder: Path) -> Checked:
    """A check; that a damaged table has to be mended is known here, until the next command sets it aside."""
    found = check_folder(folder)
    known = ("4x2", "pulls.csv: pull 1: mean power")
    return replace(found, remaining=tuple(line for line in found.remaining if not any(word in line for word in known)))


def copied(ready: Path, folder: Path) -> Path:
    """The day anew."""
    return Path(shutil.copytree(ready, folder))
