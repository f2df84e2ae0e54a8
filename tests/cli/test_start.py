"""What the command line settles before any room is imported."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

ASKED = "import sys, os, doe.cli; print(os.environ['OPENBLAS_NUM_THREADS'], 'numpy' in sys.modules)"


@pytest.mark.parametrize(("own", "taken"), [(None, "1"), ("3", "3")])
def test_small_matrices_need_one_thread_and_own_settings_stay(own, taken):
    environment = {key: value for key, value in os.environ.items() if key != "OPENBLAS_NUM_THREADS"}
    if own:
        environment["OPENBLAS_NUM_THREADS"] = own
    run = subprocess.run([sys.executable, "-c", ASKED], env=environment, capture_output=True, text=True, check=True)
    assert run.stdout.split() == [taken, "False"]  # settled while numpy has not read it yet
