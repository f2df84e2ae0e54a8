"""The verdicts: their words stand in one place, and what is added to them is true of the interval."""

from __future__ import annotations

import ast
from pathlib import Path

from doe.words.verdicts import KEYS, MARKS, NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS, VERDICTS, size_words

DOE = Path(__file__).parents[2] / "doe"


def spoken(tree: ast.AST) -> list[str]:
    """Every string of a module that is no docstring."""
    docs = {
        node.body[0].value
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in docs
    ]


def test_the_four_words_stand_once_in_the_code():
    homes = {
        (word, path.relative_to(DOE).as_posix())
        for path in DOE.rglob("*.py")
        for text in spoken(ast.parse(path.read_text(encoding="utf-8")))
        for word in VERDICTS
        if word in text
    }
    assert homes == {(word, "words/verdicts.py") for word in VERDICTS}


def test_every_verdict_has_a_key_and_a_mark():
    assert set(KEYS) == set(MARKS) == set(VERDICTS)
    assert len(set(KEYS.values())) == len(set(MARKS.values())) == 4


def test_the_size_of_a_settled_gain():
    assert size_words(REAL_GAIN, 1.2, 3.0, 1.0, "hp") == "surely 1 hp or more"
    assert size_words(REAL_GAIN, 0.2, 3.0, 1.0, "hp") == "a gain, but it may be less than the 1 hp worth having"
    assert size_words(REAL_LOSS, -3.0, -1.2, 1.0, "") == "surely a loss of 1 or more"
    assert size_words(REAL_LOSS, -3.0, -0.2, 1.0, "") == "a loss, but it may be smaller than 1"
    assert size_words(NO_DIFFERENCE, 0.1, 0.5, 1.0, "hp") == "a real difference, too small to matter"
    assert size_words(NO_DIFFERENCE, -0.1, 0.5, 1.0, "hp") is None
    assert size_words(NOT_SETTLED, -0.1, 2.5, 1.0, "hp") is None


def test_the_size_of_a_settled_gain_where_less_is_better():
    said = {
        (REAL_GAIN, -3.0, -1.2): "surely 1 kg/h less, or lower still",
        (REAL_GAIN, -3.0, -0.2): "a gain, but it may lower it by less than the 1 kg/h worth having",
        (REAL_LOSS, 1.2, 3.0): "surely a rise of 1 kg/h or more",
        (REAL_LOSS, 0.2, 3.0): "a loss, but the rise may be smaller than 1 kg/h",
        (NO_DIFFERENCE, -0.5, -0.1): "a real difference, too small to matter",
        (NO_DIFFERENCE, -0.1, 0.5): None,
        (NOT_SETTLED, -2.5, 0.1): None,
    }
    assert {key: size_words(*key, 1.0, "kg/h", "lower") for key in said} == said
