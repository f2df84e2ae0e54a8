"""Advice about tables and keys that stand twice in day.toml, or in too few brackets."""

import pytest

from doe.day.files.dayfile import parse_day
from doe.errors import InputError


def faults(text: str) -> list[str]:
    with pytest.raises(InputError) as refused:
        parse_day(text)
    return refused.value.faults


def test_a_table_that_stands_twice_gets_advice_that_works(day_text):
    text = (
        day_text
        + "[log]\ncolumns = ['a']\n[limits]\na = [1, 2]\n[files]\ndecimal = '.'\n[limits]  # again\nb = [1, 2]\n"
    )
    (fault,) = faults(text)
    assert "[limits] stands here twice; put all its lines under the first [limits], and take this line out" in fault
    lines = text.splitlines(keepends=True)
    number = int(fault.split("line ")[1].split(",")[0])
    moved, rest = lines[number], lines[: number - 1] + lines[number + 1 :]
    rest.insert(rest.index("[limits]\n") + 1, moved)
    assert parse_day("".join(rest)).limits == {"b": (1, 2), "a": (1, 2)}


def test_two_log_tables_are_not_told_to_take_two_brackets(day_text):
    (fault,) = faults(day_text + "[log]\ncolumns = ['a']\n[log]\ncolumns = ['b']\n")
    assert "[[" not in fault
    assert "put all its lines under the first [log]" in fault
    (fault,) = faults(day_text + "[log]\ncolumns = ['a']\ncolumns = ['b']\n")
    assert "'columns' stands in this table twice; take one of the two lines out" in fault
    parse_day(day_text + "[log]\ncolumns = ['a']\n")


def test_a_list_of_tables_still_gets_its_two_brackets(day_text):
    assert "write [[factor]], in two brackets" in faults(day_text.replace("[[factor]]", "[factor]"))[0]
    single = day_text.replace("[[factor.change]]", "[factor.change]")
    assert "write [[factor.change]], in two brackets" in faults(single)[0]
    mixed = day_text.replace("[[factor.change]]", "[factor.change]", 1)
    assert "[factor.change] stands above in single brackets" in faults(mixed)[0]
