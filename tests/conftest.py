"""What several rooms' tests need."""

import importlib
import os
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# Before numpy loads: the workers share the cores already, and threads of the linear algebra would only wait for one
# another (twelve times the work was measured on small matrices, with two workers on two busy cores).
for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

# Compiled modules are kept, whatever the shell says: else every worker would rewrite each test anew, and each of a
# hundred processes compile the program.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# No test depends on the speed of the machine: an example may take as long as it takes, in making and in running.
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")

BENCHMARKS = str(Path(__file__).parent / "benchmarks")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave what takes minutes out, unless they are asked for with -m slow."""
    if config.getoption("-m"):
        return
    for item in items:
        if item.get_closest_marker("slow"):
            item.add_marker(pytest.mark.skip(reason="minutes; ask with -m slow"))


@pytest.fixture
def searches_are_short(monkeypatch):
    """Every effort looks at next to nothing, where plans are only what a test works on."""
    from searches import short_searches  # what plans is heavy, and few tests plan

    short_searches(monkeypatch)


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
