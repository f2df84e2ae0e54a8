"""Random faults for a day's log: what spreadsheets, hands and accidents do to tables, and what happens to clocks."""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from doe.day.clock import lay_out
from doe.day.clocks.stamp import Stamp
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.log.planned.followed import followed_plan
from doe.day.log.planned.plan_writing import log_plan
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import Recorded, record_pulls
from doe.day.pilot.voiding import void_pull
from doe.day.records import Stint
from doe.day.storage import only_writer

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
TABLES = ("pulls.csv", "voids.csv", "readings.csv", "plan.csv", "plan.json", "orders.txt")


def begun_day(folder: Path, day_text: str) -> None:
    """A day with a plan, six pulls with readings, two of them void."""
    (folder / "day.toml").write_text(day_text, encoding="utf-8")
    day = read_day_file(folder)
    thin = {**day.baseline, "oil": "0W-20"}
    runs = lay_out(day, [Stint(day.baseline, 4), Stint(thin, 4), Stint(day.baseline, 4)])
    with only_writer(folder):
        log_plan(folder, day, PlanFile(tuple(runs), {"seed": 1}, ("AB", "BA")), rest=False)
    for at in range(6):
        record_pulls(folder, [Entry(value=400.0 + at, columns={"knock": 1.0 + at})], now=_later(at))
    void_pull(folder, 2, "knock", now=_later(6))
    void_pull(folder, 5, 'a "slip", really', now=_later(7))


def _later(at: int) -> dt.datetime:
    return NOON + dt.timedelta(minutes=4 * at)


def values_of(folder: Path) -> dict[int, tuple[float | None, str | None]]:
    """Value and void of each pull."""
    day = read_day_file(folder)
    pulls = read_log(folder, day, followed_plan(folder, day), salvage=True).pulls
    return {pull.number: (pull.values.get("mean power"), pull.void) for pull in pulls}


# Harmless: another way to write the same table.
def in_a_dialect(text: str, chance: random.Random) -> bytes:
    """The table as another program saves it."""
    rows = list(csv.reader(io.StringIO(text)))
    delimiter, decimal = chance.choice([(",", "."), (";", ","), (";", "."), ("\t", "."), ("\t", ",")])
    if decimal == ",":
        rows = [rows[0], *([cell.replace(".", ",") if _is_number(cell) else cell for cell in row] for row in rows[1:])]
    if chance.random() < 0.3:
        rows[0] = [chance.choice([title, title.upper(), f" {title} "]) for title in rows[0]]
    if chance.random() < 0.3:
        order = list(range(len(rows[0])))
        chance.shuffle(order)
        rows = [[row[at] for at in order] for row in rows]
    out = io.StringIO(newline="")
    quoting = chance.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
    writer = csv.writer(out, delimiter=delimiter, lineterminator=chance.choice(["\n", "\r\n"]), quoting=quoting)
    writer.writerows(rows)
    first = f"sep={delimiter}\n" if chance.random() < 0.1 else ""
    return (first + out.getvalue()).encode(chance.choice(["utf-8", "utf-8-sig", "utf-16", "cp1252"]))


def _is_number(cell: str) -> bool:
    return cell.count(".") == 1 and cell.replace(".", "").isdecimal()


# Harmful: something is lost, or can't be read.
def _cells(text: str, chance: random.Random, word: str) -> bytes:
    rows = list(csv.reader(io.StringIO(text)))
    row = chance.randrange(len(rows))
    rows[row][chance.randrange(len(rows[row]))] = word
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode()


def _cut(text: str, chance: random.Random) -> bytes:
    data = text.encode()
    return data[: chance.randrange(len(data))]


