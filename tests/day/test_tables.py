"""CSV tables from any program: encodings, delimiters, decimal commas, and what is wrong in them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.day.tables import (
    CellReader,
    Dialect,
    csv_text,
    decimal_of,
    has_text,
    is_comma_number,
    is_point_number,
    number_text,
    parse_count,
    parse_count_word,
    parse_number,
    parse_table,
    read_table,
)
from doe.errors import InputError


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_the_dialect_is_found(tmp_path, newline, delimiter, encoding):
    text = newline.join([delimiter.join(row) for row in (["pull", "Öl", "power"], ["1", "dünn", "200"])]) + newline
    (tmp_path / "t.csv").write_bytes(text.encode(encoding))
    table = read_table(tmp_path / "t.csv")
    assert table.header == ("pull", "Öl", "power")
    assert table.rows[0].cells == ("1", "dünn", "200")
    assert table.dialect == Dialect(encoding, delimiter, newline)


def test_a_told_delimiter_is_believed_and_its_line_counted():
    table = parse_table("sep=;\npull;mean, weighted\n1;2\n", "t.csv")
    assert table.header == ("pull", "mean, weighted")
    assert table.rows[0].number == 3


def test_rows_are_counted_as_a_spreadsheet_counts_them():
    table = parse_table('pull,note\n\n1,"two\nlines"\n,\n2,x\n', "t.csv")
    assert [(row.number, row.cells[0]) for row in table.rows] == [(3, "1"), (5, "2")]


def test_cells_are_trimmed_and_columns_found_without_case_or_space():
    table = parse_table(" Pull , Mean  Power\n 1 , 200 \n", "t.csv")
    assert table.has("mean power")
    assert table.cell(table.rows[0], "meanpower") == "200"
    assert table.cell(table.rows[0], "torque") == ""


@pytest.mark.parametrize("text", ["", "\n\n", "  \n"])
def test_an_empty_file_is_told(text):
    with pytest.raises(InputError, match=r"t\.csv: the file is empty; expected a header in its first row"):
        parse_table(text, "t.csv")


def test_a_header_alone_has_no_rows():
    assert parse_table("pull,power\n", "t.csv").rows == ()


def test_an_open_last_line_is_seen():
    """The journal goes by it: a writer that was stopped leaves one."""
    assert [parse_table(text, "t.csv").open_end for text in ("a\n1", "a\n1\n", "a\r\n1\r\n", "a\r1\r", "a")] == [
        True, False, False, False, True,
    ]  # fmt: skip


def test_a_last_line_cut_off_inside_quotes_is_left_out_where_that_is_asked_for(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text('pull,note\n1,fine\n2,"cut o', encoding="utf-8")
    assert [row.cells for row in read_table(path, cut_off=True).rows] == [("1", "fine")]
    with pytest.raises(InputError, match="expected quotes in pairs"):
        read_table(path)
    # what is wrong further up is told all the same, and so is a header that was cut off: nothing would be left
    for text in ('pull,note\n1,"fine\n2,cut o', '"pull,no', 'pull,note\n1,"fine\n'):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(InputError, match="expected quotes in pairs"):
            read_table(path, cut_off=True)


def test_whether_a_file_holds_anything(tmp_path):
    path = tmp_path / "t.csv"
    assert not has_text(path)
    for content, held in ((b"", False), (b" \r\n\n", False), (b"pull\n", True), (b"\x00\x01\xff\x00", True)):
        path.write_bytes(content)
        assert has_text(path) is held
    assert not has_text(tmp_path)


def test_quotes_that_do_not_close_are_told():
    with pytest.raises(InputError, match=r"t\.csv, line 2: .*expected quotes in pairs"):
        parse_table('pull,note\n1,"open\n', "t.csv")


def test_an_unquoted_decimal_comma_in_a_table_of_commas_is_told():
    with pytest.raises(InputError, match=r"t\.csv, row 2: 3 cells, expected 2.*decimal comma.*wants quotes"):
        parse_table("pull,power\n1,200,5\n", "t.csv")
    assert parse_table('pull,power\n1,"200,5"\n', "t.csv").rows[0].cells == ("1", "200,5")
    assert parse_table("pull;power\n1;200,5\n", "t.csv").rows[0].cells == ("1", "200,5")


def test_blank_cells_that_were_left_off_are_filled_in():
    table = parse_table("pull,power,note\n1,200\n", "t.csv")
    assert table.rows[0].cells == ("1", "200", "")
    assert table.rows[0].given == 2


def test_columns_missing_and_twice_are_told_with_the_nearest_title():
    table = parse_table("pull,mean pwr,note,Note\n", "t.csv")
    assert table.header_faults(["mean power", "oil"], ["note"]) == [
        "t.csv, row 1: column 'mean power' is missing; is 'mean pwr' meant?",
        "t.csv, row 1: column 'oil' is missing",
        "t.csv, row 1: column 'note' stands there twice; expected it once",
    ]


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("431.2", ".", 431.2),
        ("431,2", ".", 431.2),
        ("431,2", ",", 431.2),
        ("1,234", ",", 1.234),
        ("+3", ".", 3.0),
        ("4.3e2", ".", 430.0),
        (".5", ".", 0.5),
        (" \N{MINUS SIGN}3 ", ".", -3.0),
        ("1\N{NO-BREAK SPACE}234,5", ",", 1234.5),
    ],
)
def test_numbers(text, decimal, value):
    assert parse_number(text, decimal) == value


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("n/a", "'n/a': expected a number, such as 431.2"),
        ("431.2 hp", "expected a number"),
        ("1.234,5", "expected a number"),
        ("4 31", "expected a number"),
        ("inf", "expected a finite number"),
        ("NaN", "expected a finite number"),
        ("1e999", "expected a finite number"),
        ("1,234", r"1,234 could be 1\.234 or 1234; write it without a comma"),
    ],
)
def test_what_is_no_number_is_told(text, words):
    with pytest.raises(ValueError, match=words):
        parse_number(text)


@pytest.mark.parametrize(
    ("text", "point", "comma"),
    [
        ("12", True, True),
        ("-1.5", True, False),
        ("1,5e-3", False, True),
        ("1.234,5", False, False),
        ("x", False, False),
    ],
)
def test_which_sign_a_number_may_have(text, point, comma):
    assert (is_point_number(text), is_comma_number(text)) == (point, comma)


def test_the_decimal_sign_of_a_column():
    assert decimal_of(["", "431,2", "430"]) == ","
    assert decimal_of(["431,2", "430.5"]) == "."
    assert decimal_of(["430"]) == "."
    assert decimal_of(["431,2", "about 3.5"]) == ","  # only numbers speak
    assert decimal_of(["ja, nein", "430"]) == "."


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(".,"))
def test_a_number_reads_back_as_it_was(value, decimal):
    assert parse_number(number_text(value, decimal), decimal) == value


def test_whole_numbers_and_words():
    assert [parse_count(text) for text in ("7", "07", "7.0", "7,00")] == [7, 7, 7, 7]
    assert parse_count_word("Warm-Up") == "warm-up"
    for text in ("0", "-1", "1.5", "x"):
        with pytest.raises(ValueError, match="expected a whole number of 1 or more"):
            parse_count(text)
    with pytest.raises(ValueError, match="expected yes, settling or warm-up"):
        parse_count_word("maybe")


def test_cells_that_can_not_be_read_are_collected():
    table = parse_table("pull,power\nx,200\n2,y\n", "t.csv")
    reader = CellReader(table)
    assert [reader.read(row, "pull", parse_count) for row in table.rows] == [None, 2]
    assert [reader.read(row, "power", parse_number) for row in table.rows] == [200.0, None]
    assert reader.faults == [
        "t.csv, row 2, column 'pull': 'x': expected a whole number of 1 or more",
        "t.csv, row 3, column 'power': 'y': expected a number, such as 431.2",
    ]


CELLS = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]) | st.just(" "), max_size=6).map(str.strip)


@given(st.lists(st.tuples(st.just("1"), CELLS, CELLS), min_size=1, max_size=4), st.sampled_from([",", ";", "\t"]))
def test_a_table_reads_back_as_it_was_written(rows, delimiter):
    table = parse_table(csv_text(["pull", "a", "b"], rows, delimiter), "t.csv")
    assert [row.cells for row in table.rows] == rows


def test_blank_cells_behind_the_last_column_are_no_fault_and_a_filled_one_is():
    assert [row.cells for row in parse_table("a,b\n1,2,,\n", "t.csv").rows] == [("1", "2")]
    with pytest.raises(InputError, match="row 2: 3 cells, expected 2"):
        parse_table("a,b\n1,2,3\n", "t.csv")


def test_a_point_in_a_column_of_decimal_commas_is_refused():
    assert parse_number("1,234", ",") == 1.234
    with pytest.raises(ValueError, match="expected a number"):
        parse_number("1.234", ",")


def test_what_is_no_text_is_not_taken_for_an_empty_file(tmp_path):
    (tmp_path / "t.csv").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)))
    assert has_text(tmp_path / "t.csv")
    (tmp_path / "t.csv").write_bytes(b"\r\n \r\n")
    assert not has_text(tmp_path / "t.csv")
