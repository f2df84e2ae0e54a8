"""Notes: programs go by their codes, people by their texts, and both stand in one place."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import doe
from doe.words.notes import SEVERITIES, Note, texts, weight

ROOT = Path(doe.__file__).parent
TABLE = {
    "oil": ["old", "new", "old", "new", "old", "new"],
    "hp": [200.1, 203.2, 199.8, 202.7, 200.4, 203.1],
}


def made_here(tree: ast.AST) -> list[ast.Call]:
    return [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Note"
    ]


def test_every_note_is_made_in_words_with_a_code_and_a_weight():
    made = {path: made_here(ast.parse(path.read_text(encoding="utf-8"))) for path in ROOT.rglob("*.py")}
    assert [path for path, notes in made.items() if notes and "words" not in path.relative_to(ROOT).parts[:1]] == []
    calls = [call for notes in made.values() for call in notes]
    assert len(calls) > 40
    for call in calls:
        code = call.args[0]
        if isinstance(code, ast.Constant):
            assert re.fullmatch(r"[a-z]+(-[a-z]+)*", code.value), code.value


def test_nobody_parses_a_sentence():
    """What a warning is about is told by its code; no module looks into its text."""
    looks = re.compile(r"\bin (warning|caution)\b|(warning|caution)s?(\[-?\d\])?\.(startswith|partition|split)\(")
    assert [path for path in ROOT.rglob("*.py") if looks.search(path.read_text(encoding="utf-8"))] == []


def test_the_gravest_comes_first():
    notes = [Note("a", "", "last", "minor"), Note("b", "", "first", "fatal"), Note("c", "", "middle", "serious")]
    assert texts(sorted(notes, key=weight)) == ["first", "middle", "last"]
    assert str(notes[0]) == "last" and notes[0].to_dict()["severity"] in SEVERITIES


def test_json_has_the_texts_and_beside_them_the_codes():
    judged = doe.judge(TABLE, value="hp", change="oil", baseline="old")
    document = judged.to_dict()
    assert document["warnings"] == [note["text"] for note in document["notes"]] == list(judged.warnings)
    codes = {note["code"] for note in document["notes"]}
    assert {"no-times", "no-smallest-gain", "installs-from-runs"} <= codes
    assert all(set(note) == {"code", "severity", "where", "text"} for note in document["notes"])
