"""What several rooms' tests need."""

import importlib.util
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def made():
    """The module that writes invented archives, which the benchmarks use too."""
    path = Path(__file__).parent / "benchmarks" / "made_archive.py"
    spec = importlib.util.spec_from_file_location("made_archive", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["made_archive"] = module
    spec.loader.exec_module(module)
    return module
