"""The commands: read arguments, call one function of the library, print. No arithmetic here.

One module a command. Each imports only typer and the shared options when it loads, and its room inside the function,
so that ``doe record`` never waits for numpy.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module
from typing import Annotated

import typer

from doe import __version__

# The matrices of a day are small: a second thread of OpenBLAS only waits for the first, and takes its core from the
# workers of a rehearsal. OpenBLAS reads this when numpy loads, so it stands before any room is imported; what somebody
# has set themselves stays.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Looking for plugins of pydantic reads the metadata of every package that is installed; none has a say in a day.toml.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

# In the order in which a tester meets them. ``doe.cli.ROOM.NAME_command`` offers ``register(app)``.
COMMANDS: tuple[str, ...] = (
    "day.new",
    "desk.noise",
    "day.plan",
    "desk.rehearse",
    "cell.sheet",
    "cell.next",
    "cell.trace",
    "cell.record",
    "cell.watch",
    "cell.log",
    "cell.void",
    "cell.fix",
    "cell.check",
    "desk.judge",
    "desk.report",
    "desk.correct",
    "desk.audit",
    "desk.demo",
)

# Commands of the cell that go on for hours: what they make has to be collected.
LASTING: tuple[str, ...] = ("cell.watch",)

_app = typer.Typer(
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _print_version(asked: bool) -> None:
    if asked:
        print(f"doe {__version__}")
        raise typer.Exit


@_app.callback()
def _doe(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    """Plans a day on the dyno, keeps its log and judges the gains."""


_registered: set[str] = set()


def register(*names: str) -> typer.Typer:
    """The program with these commands, or with all of them: each costs a little time before anything is done."""
    for name in names or COMMANDS:
        if name not in _registered:
            _registered.add(name)
            import_module(f"doe.cli.{name}_command").register(_app)
    return _app


def __getattr__(name: str) -> typer.Typer:
    """`app` is the program with all its commands."""
    if name == "app":
        return register()
    raise AttributeError(name)


def main() -> None:
    """Run the command line; every error becomes words and an exit status, never a traceback."""
    from doe.cli.collector import seldom_collected

    asked = [name for name in COMMANDS if name.partition(".")[2] == (sys.argv[1:] or [""])[0]]
    with seldom_collected(brief=any(name.startswith("cell.") and name not in LASTING for name in asked)):
        from doe.cli.terminal import doors, exit_status

        register(*asked)
        with doors():
            sys.exit(exit_status(_run()))


def _run() -> int:
    """Run the command; its exit status."""
    from doe.errors import DoeError, InputError

    try:
        _app()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else int(end.code is not None)
    except InputError as error:
        from doe.words.faults_by_row import by_row

        print(*by_row(error.faults), sep="\n", file=sys.stderr)
        return error.exit_status
    except DoeError as error:
        print(error, file=sys.stderr)
        return error.exit_status
    except BrokenPipeError:
        return 1
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        print(f"{where}{error.strerror or error}", file=sys.stderr)
        return 1
    return 0
