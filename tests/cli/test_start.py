"""What the command line settles before any room is imported."""

from __future__ import annotations

import gc
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from doe.cli.collector import SELDOM, seldom_collected
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
