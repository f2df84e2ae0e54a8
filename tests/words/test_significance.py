"""The levels at which a thing is said to be there stand in one place."""

from __future__ import annotations

import re
from pathlib import Path

import doe
from doe.words.significance import CONFIDENCE, NOTABLE, inner_level

ROOT = Path(doe.__file__).parent
LEVEL = re.compile(r"(risk|level|notable|confidence)\w*(: [^=\n]+)? = 0\.\d", re.IGNORECASE)


def test_no_module_names_a_level_of_its_own():
    found = {
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in ROOT.rglob("*.py")
        for match in LEVEL.finditer(path.read_text(encoding="utf-8"))
        if path.name != "significance.py"
    }
    assert found == set()


def test_the_inner_interval_is_that_of_two_one_sided_tests():
    # Source: Schuirmann (1987), J. Pharmacokin. Biopharm. 15, 657-680: each one-sided at 5 %, so a 90 % interval.
    assert round(inner_level(CONFIDENCE), 12) == 0.9
    assert round(1 - CONFIDENCE, 12) == NOTABLE
