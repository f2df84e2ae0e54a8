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
from pathlib import Path
from typing import Any

import log_situations as situations
import pytest
from log_commands import DAY
from log_situations import SITUATIONS, Situation, state_of

from doe.day import storage
from doe.day.log.chain import HEAD
from doe.day.log.events import append_event
from doe.day.log.marks.asked import KEEP
from doe.errors import InputError

import log_faults  # isort: skip  # what log_commands put on the path
import simulated_disk  # isort: skip
import test_failing_disk as failing  # isort: skip
import test_lose_nothing as kills  # isort: skip
import test_power_cut as cuts  # isort: skip

#: what a machine may stop in: besides what is written, also what is renamed, taken away and made
STEPS = (*cuts.STEPS, "unlink", "rename", "mkdir")
LOGGED_LAST = 499.0


def each_situation(place: Path, only: str) -> Iterator[tuple[str, Situation, Path, Path]]:
    """What is done, on which day, in which place."""
    for at, (name, situation) in enumerate(SITUATIONS.items()):
        if only not in name:
            continue
        situation.day(ready := place / str(at) / "ready")
        yield name, situation, ready, place / str(at)


def failing_calls(place: Path, only: str) -> tuple[Counter[str], list[str]]:
    """Every system call of each situation fails, in three ways."""
    ran: Counter[str] = Counter()
    wrong = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        for name, situation, ready, own in each_situation(place, only):
            for kind in failing.KINDS:
                spot = own / kind.replace(" ", "-")
                spot.mkdir()
                before, after = state_of(ready), _after(situation, ready, spot)
                step = 0
                while True:
                    step += 1
                    try:
                        if not _answered(situation, ready, spot / str(step), kind, step, (before, after), patch):
                            break
                    except Exception as error:
                        wrong.append(f"{name}, {kind}, call {step}: {_short(error)}")
                    ran[f"{name}, {kind}"] += 1
                    shutil.rmtree(spot / str(step), ignore_errors=True)
                shutil.rmtree(spot, ignore_errors=True)
    return ran, wrong


def _after(situation: Situation, ready: Path, place: Path) -> dict[str, Any]:
    """What the day holds with what was asked for."""
    situation.command(situations.copied(ready, place / "after"))
    return state_of(place / "after")


def _answered(
    situation: Situation,
    ready: Path,
    place: Path,
    kind: str,
    step: int,
    states: tuple[dict[str, Any], dict[str, Any]],
    patch: pytest.MonkeyPatch,
) -> bool:
    """Let one call fail: the answer must be the true one. Whether there was such a call."""
    folder = situations.copied(ready, place / "day")
    run = failing.Failing(simulated_disk.Disk(folder, place / "held", step), step, kind)
    answer = failing.run(situation.command, run, patch)
    if not run.reached:
        assert answer == "done"
        return False
    seen: list[dict[str, bytes]] = []
    for found in [folder, *simulated_disk.mornings(run.disk, place)]:
        files = {path.name: path.read_bytes() for path in found.iterdir()}
        if files not in seen:
            seen.append(files)
            told_by = f"{answer} when {run.made[step - 1]} failed"
            _expect_true(answer, found, *states, situation, told_by)
    return True


def _expect_true(
    answer: str, folder: Path, before: dict[str, Any], after: dict[str, Any], situation: Situation, told_by: str
) -> None:
    """What a folder holds is what the answer said, and the folder works on."""
    now = state_of(folder)
    if answer == "unsure":
        _expect_either(now, before, after)
    else:
        assert now == (after if answer == "done" else before), f"{told_by}: {_difference(now, before, after)}"
    assert (remaining := situations.is_sound(folder).remaining) == (), f"{told_by}: {remaining}"
    if answer == "not done":
        situation.command(folder)
        again = state_of(folder)
        assert again == after, f"{told_by}, typed again: {_difference(again, before, after)}"
    simulated_disk.log(folder, LOGGED_LAST)
    assert (mended := situations.is_sound(folder).mended) == (), f"{told_by}: {mended}"


