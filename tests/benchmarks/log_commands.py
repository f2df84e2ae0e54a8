"""What log_situations.py puts under fire: commands that write, and the days on which they are typed."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast
from unittest import mock

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "shared"), str(TESTS / "day"), str(TESTS / "day" / "pilot")]

import simulated_disk  # noqa: E402
from day_files import day_file, factor  # noqa: E402

from doe.analysis.judging.folders import judge_and_log  # noqa: E402
from doe.analysis.judging.judgement import Judgement  # noqa: E402
from doe.cell.traces.layout import Layout  # noqa: E402
from doe.cli.day.joining import joining  # noqa: E402
from doe.cli.day.late_day import take_back  # noqa: E402
from doe.day.clock import lay_out  # noqa: E402
from doe.day.files.dayfile import read_day_file  # noqa: E402
from doe.day.files.planfile import ADDED  # noqa: E402
from doe.day.files.seal import seal_entries  # noqa: E402
from doe.day.log.marks.closing import reopen_day  # noqa: E402
from doe.day.pilot.adopting import adopt  # noqa: E402
from doe.day.pilot.coming.sealed_edits import note_edits  # noqa: E402
from doe.day.pilot.entries import Entry  # noqa: E402
from doe.day.pilot.integrity import check_folder  # noqa: E402
from doe.day.pilot.recording import record_pulls  # noqa: E402
from doe.day.pilot.said import Said  # noqa: E402
from doe.day.pilot.settings.noise_table import save_noise  # noqa: E402
from doe.day.pilot.settings.traces_table import save_traces  # noqa: E402
from doe.day.pilot.settings.usual_key import save_usual  # noqa: E402
from doe.day.pilot.slips.answers_to_doubts import keep_pull  # noqa: E402
from doe.day.pilot.slips.fixing import fix_pulls, undo_fix  # noqa: E402
from doe.day.pilot.unplaced import log_unplaced  # noqa: E402
from doe.day.pilot.upnext import up_next  # noqa: E402
from doe.day.records import Stint  # noqa: E402
from doe.day.schema import DayFile  # noqa: E402
from doe.day.sheet.run_sheet import read_run_sheet  # noqa: E402
from doe.day.sheet.sheet_record import note_sheet  # noqa: E402
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
    """A check mends, and says where it can't; one that breaks off says only why."""
    try:
        found = check_folder(folder)
    except (DoeError, OSError) as error:
        raise UnsureError(f"do not type it again: {error}") from None
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
    _told(lambda: _joined(folder, "oil=5W-30:2"))


def join_anew(folder: Path) -> None:
    """A part that day.toml has not at all joins the day."""
    _told(lambda: _joined(folder, "restrictor=32 mm:2", fitting_minutes=5.0))


def _joined(folder: Path, text: str, *, fitting_minutes: float | None = None) -> None:
    asked = joining(folder, read_day_file(folder), [text], fitting_minutes=fitting_minutes)
    refuse_broken_seal(folder, read_day_file(folder))
    asked.save(folder, cast(Plan, _Drawn(asked.day, asked.added)))


def joined(folder: Path) -> None:
    """A day that an oil has joined."""
    under_way(folder)
    join(folder)


def joined_anew(folder: Path) -> None:
    """A day that a new part has joined."""
    under_way(folder)
    join_anew(folder)


def planned_anew(folder: Path) -> None:
    """A day whose rest was planned."""
    under_way(folder)
    plan(folder)


def unplan(folder: Path) -> None:
    """A plan is taken back, and what had joined by it."""
    _told(lambda: take_back(folder))


def keep(folder: Path) -> None:
    """A pull that was asked about is right as it is."""
    keep_pull(folder, 2, now=simulated_disk.NOON)


def edited(folder: Path) -> None:
    """A day on which a sealed value was edited after the first pull."""
    under_way(folder)
    path = folder / "day.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("2.0", "2.5"), encoding="utf-8")


def step(folder: Path) -> None:
    """The next step, which tells once what was edited."""
    _told(lambda: note_edits(folder, up_next(folder).edits))


def noise(folder: Path) -> None:
    """What a study found goes into day.toml."""
    _set(lambda: save_noise(folder, {"pull_sd": 0.4}, "a study"))


def usual(folder: Path) -> None:
    """What the baseline usually makes goes into day.toml."""
    _set(lambda: save_usual(folder, 398.0, 404.0))


def traced(folder: Path) -> None:
    """A fresh day whose metric can be taken from traces."""
    fresh(folder)
    path = folder / "day.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('unit = "hp"', 'unit = "hp"\nwindow_rpm = [3000, 6000]'), encoding="utf-8")


def traces(folder: Path) -> None:
    """How the dyno's exports are mapped goes into day.toml."""
    columns = {"time": "t", "rpm": "n", "torque": "T"}
    _set(lambda: save_traces(folder, Layout(columns, {"time": "s", "torque": "N m"}), "exports"))


def _set(command: Callable[[], object]) -> None:
    """What is told of a file that can't be written doesn't say whether it is the old one or the new one."""
    try:
        _told(command)
    except DoeError as error:
        raise UnsureError(f"do not type it again: {error}") from None


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
