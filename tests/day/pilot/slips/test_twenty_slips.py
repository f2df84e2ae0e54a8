"""Twenty slips of a tired tester, typed as they happen: what is said, and how many keys the mending takes.

The table in docs/running-the-day.md is `table()`. The day is invented; its clock is the test's.
"""

from __future__ import annotations

import datetime as dt
import re
import shlex
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import pytest
from day_files import day_file, factor
from typed import Done, typed

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.files.seal import seal_entries
from doe.day.log.planned.followed import followed_plan
from doe.day.log.planned.plan_writing import log_plan
from doe.day.log.reading import PullLog, read_log
from doe.day.records import Stint
from doe.day.storage import only_writer

PAGE = Path(__file__).parents[4] / "docs" / "running-the-day.md"
DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 30 1 2.0", refit=True),
    factor("vacuum", "off", "on 6 6 - 1.5"),
    warm_up=30,
    noise="pull_sd = 1.0",
)
SETS = (("15W-50", "off", 3), ("0W-20", "off", 2), ("0W-20", "on", 2), ("15W-50", "off", 3))
VALUES = ("431.2", "430.8", "431.5", "434.9", "435.2", "435.6", "435.1", "435.4")
ENDS = ("08:34", "08:38", "08:42", "09:16", "09:20", "09:24", "09:34", "09:38")


class Bench:
    """A planned day, a tester in its folder, and a clock that the test sets."""

    def __init__(self, folder: Path, clock: Callable[[dt.datetime], None]) -> None:
        folder.mkdir()
        self.folder, self._clock = folder, clock
        (folder / "day.toml").write_text(DAY, encoding="utf-8")
        day = read_day_file(folder)
        runs = lay_out(day, [Stint({"oil": oil, "vacuum": vacuum}, pulls) for oil, vacuum, pulls in SETS])
        self.at("07:30")
        with only_writer(folder):
            log_plan(folder, day, PlanFile(tuple(runs), {**seal_entries(day)}), rest=False)

    def at(self, clock: str) -> None:
        """It is so late."""
        hour, minute, *second = map(int, clock.split(":"))
        self._clock(dt.datetime(2026, 5, 16, hour, minute, *second).astimezone())

    def types(self, line: str, answers: str = "") -> Done:
        """A line after `doe`, in the folder."""
        return typed(*shlex.split(line), cwd=self.folder, answers=answers)

    def pulls(self, count: int) -> None:
        """The first pulls, as planned."""
        for clock, value in zip(ENDS[:count], VALUES, strict=False):
            self.at(clock)
            assert not self.types(f"record {value}").stderr, clock

    @property
    def log(self) -> PullLog:
        """The log as it is."""
        day = read_day_file(self.folder)
        return read_log(self.folder, day, followed_plan(self.folder, day))

    def counting(self) -> list[tuple[str, str, int | None]]:
        """Number, oil and step of each pull that is not void, in the order of the numbers."""
        return [
            (f"{pull.values['mean power']:g}", pull.configuration["oil"], pull.run)
            for pull in self.log.pulls
            if pull.void is None
        ]


@dataclass(frozen=True)
class Slip:
    """One slip: what was done before, the slip, what is said, what mends it, and how one sees that it did."""

    name: str
    pulls: int  #: made before, as planned
    clock: str  #: when it happens
    line: str  #: what is typed, after `doe`
    says: str  #: what is printed; "…" stands for what is left out here
    answer: str = ""  #: typed to the question that follows
    mends: tuple[str, ...] = ()  #: lines that are typed then, after `doe`
    by_hand: Callable[[Bench], object] | None = None  #: the mending in an editor
    right: Callable[[Bench], bool] = lambda bench: True
    before: Callable[[Bench], object] = lambda bench: None

    @property
    def mending(self) -> str:
        """What the tester types to mend it, for the table."""
        answered = [f"`{self.answer.strip()}`" if self.answer.strip() else "Enter"] * bool(self.answer)
        edited = ["the old value again, in an editor"] * (self.by_hand is not None)
        return ", ".join([*answered, *(f"`doe {line}`" for line in self.mends), *edited]) or "nothing"

    @property
    def keys(self) -> int:
        """How many keys that takes, with the Enter of each line."""
        return len(self.answer) + sum(len(f"doe {line}") + 1 for line in self.mends)

    def is_said(self, printed: str) -> bool:
        """Whether all of `says` is printed, in this order."""
        parts = [re.escape(" ".join(part.split())) for part in self.says.split("…")]
        return re.search(".*".join(parts), " ".join(printed.split())) is not None


