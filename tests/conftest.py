"""What several rooms' tests need."""

import importlib
import sys
from pathlib import Path

import pytest

BENCHMARKS = str(Path(__file__).parent / "benchmarks")


@pytest.fixture(scope="session")
def benchmark_module():
    """Imports a module of tests/benchmarks by its name."""

    def found(name):
        sys.path.insert(0, BENCHMARKS)
        try:
            return importlib.import_module(name)
        finally:
            sys.path.remove(BENCHMARKS)

    return found


@pytest.fixture(scope="session")
def made(benchmark_module):
    """The module that writes invented archives, which the benchmarks use too."""
    return benchmark_module("made_archive")
