"""What the command line settles before any room is imported."""

from __future__ import annotations

import gc
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from day_files import day_file, factor

from doe.cli.collector import SELDOM, seldom_collected
from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.records import Stint
from doe.words.screen import MORE

ASKED = "import sys, os, doe.cli; print(os.environ['OPENBLAS_NUM_THREADS'], 'numpy' in sys.modules)"


@pytest.mark.parametrize(("own", "taken"), [(None, "1"), ("3", "3")])
def test_small_matrices_need_one_thread_and_own_settings_stay(own, taken):
    environment = {key: value for key, value in os.environ.items() if key != "OPENBLAS_NUM_THREADS"}
    if own:
        environment["OPENBLAS_NUM_THREADS"] = own
    run = subprocess.run([sys.executable, "-c", ASKED], env=environment, capture_output=True, text=True, check=True)
    assert run.stdout.split() == [taken, "False"]  # settled while numpy has not read it yet


HEAVY = {"scipy.stats", "scipy.optimize", "scipy.interpolate", "pandas", "matplotlib", "rich"}
TABLE = "power,oil,time\n" + "".join(f"{200 + i % 3},{'ab'[i % 2]},{10 * i}\n" for i in range(12))
JUDGED = """
import sys
from doe.cli import main
for words in (sys.argv[1:2], sys.argv[2:]):
    sys.argv = ["doe", "judge", *words]
    try:
        main()
    except SystemExit as left:
        assert not left.code
print(*sys.modules, file=sys.stderr)
"""


def test_judge_starts_without_the_heavy_libraries(tmp_path):
    """Half of a judge's time was loading scipy.stats; a folder and a table, each with all its checks."""
    finished = Path(__file__).parents[1] / "kept_folders" / "first_version" / "finished"
    shutil.copytree(finished, tmp_path / "day")
    (tmp_path / "table.csv").write_text(TABLE)
    table = ["table.csv", "--value", "power", "--change", "oil", "--baseline", "a", "--time", "time"]
    run = subprocess.run(
        [sys.executable, "-c", JUDGED, "day", *table], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert run.stdout.count("hold") == run.stdout.count(MORE) == 2
    assert set(run.stderr.split()) & HEAVY == set()
    assert "scipy.special" in run.stderr.split()


RAN = """
import inspect, sys
from pathlib import Path
import doe.cli
room = str(Path(doe.cli.__file__).parents[1])
ran = set()

def seen(frame, event, _):
    file = frame.f_code.co_filename
    if event != "call" or file in ran or not frame.f_code.co_flags & inspect.CO_OPTIMIZED or room not in file:
        return
    above = frame.f_back
    while above is not None and not (above.f_code.co_name == "<module>" and room in above.f_code.co_filename):
        above = above.f_back
    if above is None:  # not while a module was loaded
        ran.add(file)

sys.argv = ["doe", *sys.argv[1:]]
sys.setprofile(seen)
try:
    doe.cli.main()
except SystemExit as left:
    assert not left.code
sys.setprofile(None)
files = {name: str(module.__file__) for name, module in sys.modules.items() if name.partition(".")[0] == "doe"}
idle = [name for name, file in files.items() if file not in ran and not file.endswith("__init__.py")]
made = [one for name in files for one in vars(sys.modules[name]).values()
        if isinstance(one, type) and one.__module__ == name and "__dataclass_fields__" in vars(one)]
print(len(made), *idle, file=sys.__stderr__)
"""
# Types, constants and sentences of which nothing has to run: each is small.
IDLE = {
    "doe.errors",
    "doe.words.result",
    "doe.words.significance",
    "doe.words.verdicts",
    "doe.words.faults_by_row",
    "doe.words.cell.limit_words",
    "doe.words.day.mirror_notes",
    "doe.words.day.clock_notes",
    "doe.day.bring.quantities",
}
OF_RECORD = {
    "doe.words.day.folder_notes",
    "doe.words.day.coming.baseline_words",
    "doe.day.log.aside",
    "doe.day.log.marks.rewriting",
    "doe.day.clocks.time_meant",
    "doe.day.pilot.coming.sealed_edits",
}
AT_THE_END = {"doe.day.pilot.slips.forgotten"}  # no pull is due that could have been forgotten
OF_NEXT = {"doe.day.storage"}
DATACLASSES = 23  # each takes half a millisecond to make, ten times as long as a NamedTuple


def test_next_and_record_load_only_what_they_use(tmp_path):
    """A tester waits for each module with the engine hot: what an ordinary pull doesn't ask for is loaded elsewhere."""
    oil = factor("oil", "15W-50", "0W-20 30 20 1", refit=True)
    (tmp_path / "day.toml").write_text(day_file(oil, finish="20:00"), encoding="utf-8")
    day = read_day_file(tmp_path)
    write_plan(tmp_path, lay_out(day, [Stint(day.baseline, 4), Stint({"oil": "0W-20"}, 4)]), {})
    record_pulls(tmp_path, [Entry(431.2)])
    record, over = ["record", "431.4"], ["--set", "oil=15W-50"]
    for words, idle in ((record, OF_RECORD), (["next"], OF_NEXT), ([*record, *over], OF_RECORD | AT_THE_END)):
        if over[0] in words:
            record_pulls(tmp_path, [Entry(430 + at / 7) for at in range(6)])  # the plan is done: what ends a day is due
        run = subprocess.run(
            [sys.executable, "-c", RAN, *words], cwd=tmp_path, capture_output=True, text=True, check=True
        )
        dataclasses, *modules = run.stderr.splitlines()[-1].split()
        assert set(modules) - IDLE - idle == set()
        assert int(dataclasses) <= DATACLASSES


COLLECTED = """
import atexit, gc, sys
import doe.cli
before = gc.get_threshold()
doe.cli._run = lambda: print(gc.isenabled(), gc.get_threshold()[0]) or 0
# Registered first, so run after what main registers.
atexit.register(lambda: print(gc.isenabled(), gc.get_threshold() == before, gc.get_freeze_count() > 1000))
sys.argv = ["doe", *sys.argv[1:]]
doe.cli.main()
"""


@pytest.mark.parametrize(("command", "collected"), [("next", False), ("record", False), ("judge", True)])
def test_nothing_is_collected_while_somebody_waits_at_the_engine(command, collected):
    """What is switched off is switched on again at the end."""
    run = subprocess.run([sys.executable, "-c", COLLECTED, command], capture_output=True, text=True, check=True)
    assert run.stdout.split() == [str(collected), str(SELDOM[0]), "True", "True", "True"]


def test_who_has_switched_the_collector_off_finds_it_off():
    gc.disable()
    try:
        with seldom_collected(brief=True):
            assert not gc.isenabled()
        assert not gc.isenabled()
    finally:
        gc.enable()
