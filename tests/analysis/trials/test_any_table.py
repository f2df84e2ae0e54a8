"""Random tables: what is read of one is true whatever its shape, or it is refused in words; nonsense ends in words.

``python tests/analysis/trials/test_any_table.py 50000`` tries as many.
"""

from __future__ import annotations

import contextlib
import io
import random
import sys
import tempfile
import zipfile
from collections import Counter
from pathlib import Path

import openpyxl
import pytest

from doe.analysis.trials.from_table import read_trial
from doe.day.foreign.foreign_table import read_sheet
from doe.errors import InputError

TITLES = {
    "power": ["power", "Power", "power [hp]", "power (kW)", "power / PS", "power_hp"],
    "oil": ["oil", "Oil ", "OIL"],
}
WORDS = ["", "n/a", "-", "mean", "Mean:", "average", "oil", "power", "hp", "402.2 hp", "1.234", "3,5", "1e5", "inf",
         "=1+1", "max", "total", "-- break --", "9:15", "2026-05-16", "A", "B", "|", '"', "'", "\t", ";;", "1 2 3",
         "\N{MINUS SIGN}4", "Ø", "401,5", "x" * 200, " " * 150 + "x", "#N/A", "#DIV/0!", "1,234.5", "0"]  # fmt: skip
SIGNS = [",", ";", "\t", "|", "  ", " "]


