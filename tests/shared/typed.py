"""The program as a tester types it: in this process, which is quick, or in one of its own, which is true."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest import mock


@dataclass(frozen=True)
class Done:
    """What a command left: its exit status and what it printed."""

    returncode: int
    stdout: str
    stderr: str


def typed(*words: object, cwd: Path | None = None, answers: str = "") -> Done:
    """One command line through the program's own door, in this process; an error that escapes fails the test."""
    from doe.cli import main

    out, err, status = io.StringIO(), io.StringIO(), 0
    with (
        chdir(cwd or Path.cwd()),
        redirect_stdout(out),
        redirect_stderr(err),
        mock.patch.object(sys, "argv", ["doe", *map(str, words)]),
        mock.patch.object(sys, "stdin", io.StringIO(answers)),
    ):
        try:
            main()
        except SystemExit as left:
            status = int(left.code or 0)
    return Done(status, out.getvalue(), err.getvalue())


def in_process(*words: object, cwd: Path | None = None, answers: str = "", threads: int = 1) -> Done:
    """The same in a process of its own, with so many threads of the linear algebra.

    No time-out: how long it takes is the machine's affair.
    """
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": str(threads), "OMP_NUM_THREADS": str(threads)}
    done = subprocess.run(
        [sys.executable, "-m", "doe", *map(str, words)],
        cwd=cwd,
        env=environment,
        input=answers,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    return Done(done.returncode, done.stdout, done.stderr)
