"""Whatever an export holds: every number that comes out is finite, everything else is refused in words."""

from __future__ import annotations

import random
import warnings
from pathlib import Path

import numpy as np
import pytest

from doe.cell.traces.clean_trace import clean
from doe.cell.traces.engine import Engine
from doe.cell.traces.export_file import parse_columns
from doe.cell.traces.layout import Layout
from doe.cell.traces.pull_metrics import metrics_of
from doe.cell.traces.report import PullTrace
from doe.cell.traces.wanted import Wanted, told
from doe.errors import InputError

WANTED = Wanted((4000.0, 6800.0), 5000.0, ((4000.0, 5000.0, 2.0), (5000.0, 6500.0, 1.0)), "hp", "lb ft")
COLUMNS = {"time": "t", "rpm": "n", "torque": "T", "power": "P", "oil": "oil"}
ENGINE = Engine(6.0, 4, "natural", "petrol")
UNITS = {"time": "s", "torque": "N m", "power": "kW"}
CELLS = [
    "",
    "NaN",
    "-",
    "inf",
    "1e400",
    "1e308",
    "-1e308",
    "0",
    "-1",
    "x",
    "1_000",
    "1,5",
    "1e-320",
    '"5"',
    '"',
    "∞",
    "３",
]


def sound(r: random.Random) -> list[list[str]]:
    """A sweep, invented."""
    rows, seconds = r.choice([5, 12, 81, 200]), r.choice([0.01, 0.1, 1 / 6])
    speeds = np.linspace(r.choice([1000, 3000]), r.choice([3500, 7000]), rows)
    torques = 520 - 0.04 * speeds
    powers = torques * speeds * np.pi / 30_000
    return [
        [f"{at * seconds:.3f}", f"{n:.1f}", f"{t:.2f}", f"{p:.3f}", "90"]
        for at, (n, t, p) in enumerate(zip(speeds, torques, powers, strict=True))
    ]


def spoil(r: random.Random, rows: list[list[str]]) -> None:
    """One thing that loggers, cables and editors do."""
    at = r.randrange(len(rows))
    what = r.choice(["cell", "cell", "cell", "blank", "double", "short", "long", "column", "shuffle"])
    if what == "cell" and rows[at]:
        rows[at][r.randrange(len(rows[at]))] = r.choice(CELLS)
    elif what == "blank":
        rows.insert(at, [])
    elif what == "double":
        rows.insert(at, list(rows[r.randrange(len(rows))]))
    elif what == "short":
        rows[at] = rows[at][:-1]
    elif what == "long":
        rows[at] = [*rows[at], "7"]
    elif what == "column":
        column, cell = r.randrange(5), r.choice(["0", "", "5000", "-3"])
        for row in rows:
            if len(row) > column:
                row[column] = cell
    elif what == "shuffle":
        r.shuffle(rows)


def export(r: random.Random) -> tuple[bytes, Layout]:
    rows = sound(r)
    for _ in range(r.choice([0, 0, 1, 1, 2, 4])):
        spoil(r, rows)
    titles = r.choice([list(COLUMNS.values())] * 20 + [["t", "n", "T", "P"], ["T", "t", "n", "P", "oil"], [""] * 5])
    sign, end = r.choice([",", ";", "\t"]), r.choice(["\n", "\r\n", "\r"])
    text = end.join([sign.join(titles), *map(sign.join, rows)]) + r.choice(["", end])
    data = bytearray(text.encode(r.choice(["utf-8", "utf-16", "utf-8-sig", "latin-1"]), "replace"))
    if r.random() < 0.15:
        data[r.randrange(len(data))] = r.randrange(256)
    if r.random() < 0.1:
        del data[r.randrange(len(data)) :]
    left = {name: title for name, title in COLUMNS.items() if name in ("rpm", "torque") or r.random() < 0.9}
    units = {name: unit for name, unit in UNITS.items() if name in left}
    return bytes(data), Layout(
        left, units, r.choice([None, sign]), r.choice([None, None, None, ".", ","]), r.random() < 0.05,
        int(r.random() < 0.05), r.choice([None, 0.3]) if "time" in left else None,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
def test_numbers_are_finite_and_faults_are_words(seed):
    r, read, refused = random.Random(seed), 0, 0
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for _ in range(70):
            data, layout = export(r)
            try:
                trace = clean(parse_columns(data, layout, "pull.csv"), layout, engine=ENGINE)
                pull = PullTrace(Path("pull.csv"), trace, metrics_of(trace, WANTED, told(WANTED)))
            except InputError as fault:
                assert str(fault).startswith("pull.csv"), "it says which file"
                refused += 1
                continue
            assert np.isfinite(list(pull.numbers.values())).all()
            assert "nan" not in pull.to_text()
            read += 1
    assert min(read, refused) > 5
