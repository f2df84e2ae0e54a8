"""Reading claims files: what is right, and every fault at once with its place and remedy."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doe.claims.reading.claimsfile import parse_claims, read_claims_file, read_claims_files
from doe.errors import InputError

SMALL = """
[[step]]
name = "baseline"
value = 512.40

[[step]]
name = "Thin Oil"
changed = "oil"
value = 519

[[claim]]
name = "oil"
about = "oil"
from = "baseline"
to = [" thin oil"]
"""


def faults(text):
    with pytest.raises(InputError) as caught:
        parse_claims(text, "f.toml")
    assert all(fault.startswith("f.toml, ") for fault in caught.value.faults)
    return "\n".join(caught.value.faults)


def test_printed_digits_are_kept_and_names_match_without_case_and_space():
    file = parse_claims(SMALL, "f.toml")
    assert [step.value for step in file.step] == [Decimal("512.40"), Decimal(519)]
    assert str(file.step[0].value) == "512.40"
    assert file.to_places(file.claim[0]) == [1]


def test_only_names_are_asked_for():
    file = parse_claims(SMALL.replace("value = 512.40\n", "").replace("value = 519\n", ""), "f.toml")
    assert (file.test.paid_by, file.test.temperatures, file.noise.pull_sd) == ("unknown", "not stated", None)


@pytest.mark.parametrize(
    ("wrong", "right", "message"),
    [
        ('name = "baseline"\n', 'nam = "baseline"\n', 'nam = "baseline": there is no such key; did you mean'),
        ("[[claim]]", "[[claims]]", "[claims]: there is no such table; did you mean 'claim'"),
        ("value = 519", 'value = "519"', '[[step]] 2 "Thin Oil": value = "519": expected a number, without quotes'),
        ("value = 519", "value = nan", "value = nan: expected a finite number"),
        ("value = 519", "value = -inf", "expected a finite number"),
        ("value = 519", "value = 1e400", "expected a finite number"),
        ("value = 519", "value = 0", "value = 0: expected a number above 0"),
        ("value = 519", "value = true", "expected a number, without quotes"),
        ("value = 519", "pulls = 0", "pulls = 0: expected a number of at least 1"),
        ("value = 519", "pulls = 2.5", "pulls = 2.5: expected a whole number"),
        ("value = 519", 'shown = "bset"', "did you mean 'best'"),
        ("value = 519", 'shown = "only"\npulls = 3', 'shown = "only": expected pulls = 1, not 3'),
        ("value = 519", 'back_to = "baselin"', "expected the name of an earlier step; did you mean 'baseline'"),
        ("value = 519", "torque_at_rpm = 4000", "torque_at_rpm = 4000: expected torque beside it"),
        ('from = "baseline"', 'from = "base line 2"', "is no [[step]]; did you mean 'baseline'"),
        ('from = "baseline"', "from = []", "from = []: expected at least one entry in the list"),
        ('from = "baseline"', 'from = "thin oil"', "stands in from and in to"),
        ('from = "baseline"\n', "", "'from' is missing; write for example from = [\"baseline\"]"),
        ('name = "Thin Oil"', 'name = "BASELINE"', "expected a name of its own; [[step]] 1 has it already"),
        ("[[step]]\nname", "[step]\nname", "line"),
    ],
)  # fmt: skip
def test_each_fault_is_named_with_its_place(wrong, right, message):
    assert message in faults(SMALL.replace(wrong, right, 1 if wrong != "[[step]]\nname" else 2))


def test_all_faults_come_at_once_in_the_order_of_the_file():
    text = SMALL.replace("value = 519", "value = nan\npulls = 0\nshwn = 3").replace('about = "oil"', "about = []")
    text = '[test]\npaid_by = "sellr"\nbest = 1\n[noise]\npull_df = 3\n' + text
    lines = faults(text).splitlines()
    places = [line.split(": ")[0].removeprefix("f.toml, ") for line in lines]
    assert places == ["[test]"] * 2 + ["[noise]"] + ['[[step]] 2 "Thin Oil"'] * 3 + ['[[claim]] 1 "oil"']


def test_a_key_in_the_wrong_table_is_sent_home():
    assert "'pull_sd' belongs into [noise]" in faults("[test]\npull_sd = 1\n" + SMALL)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[[step]]\nname = oil\n", 'line 2, column 8: put the text in quotes: "oil"'),
        ("[[step]]\nvalue = 4,5\n", "line 2, column 9: write the number with a point: 4.5"),
        ("[[step]\nname = 'a'\n", "line 1"),
        ("name\n", "line 1"),
    ],
)
def test_syntax_is_answered_with_line_and_column(text, message):
    assert message in faults(text)


def test_steps_and_claims_must_be_there():
    text = faults('[test]\ntitle = "x"\n')
    assert "[[step]]: the table is missing; it needs name" in text
    assert "[[claim]]: the table is missing; it needs name, about, from, to" in text


@pytest.mark.parametrize("empty", [b"", b"  \n\n", b"\xef\xbb\xbf"])
def test_an_empty_file_says_how_to_start(tmp_path, empty):
    file = tmp_path / "f.toml"
    file.write_bytes(empty)
    with pytest.raises(InputError, match="the file is empty; 'doe audit --new FILE' starts one"):
        read_claims_file(file)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_whatever_program_saved_it(tmp_path, encoding):
    file = tmp_path / "f.toml"
    file.write_bytes(SMALL.replace("Thin Oil", "Thin Öl").replace("thin oil", "thin öl").encode(encoding))
    assert read_claims_file(file).step[1].name == "Thin Öl"


def test_no_file_a_folder_and_no_text(tmp_path):
    with pytest.raises(InputError, match="there is no such file; 'doe audit --new FILE' starts one"):
        read_claims_file(tmp_path / "f.toml")
    with pytest.raises(InputError, match="this is a folder"):
        read_claims_file(tmp_path)
    (tmp_path / "f.toml").write_bytes(bytes(range(256)) * 3)
    with pytest.raises(InputError):
        read_claims_file(tmp_path / "f.toml")


def test_the_faults_of_all_files_at_once_and_no_file_twice(tmp_path):
    files = [tmp_path / name for name in ("a.toml", "b.toml", "c.toml")]
    files[0].write_text("")
    files[1].write_text(SMALL)
    with pytest.raises(InputError) as caught:
        read_claims_files([*files, tmp_path / "." / "b.toml"])
    assert len(caught.value.faults) == 3
    assert "named twice; a test counts once" in caught.value.faults[2]


_VALUES = st.sampled_from(
    ['"x"', "3", "-2.5", "nan", "true", "[]", '["a", 3]', "{ a = 1 }", "2026-05-16", '""', "1e999"]
)
_KEYS = st.sampled_from(
    ["name", "changed", "value", "pulls", "shown", "about", "from", "to", "gain", "pull_sd", "pull_df", "back_to", "zz",
     "unit", "torque", "torque_at_rpm", "published", "smallest_gain", "displacement_l"]
)  # fmt: skip
_TABLES = st.sampled_from(["[test]", "[noise]", "[engine]", "[prior]", "[[step]]", "[[claim]]", "[protocol]", "[zz]"])


@settings(max_examples=150)
@given(st.lists(st.tuples(_TABLES, st.dictionaries(_KEYS, _VALUES, max_size=4)), max_size=6, unique_by=lambda t: t[0]))
def test_no_content_ends_in_anything_but_words(tables):
    text = "\n".join("\n".join([table, *(f"{key} = {value}" for key, value in keys.items())]) for table, keys in tables)
    try:
        parse_claims(text, "f.toml")
    except InputError as error:
        assert all(fault.startswith("f.toml") for fault in error.faults)
