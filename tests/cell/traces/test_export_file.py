"""Exports as dynos write them, and what is wrong with some of them, in words."""

import numpy as np
import pytest

from doe.cell.traces import export_file
from doe.cell.traces.export_file import parse_columns, read_columns
from doe.cell.traces.layout import Layout
from doe.cell.traces.many_files import read_many
from doe.errors import InputError


def plain(sweep):
    return {"t": sweep.time, "n": sweep.rpm, "T": sweep.torque, "P": sweep.power}


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"delimiter": ";"},
        {"delimiter": "\t"},
        {"delimiter": ";", "decimal": ","},
        {"delimiter": "\t", "decimal": ",", "end": "\r\n"},
        {"end": "\r\n"},
        {"encoding": "utf-8-sig"},
        {"encoding": "utf-16"},
        {"under": ["s", "1/min", "N·m", "kW"]},
        {"above": ["Pull 7; baseline", "", "operator, somebody"]},
        {"above": ["Öl 15W-50"], "encoding": "cp1252"},
    ],
)
def test_however_it_is_written_it_reads_the_same(sweep, written, layout, how):
    made = sweep(hertz=5)
    data = written(plain(made), **how)
    asked = Layout(layout.columns, layout.units, unit_row="under" in how, title_lines=len(how.get("above", ())))
    found = parse_columns(data, asked, "pull.csv")
    np.testing.assert_allclose(found.values["torque"], made.torque, rtol=1e-5)
    np.testing.assert_allclose(found.values["time"], made.time, rtol=1e-5, atol=1e-9)
    assert found.units == {"time": "s", "rpm": "rpm", "torque": "N m", "power": "kW"}


def test_columns_come_in_the_order_of_the_mapping_not_of_the_file(sweep, written, layout):
    made = sweep(hertz=5)
    turned = dict(reversed(plain(made).items()))
    found = parse_columns(written(turned), layout, "pull.csv")
    np.testing.assert_allclose(found.values["rpm"], made.rpm, rtol=1e-5)
    np.testing.assert_allclose(found.values["power"], made.power, rtol=1e-5)


def test_the_slow_reader_reads_what_the_fast_one_does(sweep, written, layout):
    made = sweep(hertz=5)
    cells = {name: [f"{value:.6g}" for value in values] for name, values in plain(made).items()}
    fast = parse_columns(written(cells), layout, "pull.csv")
    cells["T"][3] = " - "
    slow = parse_columns(written(cells), layout, "pull.csv")
    assert np.isnan(slow.values["torque"][3])
    for name, values in fast.values.items():
        keep = np.arange(len(values)) != 3
        np.testing.assert_array_equal(values[keep], slow.values[name][keep])


@pytest.mark.parametrize("empty", ["", "NaN", "nan", "N/A", "-"])
def test_an_empty_cell_is_nan(sweep, written, layout, empty):
    cells = {name: [f"{value:.6g}" for value in values] for name, values in plain(sweep(hertz=5)).items()}
    cells["P"][2] = empty
    assert np.isnan(parse_columns(written(cells), layout, "pull.csv").values["power"][2])


def test_titles_match_whatever_their_capitals_and_units_in_brackets_are_read(sweep, written):
    made = sweep(hertz=5)
    data = written({"Engine  RPM": made.rpm, "Torque [lb-ft]": made.torque})
    found = parse_columns(data, Layout({"rpm": "engine rpm", "torque": "torque [lb-ft]"}), "pull.csv")
    assert found.units == {"rpm": "rpm", "torque": "lb ft"}


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"T": "OVER"}, r"line 5, column 'T': 'OVER' is no number; correct it, or leave the cell empty"),
        ({"T": "3.1.2"}, r"line 5, column 'T': '3.1.2'"),
        ({"T": "1_000"}, r"line 5, column 'T': '1_000'"),
        ({"T": "inf"}, r"row 4 of the numbers, column 'T': inf; expected a number that can be measured"),
        ({"T": "1e300"}, r"row 4 of the numbers, column 'T': 1e\+300; expected a number that can be measured"),
    ],
)
def test_text_in_a_number_is_named(sweep, written, layout, cells, words):
    texts = {name: [f"{value:.6g}" for value in values] for name, values in plain(sweep(hertz=5)).items()}
    for name, cell in cells.items():
        texts[name][3] = cell
    with pytest.raises(InputError, match=words):
        parse_columns(written(texts), layout, "pull.csv")


def test_a_point_where_commas_are_decimal_is_no_thousand(sweep, written, layout):
    made = sweep(hertz=5)
    texts = {name: [f"{value:.3f}".replace(".", ",") for value in values] for name, values in plain(made).items()}
    texts["n"][3] = "3.200"
    with pytest.raises(InputError, match=r"line 5, column 'n': '3.200' is no number"):
        parse_columns(written(texts, delimiter=";"), layout, "pull.csv")


def test_what_is_missing_is_named(sweep, written, layout):
    made = sweep(hertz=5)
    with pytest.raises(InputError, match=r"no column 'P' for power; the header has t, n, T"):
        parse_columns(written({"t": made.time, "n": made.rpm, "T": made.torque}), layout, "pull.csv")
    with pytest.raises(InputError, match=r"column 'T': no unit is told; add units = \{ torque = \"N m\" \}"):
        parse_columns(written(plain(made)), Layout({"rpm": "n", "torque": "T"}), "pull.csv")
    twice = b"n,T,T\n3000,1,1\n"
    with pytest.raises(InputError, match="column 'T' stands there 2 times"):
        parse_columns(twice, Layout({"rpm": "n", "torque": "T"}, {"torque": "N m"}), "pull.csv")


