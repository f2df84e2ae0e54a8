"""Equal messages of many rows are one."""

from doe.words.faults_by_row import by_row


def test_faults_that_differ_in_their_row_are_one_line():
    many = [f"pulls.csv, row {row}, column 'power': empty" for row in range(2, 47)]
    assert by_row(many) == ["pulls.csv, rows 2, 3, 4, 5 and 41 more, column 'power': empty"]
    assert by_row(many[:2]) == ["pulls.csv, rows 2 and 3, column 'power': empty"]
    assert by_row(many[:1]) == many[:1]


def test_cells_that_are_quoted_are_named_together():
    faults = [f"row {row}, column 'p': '{cell}': expected a number" for row, cell in ((2, "a"), (5, "b"), (9, "a"))]
    assert by_row([*faults, "another", "row 3, column 'q': empty"]) == [
        "rows 2, 5 and 9, column 'p': 'a', 'b': expected a number",
        "another",
        "row 3, column 'q': empty",
    ]
