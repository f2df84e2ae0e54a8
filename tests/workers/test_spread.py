"""The same work by one process, several, and a cluster on the loopback address."""

import json
import math
import os
import subprocess
import sys
import time
from itertools import count, islice, repeat

import pytest

from doe.analysis.archive.noise_of_archive import noise_of_archive
from doe.analysis.archive.verdicts_of_archive import judge_archive
from doe.errors import DoeError, InputError
from doe.workers import cluster
from doe.workers.spread import spread

# A process that can't import doe: what a machine looks like where nobody installed it.
WITHOUT_DOE = """
import sys
class Without:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] == "doe":
            raise ModuleNotFoundError("No module named 'doe'")
sys.meta_path.insert(0, Without())
"""


class Processes:
    """Schedulers and workers that end with the test."""

    def __init__(self):
        self.running = []

    def start(self, script, *words):
        """Start a script; return the first line that it says."""
        process = subprocess.Popen(
            [sys.executable, "-c", script, *words], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        self.running.append(process)
        return process.stdout.readline().strip()


@pytest.fixture(scope="module")
def scripts(benchmark_module):
    """SCHEDULER and WORKER."""
    return benchmark_module("loopback_cluster")


@pytest.fixture
def processes():
    started = Processes()
    yield started
    for process in reversed(started.running):
        process.kill()
        process.wait()
        process.stdout.close()


@pytest.fixture(autouse=True)
def patient(monkeypatch):
    """An answer may take as long as the machine needs; what never comes is tested with a patience of its own."""
    monkeypatch.setattr(cluster, "_PATIENCE_SECONDS", 600.0)


@pytest.fixture(scope="module")
def archive(made, tmp_path_factory):
    """46 days: three chunks, the last one not full; one day is broken."""
    folder = tmp_path_factory.mktemp("archive")
    days = made.make_archive(folder, 46, truth=made.Truth(between_df=20, vouched=True), plans=False)
    (days[7] / "pulls.csv").write_text("pull,oil,mean power\n1,15W-50,lots\n")
    return folder


def documents(archive, **who):
    noise = json.dumps(noise_of_archive([archive], **who).to_dict())
    return noise, [row.to_dict() for day in judge_archive([archive], **who) for row in day.rows]


def test_the_same_bits_from_one_process_two_three_and_a_cluster(archive, processes, scripts):
    alone = documents(archive)
    assert documents(archive, jobs=2) == alone
    assert documents(archive, jobs=3) == alone
    address = processes.start(scripts.SCHEDULER)
    for _ in range(2):
        assert processes.start(scripts.WORKER, address) == "ready"
    assert documents(archive, cluster=address) == alone


@pytest.mark.filterwarnings("error")
def test_things_are_taken_as_they_are_needed():
    assert list(islice(spread(math.sqrt, count()), 3)) == [0, 1, math.sqrt(2)]
    assert list(islice(spread(math.sqrt, count(), jobs=2), 3)) == [0, 1, math.sqrt(2)]
    assert list(spread(math.sqrt, [], jobs=2)) == []


def test_jobs_that_make_no_sense():
    with pytest.raises(InputError, match="1 or more"):
        spread(math.sqrt, [1], jobs=0)
    with pytest.raises(InputError, match="leave --jobs out"):
        spread(math.sqrt, [1], jobs=2, cluster="127.0.0.1:1")


def fault_of(address, sees=None, patience=None):
    with pytest.raises(DoeError) as fault, cluster.connected(address, sees, patience):
        pass
    return str(fault.value)


def test_no_scheduler_there():
    assert "no scheduler answers there" in fault_of("127.0.0.1:1", patience=0.5)


def test_a_scheduler_without_workers_and_a_worker_without_sight_or_doe(processes, tmp_path, scripts):
    address = processes.start(scripts.SCHEDULER)
    assert "has no workers" in fault_of(address)
    processes.start(scripts.WORKER, address)
    assert "does not see" in fault_of(address, tmp_path / "elsewhere")
    processes.start(WITHOUT_DOE + scripts.WORKER, address)
    assert "has no doe; install dyno-doe" in fault_of(address)


def test_a_scheduler_without_doe_does_not_hang(processes, scripts):
    address = processes.start(WITHOUT_DOE + scripts.SCHEDULER)
    processes.start(scripts.WORKER, address)
    assert "the scheduler can't hand out doe's work (No module named 'doe')" in fault_of(address)


def test_a_worker_with_another_doe(monkeypatch, processes, scripts):
    address = processes.start(scripts.SCHEDULER)
    processes.start(scripts.WORKER, address)
    monkeypatch.setattr("importlib.metadata.version", lambda name: "99.1")
    assert "here it is 99.1; install the same everywhere" in fault_of(address)


def test_a_worker_that_does_not_answer_is_named():
    (fault,) = cluster._faults("tcp://there", None, None)
    assert "did not answer in time" in fault


def test_a_process_that_is_ended_is_said():
    with pytest.raises(DoeError, match="a process was ended from outside"):
        list(spread(os._exit, [1, 1], jobs=2))


def test_a_scheduler_that_is_lost_is_said(processes, scripts):
    address = processes.start(scripts.SCHEDULER)
    processes.start(scripts.WORKER, address)
    naps = spread(time.sleep, repeat(0.001), cluster=address)
    next(naps)
    processes.running[0].kill()
    with pytest.raises(DoeError, match="lost during the work"):
        list(naps)


def test_the_package_for_clusters_is_asked_for(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"pip install 'dyno-doe\[cluster\]'"), cluster.connected("127.0.0.1:1"):
        pass