def test_a_unit_row_that_contradicts_is_refused(sweep, written, layout):
    data = written(plain(sweep(hertz=5)), under=["s", "rpm", "lb ft", "kW"])
    with pytest.raises(InputError, match=r"the unit row says lb ft, \[traces\] units says torque = \"N m\""):
        parse_columns(data, Layout(layout.columns, layout.units, unit_row=True), "pull.csv")


@pytest.mark.parametrize(
    ("columns", "units", "words"),
    [
        ({"torque": "T"}, {}, "expected rpm, and torque or power"),
        ({"rpm": "n"}, {}, "expected rpm, and torque or power"),
        ({"rpm": "n", "torque": "T"}, {"power": "kW"}, r'power = "kW": expected one of the columns rpm, torque'),
        ({"rpm": "n", "torque": "T"}, {"torque": "kW"}, "expected a unit of torque"),
        ({"rpm": "n", "torque": "T"}, {"torque": "furlong"}, "expected a unit of torque"),
    ],
)
def test_a_mapping_that_makes_no_sense(columns, units, words):
    with pytest.raises(InputError, match=words):
        Layout(columns, units)


@pytest.mark.parametrize("data", [b"", b"\n\n", b"\0\0\0\0"])
def test_an_empty_file(tmp_path, layout, data):
    (tmp_path / "pull.csv").write_bytes(data)
    with pytest.raises(InputError, match=r"pull.csv: the file is empty; is it still being written"):
        read_columns(tmp_path / "pull.csv", layout)


def test_a_header_alone(layout):
    with pytest.raises(InputError, match="no numbers under the header"):
        parse_columns(b"t,n,T,P\n", layout, "pull.csv")


def test_a_file_that_is_cut_off(sweep, written, layout):
    data = written(plain(sweep(hertz=5)))
    cut = data[: data.rindex(b",")]
    with pytest.raises(InputError, match="the last line is cut off; is the file still being written"):
        parse_columns(cut, layout, "pull.csv")
    parse_columns(data.rstrip(b"\n"), layout, "pull.csv")  # many exports have no line end at the last line


def test_a_huge_file_is_refused_by_its_size_before_it_is_read(tmp_path, layout, monkeypatch):
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(1_000_000_000)  # a hole: no disk is used
    monkeypatch.setattr(type(path), "read_bytes", lambda self: pytest.fail("it was read"))
    with pytest.raises(InputError, match=r"huge.csv: 1,000 MB; a pull's export has at most 150"):
        read_columns(path, layout)
    assert export_file.LARGEST_MB == 150


def test_no_such_file(tmp_path, layout):
    with pytest.raises(InputError, match="there is no such file"):
        read_columns(tmp_path / "no.csv", layout)


def test_a_decimal_comma_in_a_table_parted_by_commas_is_refused(sweep, written, layout):
    made = sweep(hertz=5)
    texts = {name: [f"{value:.2f}".replace(".", ",") for value in values] for name, values in plain(made).items()}
    with pytest.raises(InputError, match="line 2: 8 cells under 4 titles; numbers with a decimal comma"):
        parse_columns(written(texts), layout, "pull.csv")
    plainly = written(plain(made)).splitlines()
    plainly[5] += b",7"
    with pytest.raises(InputError, match="line 6: 5 cells under 4 titles"):
        parse_columns(b"\n".join(plainly) + b"\n", layout, "pull.csv")


def test_many_files_are_each_read_as_alone(tmp_path, sweep, written, layout, monkeypatch):
    monkeypatch.setattr("doe.cell.traces.many_files.AT_A_TIME", 9000)
    random, paths = np.random.default_rng(8), []
    for number in range(12):
        made = sweep(hertz=float(random.integers(5, 30)), seed=number)
        columns = plain(made)
        how = [{}, {"end": "\r\n"}, {"delimiter": ";", "decimal": ","}, {"encoding": "utf-16"}][
            int(random.choice(4, p=[0.7, 0.1, 0.1, 0.1]))
        ]
        data = written(columns, **how)
        if number == 3:
            data = data.replace(b"\n", b"\n\n", 9)  # blank lines
        if number == 6:
            data = data.rstrip(b"\n")
        paths.append(tmp_path / f"{number}.csv")
        paths[-1].write_bytes(data)
    together = list(read_many(paths, layout))
    assert [columns.file for columns in together] == [path.name for path in paths]
    for path, columns in zip(paths, together, strict=True):
        for name, values in read_columns(path, layout).values.items():
            np.testing.assert_array_equal(columns.values[name], values)


def test_a_fault_among_many_files_names_its_own(tmp_path, sweep, written, layout):
    paths = []
    for number in range(5):
        texts = {name: [f"{value:.6g}" for value in values] for name, values in plain(sweep(hertz=5)).items()}
        if number == 3:
            texts["T"][4] = "OVER"
        paths.append(tmp_path / f"{number}.csv")
        paths[-1].write_bytes(written(texts))
    with pytest.raises(InputError, match=r"^3.csv, line 6, column 'T': 'OVER'"):
        list(read_many(paths, layout))


def test_no_column_is_taken_twice_because_its_title_differs_in_capitals_only(layout):
    """The mapping has "t" for time and "T" for torque, the export "time" and "T"."""
    with pytest.raises(InputError) as error:
        parse_columns(b"time,n,T,P\n0,3000,300,94\n1,3300,300,103\n", layout, "pull.csv")
    assert error.value.faults == ("pull.csv: there is no column 't' for time; the header has time, n, T, P",)
    twice = Layout({"rpm": "RPM", "torque": "rpm"}, {"torque": "N m"})
    with pytest.raises(InputError, match="column 'Rpm' is taken for rpm and for torque; expected one each"):
        parse_columns(b"Rpm,x\n3000,1\n3300,2\n", twice, "pull.csv")
