"""The log under fire: system calls that fail, power cuts, kills, recorders at once, tables and clocks at random.

python tests/benchmarks/log_harness.py [--calls] [--cuts] [--only TEXT] [--kills 1000] [--recorders 8] [--tables 2000]
[--clocks 200]

Slices of it stand in the suite (tests/day/pilot). Each part prints how much it ran and every case that went wrong, with
the seed that shows it again; exit status 1 where one did.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "shared"), str(TESTS / "day"), str(TESTS / "day" / "pilot")]

import log_faults  # noqa: E402
import simulated_disk  # noqa: E402
import test_failing_disk as failing  # noqa: E402
import test_lose_nothing as kills  # noqa: E402
import test_power_cut as cuts  # noqa: E402
from day_files import day_file, factor  # noqa: E402

from doe.day import storage  # noqa: E402
from doe.day.clock import lay_out  # noqa: E402
from doe.day.files.dayfile import read_day_file  # noqa: E402
from doe.day.files.planfile import PlanFile  # noqa: E402
from doe.day.files.seal import seal_entries  # noqa: E402
from doe.day.log.planned.plan_writing import log_plan  # noqa: E402
from doe.day.log.reading import read_log  # noqa: E402
from doe.day.pilot.adopting import adopt  # noqa: E402
from doe.day.pilot.integrity import Checked, check_folder  # noqa: E402
from doe.day.records import Pull, Stint  # noqa: E402
from doe.errors import DoeError, InputError  # noqa: E402

DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 20 2 2.0", refit=True),
    factor("crankcase vacuum", "off", "on 2 3 - 1.5"),
    finish="23:00",
    warm_up=30,
)


def by_hand(folder: Path) -> None:
    """A value edited in the table, taken as it stands."""
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("401", "401.5"), encoding="utf-8")


def damaged(folder: Path) -> None:
    """A table that can't be read."""
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("402", "4x2"), encoding="utf-8")


def planned(folder: Path) -> None:
    """A plan for the rest of the day."""
    try:
        day = read_day_file(folder)
        with storage.only_writer(folder):
            runs = tuple(lay_out(day, [Stint(day.baseline, 4)]))
            log_plan(folder, day, PlanFile(runs, {**seal_entries(day), "seed": 2}), rest=True)
    except OSError as error:
        raise DoeError(f"nothing was planned: {error}") from None


def adopted(folder: Path) -> None:
    """A check that takes the log as it is."""
    adopt(folder, "typed anew", now=simulated_disk.NOON)


#: what is done, and to what kind of a begun day
SITUATIONS: dict[str, tuple[Callable[[Path], object], Callable[[Path], None]]] = {
    **{name: (command, lambda folder: None) for name, command in simulated_disk.COMMANDS.items()},
    "a pull, the table damaged": (simulated_disk.COMMANDS["a pull"], damaged),
    "a void, the table damaged": (simulated_disk.COMMANDS["a void"], damaged),
    "a pull, a value by hand": (simulated_disk.COMMANDS["a pull"], by_hand),
    "a plan": (planned, lambda folder: None),
    "an adoption": (adopted, by_hand),
}


ONLY = ""  #: what the name of a situation has to hold


def pulls_of(folder: Path) -> tuple[Pull, ...]:
    """The pulls of a day, its tables damaged or not."""
    return read_log(folder, read_day_file(folder), None, salvage=True).pulls


def checked(folder: Path) -> Checked:
    """A check; that a damaged table has to be mended is known here, until the next command sets it aside."""
    found = check_folder(folder)
    return replace(found, remaining=tuple(line for line in found.remaining if "4x2" not in line))


for module in (failing, cuts):
    vars(module).update(pulls_of=pulls_of, check_folder=checked)


def begun(place: Path, alter: Callable[[Path], None]) -> Path:
    """A day with three pulls and a void."""
    folder = place / "ready"
    folder.mkdir(parents=True)
    (folder / "day.toml").write_text(DAY, encoding="utf-8")
    simulated_disk.first_pulls(folder)
    alter(folder)
    return folder


def each_situation(place: Path) -> Iterator[tuple[str, Callable[[Path], object], Path, Path]]:
    """What is done, on which day, in which place."""
    for at, (name, (command, alter)) in enumerate(SITUATIONS.items()):
        if ONLY not in name:
            continue
        yield name, command, begun(place / str(at), alter), place / str(at)


def failing_calls(place: Path) -> tuple[Counter[str], list[str]]:
    """Every system call of each situation fails, in three ways."""
    ran: Counter[str] = Counter()
    wrong = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        for name, command, ready, own in each_situation(place):
            for kind in failing.KINDS:
                spot = own / kind.replace(" ", "-")
                spot.mkdir()
                runs, run = [], failing.run
                try:
                    with pytest.MonkeyPatch.context() as counting:
                        counting.setattr(failing, "run", lambda *a, run=run, runs=runs: runs.append(1) or run(*a))
                        failing.expect_true_answers(command, ready, spot, kind, patch)
                    ran[f"{name}, {kind}"] = len(runs)
                except Exception as error:
                    wrong.append(f"{name}, {kind}: {_short(error)}")
                shutil.rmtree(spot, ignore_errors=True)
    return ran, wrong


def power_cuts(place: Path) -> tuple[Counter[str], list[str]]:
    """The power is cut at each step of each situation, in ten ways each."""
    ran: Counter[str] = Counter()
    wrong = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        for name, command, ready, own in each_situation(place):
            spot = own / "cuts"
            spot.mkdir()
            try:
                ran[name] = cuts.expect_no_loss(command, ready, spot, patch)
            except Exception as error:
                wrong.append(f"{name}: {_short(error)}")
            shutil.rmtree(spot, ignore_errors=True)
    return ran, wrong