def _expect_either(now: dict[str, Any], before: dict[str, Any], after: dict[str, Any]) -> None:
    """Each thing is as it was, or as it was to be."""
    assert before.keys() <= now.keys(), f"lost: {before.keys() - now.keys()}"
    for name, one in now.items():
        assert one in (before.get(name), after.get(name)), f"{name}: {one}"


def _difference(now: dict[str, Any], before: dict[str, Any], after: dict[str, Any]) -> str:
    names = [name for name in {**now, **before, **after} if not now.get(name) == before.get(name) == after.get(name)]
    return "; ".join(
        f"{name}: {now.get(name)}, was {before.get(name)}, asked {after.get(name)}"[:200] for name in names
    )


def power_cuts(place: Path, only: str) -> tuple[Counter[str], list[str]]:
    """The power is cut, or the process killed, at each step of each situation; twenty mornings each at most."""
    ran: Counter[str] = Counter()
    wrong = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        patch.setattr(cuts, "STEPS", STEPS)
        for name, situation, ready, own in each_situation(place, only):
            (spot := own / "cuts").mkdir()
            before, after = state_of(ready), _after(situation, ready, spot)
            step, finished = 0, False
            while not finished:
                step += 1
                folder = situations.copied(ready, spot / str(step) / "day")
                disk = simulated_disk.Disk(folder, spot / str(step) / "held", step)
                finished = cuts.run_until_cut(situation.command, disk, patch)
                for found in [folder, *simulated_disk.mornings(disk, spot / str(step))]:
                    for first in (_nothing, _another_command):
                        ran[name] += 1
                        morning = situations.copied(found, spot / str(step) / f"{found.name}{first.__name__}")
                        try:
                            _expect_sound(morning, after if finished else before, after, first)
                        except Exception as error:
                            wrong.append(f"{name}, step {step}, {morning.name}: {_short(error)}")
                shutil.rmtree(spot / str(step), ignore_errors=True)
            ran[f"steps of {name}"] = step
            shutil.rmtree(spot, ignore_errors=True)
    return ran, wrong


def _nothing(folder: Path) -> None:
    """The pull is the first that is typed in the morning."""


def _another_command(folder: Path) -> None:
    """Something is logged that looks at no table and no plan."""
    append_event(folder, KEEP, {"pull": 1})


def _expect_sound(folder: Path, before: dict[str, Any], after: dict[str, Any], first: Callable[[Path], None]) -> None:
    """All that was there before the command, or that it wanted; the folder works on; the tables hold it all."""
    now = state_of(folder)
    _expect_either(now, before, after)
    first(folder)
    simulated_disk.log(folder, LOGGED_LAST)
    assert (remaining := situations.is_sound(folder).remaining) == (), remaining
    assert (mended := situations.is_sound(folder).mended) == (), mended
    later = state_of(folder)
    waited = [name for name, one in now.items() if name.startswith("n") and isinstance(one, list)]
    lost = [name for name, one in now.items() if name not in ("kept", *waited) and later[name] != one]
    assert lost == [], f"gone by what was logged afterwards: {lost}"
    lying = [path.name for path in folder.iterdir() if path.name.startswith(".") and path.name != HEAD]
    assert lying == [], lying
    told = simulated_disk.told(simulated_disk.pulls_of(folder))
    (folder / "pulls.journal").unlink()
    assert simulated_disk.told(simulated_disk.pulls_of(folder)) == told, "the tables hold it all by themselves"


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
    storage._PATIENCE_SECONDS = 600.0  # whoever waits for another waits as long as the machine needs
    parts: dict[str, tuple[int, Callable[[Path], tuple[Counter[str], list[str]]]]] = {
        "calls": (asked.calls, lambda place: failing_calls(place, asked.only)),
        "cuts": (asked.cuts, lambda place: power_cuts(place, asked.only)),
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
