"""The house: no circle of files, no room too full, no file too long, no two files of one name without a reason."""

from __future__ import annotations

import ast
from collections import Counter, defaultdict
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

ROOT = Path(__file__).parents[1]
DOE = ROOT / "doe"
MOST_FILES, MOST_LINES = 16, 350

#: file name -> why several rooms have one: it is the same thing for each
SHARED_NAMES = {
    "result.py": "what the room returns; in words, the doors that every result has",
    "schema.py": "what a file that a person writes may hold",
    "template.py": "the file that a person starts from",
    "looks.py": "early looks: their log, and what they spend",
    "saving.py": "writing what was made into the day folder",
    "wander.py": "slow, random change: its kernel, and what a study sees of it",
    "verdicts.py": "the verdicts: how they are reached, and their words",
}


@cache
def modules() -> dict[str, Path]:
    found = {}
    for path in DOE.rglob("*.py"):
        parts = path.relative_to(ROOT).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


@cache
def imports() -> dict[str, set[str]]:
    """Module -> the modules of ours that it imports, inside functions and for types too."""
    graph = {}
    for name, path in modules().items():
        seen = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{path}: imports are absolute here"
                seen |= {f"{node.module}.{alias.name}" for alias in node.names} | {node.module or ""}
            elif isinstance(node, ast.Import):
                seen |= {alias.name for alias in node.names}
        ours = seen & set(modules())
        # a name taken from a package's sub-module runs its __init__ too, which is empty but for the public one
        graph[name] = {one for one in ours if one not in (name, "doe")}
    return graph


def test_no_circle_of_files():
    try:
        order = list(TopologicalSorter(imports()).static_order())
    except CycleError as error:
        raise AssertionError(" -> ".join(error.args[1])) from None
    assert (
        order.index("doe.errors")
        < order.index("doe.analysis.judging.verdicts")
        < order.index("doe.cli.desk.judge_command")
    )


def test_no_room_is_too_full():
    rooms = Counter(path.parent.relative_to(ROOT).as_posix() for path in modules().values() if path.stem != "__init__")
    assert {room: files for room, files in rooms.items() if files > MOST_FILES} == {}


def test_no_file_is_too_long():
    lengths = {name: len(path.read_text(encoding="utf-8").splitlines()) for name, path in modules().items()}
    assert {name: lines for name, lines in lengths.items() if lines > MOST_LINES} == {}


def test_no_product_file_is_named_like_a_test():
    assert [path for path in modules().values() if path.stem.endswith("_test") or path.stem.startswith("test_")] == []


def test_files_of_one_name_have_a_reason():
    homes = defaultdict(list)
    for path in modules().values():
        if not path.stem.startswith("__"):
            homes[path.name].append(path.parent.relative_to(ROOT).as_posix())
    several = {name: rooms for name, rooms in homes.items() if len(rooms) > 1}
    assert set(several) == set(SHARED_NAMES), several


def test_the_words_know_no_library():
    """import-linter holds it for the libraries by name; this, for every other."""
    allowed = {"doe", "__future__", "abc", "collections", "dataclasses", "datetime", "html", "itertools", "math", "re",
               "textwrap", "typing"}  # fmt: skip
    for path in (DOE / "words").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            assert {name.split(".")[0] for name in names} <= allowed, path
