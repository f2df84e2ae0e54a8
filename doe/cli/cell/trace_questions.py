"""The questions of ``doe trace --set-up``: each column is shown with what it may be, and nothing is taken unasked."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from doe.cli.day.new_questions import yes_or_no
from doe.cli.day.questions_in_turn import Answer, Answers, StoppedError, answered

if TYPE_CHECKING:
    from doe.cell.traces.layout import Layout
    from doe.cell.traces.proposal import Guess
    from doe.cell.traces.shape import Shape

_NOTHING = "-"


def set_up_traces(files: Sequence[Path], folder: Path, sweep: int | None) -> None:
    """Ask what the columns of an export are, try it, write [traces].

    Raises
    ------
    InputError
        Nobody is there to ask, the file is no table, or what was answered can't be.
    """
    from doe.cell.traces.clean_trace import clean
    from doe.cell.traces.export_file import parse_columns, read_bytes
    from doe.cell.traces.proposal import propose
    from doe.cell.traces.pull_metrics import metrics_of
    from doe.cell.traces.report import PullTrace
    from doe.cell.traces.shape import shape_of
    from doe.cell.traces.wanted import told
    from doe.day.files.dayfile import read_day_file
    from doe.day.pilot.settings.traces_table import save_traces
    from doe.day.traced import engine_of, wanted_of
    from doe.errors import InputError

    if len(files) != 1:
        raise InputError(f"--set-up looks at one export; {len(files)} were named")
    if not sys.stdin.isatty():
        raise InputError(
            "--set-up asks what each column is, and nobody is at the terminal to answer; run it there, or write"
            " [traces] into day.toml by hand (docs/traces-and-air.md)"
        )
    day = read_day_file(folder)
    engine, wanted = engine_of(day), wanted_of(day)
    data = read_bytes(files[0])
    shape = shape_of(data, files[0].name)
    guesses = propose(shape)
    print(_seen(shape, guesses, files[0].name))
    layout = _answered(partial(_ask_layout, shape, guesses))
    trace = clean(parse_columns(data, layout, files[0].name), layout, engine=engine, sweep=sweep)
    metrics = metrics_of(trace, wanted, told(wanted))
    print(f"\nRead so:\n{PullTrace(files[0], trace, metrics).to_text()}")
    if _answered(lambda answers: answers.ask("Write this to [traces] of day.toml", "yes", yes_or_no)):
        known = day.traces is not None and bool(day.traces.folder)
        place = "" if known else _answered(partial(_ask_folder, folder, files[0]))
        print(save_traces(folder, layout, place).to_text())
    else:
        print("nothing was written")


def _answered(flow: Callable[[Answers], Answer]) -> Answer:
    """What is answered.

    Raises
    ------
    DoeError
        The answers ended too early.
    """
    from doe.errors import DoeError

    try:
        return answered(flow)
    except StoppedError:
        raise DoeError("the answers ended too early; nothing was written") from None


def _seen(shape: Shape, guesses: Sequence[Guess], name: str) -> str:
    """The file's columns with first values and ranges."""
    delimiter = {",": "commas", ";": "semicolons", "\t": "tabs"}[shape.delimiter]
    sign = {",": "comma", ".": "point"}[shape.decimal]
    head = f"{name}: {len(guesses)} columns parted by {delimiter}, decimal {sign}, {len(shape.values)} rows"
    above = f", {shape.title_lines} lines above the titles" if shape.title_lines else ""
    units = ", a row of units" if shape.unit_row else ""
    width = max(len(guess.title) for guess in guesses)
    return "\n".join([head + above + units, *(f"  {guess.title:<{width}}  {guess.shown}" for guess in guesses)])


def _ask_layout(shape: Shape, guesses: Sequence[Guess], answers: Answers) -> Layout:
    """One question a column, and one for its unit."""
    from doe.cell.traces.layout import CORE, Layout

    print(
        f"\nWhat is each column? Enter takes the word in brackets; {', '.join(CORE)}, or a name such as oil_temp_c;"
        f" {_NOTHING} leaves the column alone."
    )
    columns: dict[str, str] = {}
    units: dict[str, str] = {}
    for guess in guesses:
        why = f" ({guess.why})" if guess.role else ""

        def role(text: str, taken: dict[str, str] = columns) -> str:
            return _role(text, taken)

        name = answers.ask(f"{guess.title}{why}", guess.role or _NOTHING, role)
        if name == _NOTHING:
            continue
        columns[name] = guess.title
        known = guess.unit if name == guess.role else None

        def unit(text: str, name: str = name) -> str:
            return _unit(name, text)

        told = answers.ask(f"  its unit, {guess.title}", known or (_NOTHING if name not in CORE else ""), unit)
        if told:
            units[name] = told
    return Layout(columns, units, shape.delimiter, shape.decimal, shape.unit_row, shape.title_lines)


def _ask_folder(folder: Path, export: Path, answers: Answers) -> str:
    """Where the dyno writes its files; "" where nobody wants them to be looked for."""
    parent, day = export.resolve().parent, folder.resolve()
    seen = parent.relative_to(day) if parent.is_relative_to(day) else parent

    def place(text: str) -> str:
        name = text.strip()
        if name != _NOTHING and not (folder / name).is_dir():
            raise ValueError(f"{folder / name}: there is no such folder; {_NOTHING} for none")
        return "" if name == _NOTHING else name

    return answers.ask(
        "The folder that the dyno writes into, for doe watch and doe record --newest", seen.as_posix(), place
    )


def _role(text: str, taken: dict[str, str]) -> str:
    from doe.day.names import legal_name

    name = text.strip()
    if name in taken:
        raise ValueError(f"{name} is the column '{taken[name]}' already")
    return name if name == _NOTHING else legal_name(name)


def _unit(name: str, text: str) -> str:
    """A unit that the column can have; for a guard channel any, or none."""
    from doe.cell.traces.layout import CORE, layout_faults

    unit = text.strip()
    if name not in CORE:
        return "" if unit == _NOTHING else unit
    faults = list(layout_faults({"rpm": "", "torque": "", name: ""}, {name: unit}))
    if faults:
        raise ValueError(faults[0])
    return unit