def table_of(rng: random.Random) -> tuple[str, list[tuple[str, float]], dict]:
    """A table in some shape, the pulls that stand in it, and what is asked of it."""
    sign = rng.choice(SIGNS)
    pulls = [("AB"[at // 2 % 2], round(400 + rng.gauss(0, 3), 1)) for at in range(rng.randrange(4, 20))]
    comma = sign != "," and rng.random() < 0.4
    unit = rng.choice(["", "", "hp", " hp", " PS"])

    def shown(value: float) -> str:
        text = f"{value:.1f}{unit}"
        return text.replace(".", ",") if comma else text

    title = rng.choice(TITLES["power"] if not unit else ["power", "Power"])
    rows = [[oil, str(1 + at // 2), shown(value)] for at, (oil, value) in enumerate(pulls)]
    header = [rng.choice(TITLES["oil"]), "fit", title]
    mean = sum(value for _, value in pulls) / len(pulls)
    if rng.random() < 0.4:
        rows.insert(rng.randrange(1, len(rows) + 1), header)
    if rng.random() < 0.4:
        rows.append(
            [
                rng.choice(["Mean", "average", "Ø", "Stabw", "Mittelwert:"]),
                "",
                f"{mean:.2f}".replace(".", "," if comma else "."),
            ]
        )
    if rng.random() < 0.3:
        rows.insert(rng.randrange(len(rows)), ["-- a break --", "", ""])
    lines = [sign.join(header), *(sign.join(row) for row in rows)]
    if rng.random() < 0.3:
        lines.insert(rng.randrange(1, len(lines)), "")
    if rng.random() < 0.5:
        lines = [*rng.choice([["Dyno day"], ["Cell 2, May", ""], ["oil", ""], ["Engine:;V8", "by: me"]]), *lines]
    if sign == "|" and rng.random() < 0.5:
        lines = [f"|{line}|" if line else line for line in lines]
    return (
        rng.choice(["\n", "\r\n"]).join(lines) + "\n",
        pulls,
        {"value": "power", "change": "oil", "baseline": "A", "install": "fit"},
    )


def nonsense(rng: random.Random) -> bytes:
    """A table that somebody has broken: cells, signs and lines put in, taken out and put elsewhere."""
    text = table_of(rng)[0]
    for _ in range(rng.randrange(1, 8)):
        at, length = rng.randrange(len(text) + 1), rng.choice([0, 1, 1, 3, 12])
        text = text[:at] + rng.choice([*WORDS, *SIGNS, "\n", "\n\n", text[:20]]) + text[at + length :]
    data = text.encode(rng.choice(["utf-8", "utf-8", "utf-16", "utf-8-sig"]))
    if rng.random() < 0.1:
        data = data[: rng.randrange(len(data) + 1)] + bytes(rng.randrange(256) for _ in range(rng.randrange(8)))
    return data


def workbook() -> bytes:
    made = openpyxl.Workbook()
    for row in [
        ["a title"],
        ["oil", "fit", "power [hp]"],
        *[["AB"[at // 2 % 2], at // 2, 400.0 + at] for at in range(8)],
    ]:
        made.active.append(row)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def broken(rng: random.Random, whole: bytes) -> bytes:
    """A workbook with bytes changed, or with signs put into its parts."""
    if rng.random() < 0.3:
        data = bytearray(whole)
        for _ in range(rng.randrange(1, 6)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        return bytes(data[: rng.randrange(len(data))] if rng.random() < 0.3 else data)
    out, given = io.BytesIO(), zipfile.ZipFile(io.BytesIO(whole))
    with zipfile.ZipFile(out, "w") as packed:
        for name in given.namelist():
            text = given.read(name).decode()
            if "sheet" in name or "shared" in name:
                at = rng.randrange(len(text))
                put = rng.choice(
                    ["", '"', "<", "1", "999999999", 't="s"', 'r="XFD1048576"', "<f>1</f>", "-", "e5", "&amp;"]
                )
                text = text[:at] + put + text[at + rng.choice([0, 1, 3]) :]
            packed.writestr(name, text)
    return out.getvalue()


def read(data: bytes, path: Path, asked: dict):
    path.write_bytes(data)
    names = [name for one in asked.values() for name in ([one] if isinstance(one, str) else one)]
    return read_trial(read_sheet(path, [name for name in names if name not in ("A", "skip", "each")]), **asked)


def what_is_read_is_true(seed: int, path: Path) -> str:
    """Whether a table was read or refused; what was read is what stands in it."""
    rng = random.Random(seed)
    text, pulls, asked = table_of(rng)
    try:
        found = read(text.encode(), path, asked)
    except InputError:
        return "refused"
    seen = list(zip(found.trial.changes[:, 0] == 1, found.values.tolist(), strict=True))
    assert seen == [(oil == "B", value) for oil, value in pulls], (seed, text)
    return "read"


def nonsense_ends_in_words(seed: int, path: Path) -> str:
    rng = random.Random(seed)
    asked = rng.choice(
        [
            {"value": "power", "change": "oil", "baseline": "A", "install": "fit"},
            {"value": "power", "change": "oil", "baseline": "A", "missing": "skip"},
            {"value": ["oil", "power"], "change": (), "baseline": "oil", "install": "each"},
            {"value": "power", "change": (), "baseline": (), "time": "fit", "missing": "skip"},
        ]
    )
    try:
        found = read(nonsense(rng), path, asked)
    except InputError as refused:
        assert str(refused).strip()
        return "nonsense refused"
    assert found.read.pulls == len(found.values) > 0
    return "nonsense read"


def test_what_is_read_of_any_table_is_true(tmp_path):
    found = Counter(what_is_read_is_true(seed, tmp_path / "t") for seed in range(300))
    assert found["read"] > 2 * found["refused"]


def test_nonsense_ends_in_words(tmp_path):
    for seed in range(300):
        nonsense_ends_in_words(seed, tmp_path / "t")


def test_broken_workbooks_end_in_words(tmp_path):
    whole, asked = workbook(), {"value": "power", "change": "oil", "baseline": "A", "install": "fit"}
    assert read(whole, tmp_path / "t", asked).read.pulls == 8
    for seed in range(60):
        with contextlib.suppress(InputError):
            read(broken(random.Random(seed), whole), tmp_path / "t", asked)
    later = bytearray(whole)
    later[whole.index(b"PK\x01\x02") + 6] = 226  # the version of zip that is needed to unpack it
    with pytest.raises(InputError, match="damaged workbook"):
        read(bytes(later), tmp_path / "t", asked)


def main() -> None:
    first, count = int([*sys.argv, "0"][2]), int(sys.argv[1])
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            one = nonsense_ends_in_words if seed % 3 else what_is_read_is_true
            found[one(seed, Path(folder) / "t")] += 1
    print(dict(found))


if __name__ == "__main__":
    main()