def killed(place: Path, number: int) -> tuple[Counter[str], list[str]]:
    """Kills at random lines of the writers, forty a day."""
    ran: Counter[str] = Counter()
    wrong = []
    for seed in range(-(-number // kills.KILLS)):
        folder = place / str(seed)
        folder.mkdir()
        (folder / "day.toml").write_text(DAY, encoding="utf-8")
        chance, said, usual = random.Random(1000 + seed), place / f"said-{seed}.txt", 0
        for at in range(kills.KILLS):
            if at % 10 == 0:
                usual = kills.lines_run(kills.log_and_say, folder, said, 1000.0 + at, "knock")
            line = chance.randint(1, round(1.2 * usual))
            child = kills.forked(kills.killed_at_line, line, kills.log_and_say, folder, said, 100.0 + at, "knock")
            ran["killed" if os.WIFSIGNALED(os.waitpid(child, 0)[1]) else "came to its end"] += 1
        try:
            kills.expect_everything(folder, kills.acknowledged(said))
        except Exception as error:
            wrong.append(f"seed {1000 + seed}: {_short(error)}")
    return ran, wrong


def recorders(place: Path, most: int) -> tuple[Counter[str], list[str]]:
    """Two to `most` processes that log five pulls each at the same time."""
    ran: Counter[str] = Counter()
    wrong = []
    for number in range(2, most + 1):
        folder, said = place / str(number), place / f"said-{number}.txt"
        folder.mkdir()
        (folder / "day.toml").write_text(DAY, encoding="utf-8")

        def five(first: int, folder: Path = folder, said: Path = said) -> None:
            for at in range(5):
                kills.log_and_say(folder, said, float(first + at), "knock")

        children = [kills.forked(five, 100 * one) for one in range(1, number + 1)]
        ended = [os.waitpid(child, 0)[1] for child in children]
        told = kills.acknowledged(said)
        ran["pulls"] += len(told)
        try:
            assert not any(ended)
            assert sorted(pull for pull, _ in told) == list(range(1, 5 * number + 1))
            kills.expect_everything(folder, told)
        except Exception as error:
            wrong.append(f"{number} at once: {_short(error)}")
    return ran, wrong


def tables(place: Path, number: int) -> tuple[Counter[str], list[str]]:
    """Dialects and damages, half of each."""
    ready = place / "ready"
    ready.mkdir()
    log_faults.begun_day(ready, DAY)
    ran: Counter[str] = Counter()
    wrong = []
    kinds = list(log_faults.DAMAGES)
    for seed in range(number):
        chance, folder = random.Random(seed), place / str(seed)
        shutil.copytree(ready, folder)
        what = "a dialect" if seed % 2 else kinds[seed // 2 % len(kinds)]
        try:
            found = (
                log_faults.after_a_dialect(folder, chance)
                if seed % 2
                else log_faults.after_a_damage(folder, chance, what)
            )
            wrong += [f"seed {seed}, {what}: {fault}" for fault in found.faults]
        except InputError as error:
            wrong.append(f"seed {seed}, {what}: refused: {_short(error)}")
        except Exception as error:
            wrong.append(f"seed {seed}, {what}: {_short(error)}\n{traceback.format_exc(limit=-3)}")
        ran[what] += 1
        shutil.rmtree(folder)
    return ran, wrong


def clocks(place: Path, number: int) -> tuple[Counter[str], list[str]]:
    """Days of eight pulls with what happens to clocks between them."""
    wrong = []
    for seed in range(number):
        folder = place / str(seed)
        folder.mkdir()
        (folder / "day.toml").write_text(DAY, encoding="utf-8")
        wrong += [f"seed {seed}: {fault}" for fault in log_faults.after_clock_faults(folder, random.Random(seed))]
        shutil.rmtree(folder)
    return Counter({"days": number}), wrong


def _short(error: BaseException) -> str:
    return " ".join(str(error).split())[:300] or type(error).__name__


def main() -> None:
    """Run what is asked for, and print what went wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--calls", action="store_true")
    parser.add_argument("--cuts", action="store_true")
    parser.add_argument("--only", default="", help="calls and cuts: only situations with this in their name")
    for name in ("kills", "recorders", "tables", "clocks"):
        parser.add_argument(f"--{name}", type=int, default=0)
    asked = parser.parse_args()
    globals()["ONLY"] = asked.only
    storage._PATIENCE_SECONDS = 600.0  # whoever waits for another waits as long as the machine needs
    parts: dict[str, tuple[int, Callable[[Path], tuple[Counter[str], list[str]]]]] = {
        "calls": (asked.calls, failing_calls),
        "cuts": (asked.cuts, power_cuts),
        "kills": (asked.kills, lambda place: killed(place, asked.kills)),
        "recorders": (asked.recorders, lambda place: recorders(place, asked.recorders)),
        "tables": (asked.tables, lambda place: tables(place, asked.tables)),
        "clocks": (asked.clocks, lambda place: clocks(place, asked.clocks)),
    }
    bad = False
    for name, (wanted, run) in parts.items():
        if wanted:
            with tempfile.TemporaryDirectory() as place:
                ran, wrong = run(Path(place))
            print(f"{name}: {dict(ran)}", *wrong, f"{len(wrong)} went wrong", sep="\n  ", flush=True)
            bad = bad or bool(wrong)
    sys.exit(bad)


if __name__ == "__main__":
    main()