def _bytes(text: str, chance: random.Random) -> bytes:
    data = bytearray(text.encode())
    for _ in range(chance.randint(1, 8)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    return bytes(data)


def _lines(text: str, chance: random.Random) -> bytes:
    lines = text.splitlines(keepends=True)
    chance.shuffle(lines)
    return "".join(lines[: chance.randint(0, len(lines))]).encode()


def _doubled(text: str, chance: random.Random) -> bytes:
    lines = text.splitlines(keepends=True)
    lines.insert(chance.randrange(len(lines)), chance.choice(lines))
    return "".join(lines).encode()


WORDS = ("", "x", "-1", "0", "1e999", "nan", "25:99", "16.5.2026 9:00", "thick", "=1+1", "999999999", "4;5", '"', "yes")
DAMAGES: dict[str, Callable[[str, random.Random], bytes]] = {
    "a cell": lambda text, chance: _cells(text, chance, chance.choice(WORDS)),
    "cut off": _cut,
    "other bytes": _bytes,
    "lines lost and out of order": _lines,
    "a line twice": _doubled,
    "separators": lambda text, chance: chance.choice([b";;;;\n", b",,\n,,\n", b"\t\t", b'""']),
    "zeros": lambda text, chance: text.encode() + bytes(chance.randint(1, 64)),
    "only zeros": lambda text, chance: bytes(chance.randint(1, 64)),
    "nothing": lambda text, chance: b"",
    "no text": lambda text, chance: chance.randbytes(200),
    "json": lambda text, chance: b'{"format": 1, "runs": [1, null, {"run": []}]}',
}


@dataclass
class Outcome:
    """What became of one damaged folder."""

    recorded: Recorded | None = None
    faults: list[str] = field(default_factory=list)  #: what should not have happened


def after_a_dialect(folder: Path, chance: random.Random) -> Outcome:
    """A table saved in another way: nothing differs, and a pull is logged in it."""
    before, outcome = values_of(folder), Outcome()
    name = chance.choice([one for one in TABLES[:4] if (folder / one).exists()])
    text = (folder / name).read_text(encoding="utf-8")
    (folder / name).write_bytes(in_a_dialect(text, chance))
    if values_of(folder) != before:
        outcome.faults.append(f"{name}: other values")
    outcome.recorded = record_pulls(folder, [Entry(value=450.0)], now=_later(10))
    if outcome.recorded.pulls[0].number != 7 or values_of(folder) != {**before, 7: (450.0, None)}:
        outcome.faults.append(f"{name}: other values after a pull")
    if list(folder.glob("*-damaged-*")):
        outcome.faults.append(f"{name}: set aside")
    return outcome


def after_a_damage(folder: Path, chance: random.Random, what: str) -> Outcome:
    """Damaged tables: a number is logged all the same, as a pull of its own, and nothing that was logged is lost."""
    before, outcome = values_of(folder), Outcome()
    for name in chance.sample([one for one in TABLES if (folder / one).exists()], chance.randint(1, 2)):
        text = (folder / name).read_text(encoding="utf-8")
        (folder / name).write_bytes(DAMAGES[what](text, chance))
    outcome.recorded = record_pulls(folder, [Entry(value=450.0)], now=_later(10))
    number = outcome.recorded.pulls[0].number
    after = values_of(folder)
    if number in before or after.get(number, (None,))[0] != 450.0:
        outcome.faults.append(f"pull {number} is not there")
    if not before.keys() <= after.keys():
        outcome.faults.append(f"lost: {before.keys() - after.keys()}")
    again = record_pulls(folder, [Entry(value=451.0)], now=_later(11)).pulls[0].number
    if again <= number:
        outcome.faults.append(f"pull {again} after pull {number}")
    checked = check_folder(folder)
    if checked.pulls != len(after) + 1:
        outcome.faults.append(f"check counts {checked.pulls}, not {len(after) + 1}")
    return outcome


@dataclass
class Machine:
    """A laptop in the cell: true time passes, and its clocks show what they like."""

    passed: float = 0.0  #: true time [s]
    put: float = 0.0  #: the wall clock less the true one [s]
    offset: int = 7200
    boots: int = 0
    started: float = -1000.0

    def clock(self) -> Stamp:
        """What the clocks say."""
        wall = NOON.timestamp() + self.passed + self.put
        return Stamp(wall, self.offset, f"boot {self.boots}", self.passed - self.started)


def after_clock_faults(folder: Path, chance: random.Random, pulls: int = 8) -> list[str]:
    """Pulls between which the clocks are set, moved and the machine is started anew; what was wrong."""
    machine, faults, truth = Machine(), [], []
    for at in range(pulls):
        machine.passed += chance.uniform(200, 2000)
        if at:
            _happens(machine, chance)
        recorded = record_pulls(folder, [Entry(value=400.0 + at)], now=machine.clock())
        truth.append((machine.boots, machine.passed))
        if recorded.pulls[0].count != "yes":
            faults.append(f"pull {at + 1}: {recorded.pulls[0].count}")
    minutes = [pull.minute for pull in read_log(folder, read_day_file(folder), None).pulls]
    for at in range(1, pulls):
        boot, passed = truth[at]
        if boot == truth[at - 1][0]:
            logged = 60 * ((minutes[at] or 0.0) - (minutes[at - 1] or 0.0))
            if abs(logged - (passed - truth[at - 1][1])) > 4.5:
                faults.append(f"pull {at + 1}: {logged:.0f} s instead of {passed - truth[at - 1][1]:.0f} s")
    return faults


def _happens(machine: Machine, chance: random.Random) -> None:
    what = chance.choice(["nothing", "put", "zone", "boot", "summer", "right again", "slow"])
    if what == "put":
        machine.put += chance.choice([-1, 1]) * chance.choice([5.0, 60.0, 3600.0, 86_400.0])
    elif what == "zone":
        machine.offset = 3600 * chance.randint(-11, 13)
    elif what == "summer":
        machine.offset -= 3600
    elif what == "boot":
        machine.boots += 1
        machine.started = machine.passed - chance.uniform(10, 300)
    elif what == "right again":
        machine.put, machine.offset = 0.0, 7200
    elif what == "slow":
        machine.put += chance.uniform(-1, 1)
