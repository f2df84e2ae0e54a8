"""Points and commas in a column of numbers: what the column proves is read, two readings are refused."""

from __future__ import annotations

import pytest

from doe.day.columns.decimal_signs import NumberColumn


@pytest.mark.parametrize(
    ("cells", "values"),
    [
        (["431.2", "430"], [431.2, 430]),
        (["431,2", "430"], [431.2, 430]),
        (["431,2", "430.5"], [431.2, 430.5]),
        (["3.000", "3.100", "2.950"], [3, 3.1, 2.95]),  # three decimals throughout
        (["431", "431.125"], [431, 431.125]),
        (["3.000", "2.5"], [3, 2.5]),
        (["3.000", "1.234,5", "950"], [3000, 1234.5, 950]),
        (["3.000", "1.234.567"], [3000, 1234567]),
        (["1,234", "1,234.5"], [1234, 1234.5]),
        (["1,234", "2,5"], [1.234, 2.5]),
        (["0,500", "1234,567", "5.5"], [0.5, 1234.567, 5.5]),
        (["1.020", "1000", "950"], [1.02, 1000, 950]),
        (["-1.234,5", "1\N{NO-BREAK SPACE}234,5"], [-1234.5, 1234.5]),
    ],
)
def test_what_a_column_proves_is_read(cells, values):
    column = NumberColumn.of(cells)
    assert [column.read(cell) for cell in cells] == values


@pytest.mark.parametrize(
    ("cells", "beside", "words"),
    [
        (
            ["3.000", "431,2"],
            [],
            r"3\.000 could be 3 or 3000 \(decimal commas stand beside it\); write thousands without",
        ),
        (["3.000", "3.100"], ["21,5"], "decimal commas stand in other columns"),
        (["950", "1.020"], [], r"1\.020 could be 1\.02 or 1020 \(whole numbers stand beside it\)"),
        (["1,234", "5.5"], [], "1,234 could be 1.234 or 1234"),
        (["1,234", "1,250"], [], "no other number of the table has a decimal comma"),
        (["3.000", "1.234,5", "2.5"], [], "the column has both kinds"),
    ],
)
def test_what_allows_two_readings_is_refused_and_the_remedies_work(cells, beside, words):
    column = NumberColumn.of(cells, beside)
    with pytest.raises(ValueError, match=words):
        [column.read(cell) for cell in cells]
    sign = "," if "," in column.doubtful else "."
    thousands = [cell.replace(sign, "") if column.is_doubtful(cell) else cell for cell in cells]
    decimals = [f"{cell}0" if column.is_doubtful(cell) else cell for cell in cells]
    first = cells.index(column.doubtful)
    assert NumberColumn.of(thousands, beside).read(thousands[first]) >= 1000
    assert NumberColumn.of(decimals, beside).read(decimals[first]) < 10


def test_other_columns_and_the_file_are_asked_last():
    assert NumberColumn.of(["1,234"], ["2,5"]).read("1,234") == 1.234
    assert NumberColumn.of(["1,234"], known=",").read("1,234") == 1.234
    assert NumberColumn.of(["3.000"], ["21.5", "21,5"]).read("3.000") == 3


@pytest.mark.parametrize("text", ["n/a", "431.2 bad", "inf", "1.2.3", "1,23.4", "12.34,5"])
def test_what_is_no_number_is_told(text):
    with pytest.raises(ValueError, match="expected a"):
        NumberColumn.of([text, "1.234,5"]).read(text)


def test_a_unit_beside_the_numbers_is_read_and_no_other_beside_it():
    column = NumberColumn.of(["402,2 PS", "401,9 ps", "400"])
    assert (column.unit, [column.read(text) for text in ("402,2 PS", "401,9 ps", "400")]) == ("PS", [402.2, 401.9, 400])
    with pytest.raises(ValueError, match="'300 kW' beside cells in PS"):
        column.read("300 kW")
    assert NumberColumn.of(["1.234,5 kW", "1.300"]).read("1.300") == 1300


def test_a_bare_number_beside_per_cents_may_be_a_share():
    column = NumberColumn.of(["95 %", "96,5 %", "94", "0.95", "0"])
    assert [column.read(text) for text in ("95 %", "94", "0")] == [95.0, 94.0, 0.0]
    with pytest.raises(ValueError, match="write the sign in all of the column"):
        column.read("0.95")