def last(*expected: object) -> Callable[[Bench], bool]:
    """The last pull that is not void is this one."""
    return lambda bench: bench.counting()[-1] == expected


def edit(name: str, old: str, new: str) -> Callable[[Bench], None]:
    """Somebody edits a file."""

    def edited(bench: Bench) -> None:
        path = bench.folder / name
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    return edited


SLIPS = (
    Slip(
        "two digits swapped", 2, "08:42", "record 413.5",
        "413.5 is 18 hp below the other pulls with these parts: keep, or doe record --redo 3 VALUE?",
        "431.5\n", right=last("431.5", "15W-50", 3),
    ),
    Slip(
        "the point left out", 2, "08:42", "record 4315",
        "4315 is 3884 hp above the other pulls with these parts: keep, or doe record --redo 3 VALUE?",
        "431.5\n", right=last("431.5", "15W-50", 3),
    ),
    Slip(
        "the day's first number was the wrong one", 0, "08:38", "record 430.8",
        "430.8 is 3881 hp below pull 1 … either 4312 or this one is wrong: keep both, or …",
        "1 431.2\n", right=lambda bench: [row[0] for row in bench.counting()] == ["430.8", "431.2"],
        before=lambda bench: bench.at("08:34") or bench.types("record 4312"),
    ),
    Slip(
        "typed twice", 2, "08:38:20", "record 430.8", "430.8 is the number of pull 2 again: keep, or doe void 3 …",
        "v\n", right=lambda bench: len(bench.counting()) == 2,
    ),
    Slip(
        "typed again, with other digits", 2, "08:38:40", "record 430.9",
        "40 s after pull 2, and a pull takes 4 min: keep, or doe void 3 …",
        "v\n", right=lambda bench: len(bench.counting()) == 2,
    ),
    Slip(
        "a pull forgotten, the oil changed, the next one logged", 2, "09:16", "record 434.9",
        "38 min after pull 2 it is taken as the next set's first (oil 0W-20 … step 3 … is not logged …",
        "\n", ("record 431.5 --time 08:42",),
        right=lambda bench: bench.counting()[2:] == [("434.9", "0W-20", 4), ("431.5", "15W-50", 3)],
    ),
    Slip(
        "a long talk, then one more pull of the same set", 2, "09:14", "record 431.5",
        "36 min after pull 2 it is taken as the next set's first … Was nothing changed? …",
        "n\n", right=last("431.5", "15W-50", 3),
    ),
    Slip(
        "the oil was not changed, and the plan believes it", 3, "08:46", "record 431.1",
        "the work before it takes 30 min by day.toml, but 0 min have passed; if it was not done: …",
        mends=("record --redo 4 --set oil=15W-50 431.1",), right=last("431.1", "15W-50", None),
    ),
    Slip(
        "another oil was on for a whole set, seen later", 6, "09:40", "log", "pull at … oil … fitting step … 0W-20 …",
        mends=("fix 4-6 --set oil=15W-50",), right=lambda bench: {row[1] for row in bench.counting()} == {"15W-50"},
    ),
    Slip(
        "the log is a set behind what was on", 3, "08:50", "log", "pull at … oil … fitting step … 15W-50 …",
        mends=("fix 1-3 --later 1",), right=lambda bench: {row[1] for row in bench.counting()} == {"0W-20"},
    ),
    Slip(
        "the wrong stretch was fixed", 6, "09:40", "fix 3-6 --set oil=15W-50", "… take it back: doe fix --undo",
        mends=("fix --undo",), right=lambda bench: bench.counting()[-1][1] == "0W-20",
    ),
    Slip(
        "the wrong pull taken out", 3, "08:43", "void 2 --why knock", "does not count any more: pull 2: 430.8 hp, …",
        mends=("void 2 --undo",), right=lambda bench: len(bench.counting()) == 3,
    ),
    Slip(
        "the throw-away pull logged as one that counts", 3, "09:16", "record 434.9 --count yes",
        "day.toml asks for 1 throw-away pull after this work; if this was one: doe record --redo 4 --count settling",
        mends=("record --redo 4 --count settling 434.9",),
        right=lambda bench: bench.log.pulls[-1].count == "settling",
    ),
    Slip(
        "the engine was warm early", 0, "08:24", "record 431.2",
        "taken as warm-up, not counted: the warm-up lasts until 08:30; --count yes if the engine is warm",
        mends=("record --redo 1 --count yes 431.2",), right=lambda bench: bench.log.pulls[-1].count == "yes",
    ),
    Slip(
        "two commas in the number", 2, "08:42", "record 431,,5",
        "'431,,5': expected a number, such as 431.2 … nothing was logged",
        mends=("record 431,5",), right=last("431.5", "15W-50", 3),
    ),
    Slip(
        "a level spelled by ear", 3, "08:46", "record 431.1 --set oil=15W50x",
        "'15W50x' is no level of oil; expected 15W-50 or 0W-20; did you mean '15W-50'? … nothing was logged",
        mends=("record 431.1 --set oil=15w50",), right=last("431.1", "15W-50", None),
    ),
    Slip(
        "the day ended with half of its plan open", 6, "09:40", "judge --final",
        "This ends the day: 5 pulls that count made; the 5 still to come are given up … nothing was shown, and nothing"
        " spent",
        "\n", right=lambda bench: not (bench.folder / "looks.csv").exists(),
    ),
    Slip(
        "the day ended, and there is time after all", 6, "09:40", "record 435.1",
        "this day is closed: it is logged, and left out of the verdict; to let it count: doe judge --reopen",
        mends=("judge --reopen",), right=lambda bench: "closed" not in bench.types("next").stdout,
        before=lambda bench: bench.types("judge --final --yes"),
    ),
    Slip(
        "a cell of pulls.csv spoiled in a spreadsheet", 3, "08:46", "record 431.1 --set oil=15W-50",
        "pulls.csv can't be read, so it is set aside as pulls-damaged-1.csv and made anew from the journal …",
        right=lambda bench: [row[0] for row in bench.counting()] == ["431.2", "430.8", "431.5", "431.1"],
        before=edit("pulls.csv", ",430.8,", ",43o.8,"),
    ),
    Slip(
        "[noise] bettered during the day", 3, "08:43", "next",
        "day.toml, line 12: edited after the first pull, although it is sealed: [noise] pull_sd was 1.0, is 0.5; …",
        by_hand=edit("day.toml", "pull_sd = 0.5", "pull_sd = 1.0"),
        right=lambda bench: "agree" in bench.types("check").stdout,
        before=edit("day.toml", "pull_sd = 1.0", "pull_sd = 0.5"),
    ),
)  # fmt: skip


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """The day; somebody sits at the terminal."""
    wall = [0.0]
    clock = SimpleNamespace(time=lambda: wall[0], clock_gettime=lambda _: wall[0], CLOCK_BOOTTIME=7)
    monkeypatch.setattr("doe.day.clocks.stamp.time", clock)
    monkeypatch.setattr("doe.cli.asking.somebody_there", lambda: True)
    return Bench(tmp_path / "day", lambda moment: wall.__setitem__(0, moment.timestamp()))


@pytest.mark.parametrize("slip", SLIPS, ids=[slip.name for slip in SLIPS])
def test_what_is_said_mends_it(slip, bench):
    bench.pulls(slip.pulls)
    slip.before(bench)
    bench.at(slip.clock)
    done = bench.types(slip.line, slip.answer)
    said = done.stdout + done.stderr
    assert slip.is_said(said), said
    for line in slip.mends:
        mended = bench.types(line)
        assert mended.returncode == 0, mended.stderr
    if slip.by_hand:
        slip.by_hand(bench)
    assert slip.right(bench), (bench.counting(), said)


def table() -> list[str]:
    """The table of the page."""
    rows = [f"| {slip.name} | {slip.says} | {slip.mending} | {'' if slip.by_hand else slip.keys} |" for slip in SLIPS]
    return ["| slip | what is said | what mends it | keys |", "| --- | --- | --- | --- |", *rows]


def test_the_page_has_the_table():
    assert len(SLIPS) == 20
    assert "\n".join(table()) in PAGE.read_text(encoding="utf-8")
