"""Every result has the same doors."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import doe
from doe.words.result import Answer, Result

ROOT = Path(doe.__file__).parent


@dataclass(frozen=True, slots=True, repr=False)
class Small(Answer):
    text: str

    def to_dict(self) -> dict[str, Any]:
        return {"text": self.text}

    def to_text(self) -> str:
        return self.text


def test_the_text_is_what_is_printed():
    assert str(Small("one\ntwo")) == f"{Small('one' + chr(10) + 'two')}" == "one\ntwo"
    assert repr(Small("\n  one\ntwo")) == "<Small: one>"
    assert repr(Small("")) == "<Small: >"
    assert len(repr(Small("long " * 100))) < 120
    assert Small("a < b & c")._repr_html_() == "<pre>a &lt; b &amp; c</pre>"


def test_a_result_without_a_frame_can_not_be_made():
    @dataclass(frozen=True)
    class Half(Result):
        def to_dict(self) -> dict[str, Any]:
            return {}

        def to_text(self) -> str:
            return ""

    with pytest.raises(TypeError, match="to_frame"):
        Half()


def test_every_class_with_a_text_is_an_answer_with_the_short_repr():
    for path in ROOT.rglob("*.py"):
        name = ".".join(path.relative_to(ROOT.parent).with_suffix("").parts)
        if "to_text" in path.read_text(encoding="utf-8") and path.name not in ("__init__.py", "__main__.py"):
            for thing in vars(import_module(name)).values():
                if isinstance(thing, type) and thing.__module__ == name and hasattr(thing, "to_text"):
                    assert issubclass(thing, Answer), thing
                    assert thing.__repr__ is Answer.__repr__, thing
                    assert not hasattr(thing, "to_frame") or issubclass(thing, Result), thing


def test_many_outcomes_have_the_doors_long_and_wide():
    rng = np.random.default_rng(1)
    change = ["a", "b", "a", "b", "a", "b", "c", "c"]
    many = doe.judge_many(rng.normal(200, 1, (5, 8)), change=change, baseline="a")
    long, wide = many.to_frame(), many.to_frame(wide=True)
    assert len(long) == 10 and len(wide) == 5
    row = long[(long["outcome"] == 3) & (long["level"] == "c")].iloc[0]
    assert row["gain"] == many.gain[3, 1] == wide["change c"].loc[3, "gain"]
    assert many.to_dict()["changes"][1]["family_low"] == many.family_low[:, 1].tolist()
    assert str(many).splitlines()[0] == "5 outcomes of one design, 2 changes"
    assert repr(many) == "<Judgements: 5 outcomes of one design, 2 changes>"
