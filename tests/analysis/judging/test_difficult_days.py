"""Ten difficult days, invented: what a tired tester must not misread, and what a statistician must not miss."""

from __future__ import annotations

import pytest

import doe
from doe.errors import ConfoundedError

PULL, CHANGEOVER = 4.0, 20.0  # minutes


def table(*stints: tuple[str, list[float]], **columns: list[str]) -> dict[str, list]:
    """A day as a table: what is fitted and the readings of each fitting; `columns` are other parts, a word a stint."""
    found: dict[str, list] = {"power": [], "oil": [], "fitting": [], "minute": [], **{name: [] for name in columns}}
    minute = 0.0
    for number, (oil, readings) in enumerate(stints):
        for reading in readings:
            found["power"].append(reading)
            found["oil"].append(oil)
            found["fitting"].append(number)
            found["minute"].append(minute)
            for name, words in columns.items():
                found[name].append(words[number])
            minute += PULL
        minute += CHANGEOVER
    return found


def judged(day: dict[str, list], **asked) -> tuple[doe.Judgement, str]:
    """The judgement and its text, for an oil worth having from 1 hp."""
    words = {"change": "oil", "baseline": "thick", "install": "fitting", "time": "minute", "smallest_gain": 1.0}
    found = doe.judge(day, value="power", **{**words, **asked})
    return found, found.to_text(details=True).partition("\n\n")[2]  # without what to do


def line_of(text: str, part: str) -> str:
    """The line of one change."""
    return next(line for line in text.splitlines() if part in line)


def test_each_oil_on_once_is_not_settled_however_clear_it_looks() -> None:
    day = table(("thick", [200.1, 200.3, 199.9, 200.2, 200.0]), ("thin", [203.0, 203.2, 202.9, 203.1, 203.3]))
    found, text = judged(day)
    assert found.changes[0].verdict == "not settled"
    assert found.changes[0].low is None
    assert line_of(text, "oil thin").startswith("not settled")
    assert "re-fitting noise can't be known from this day" in text
    assert "real gain" not in text


def test_an_engine_that_gains_all_day_does_not_make_the_last_part_better() -> None:
    climbing = [("thick", [200.0, 200.3, 200.5]), ("thin", [202.0, 202.1, 202.5]), ("thick", [204.1, 204.2, 204.4]),
                ("thin", [206.0, 206.3, 206.2]), ("thick", [208.0, 208.2, 208.5])]  # fmt: skip
    found, _ = judged(table(*climbing))
    assert found.changes[0].verdict == "no difference that matters"
    assert found.noise.drift_per_hour == pytest.approx(3.8, abs=0.4)


def test_two_parts_that_always_go_on_together_have_no_gain_of_their_own() -> None:
    stints = [("thick", [200.0, 200.2]), ("thin", [202.0, 202.3]), ("thick", [200.1, 199.9]), ("thin", [202.2, 202.1])]
    day = table(*stints, plugs=["old", "new", "old", "new"])
    with pytest.raises(ConfoundedError, match="always on together: one pull with the"):
        judged(day, change=["oil", "plugs"], baseline=["thick", "old"])


def test_one_bad_pull_that_decides_the_verdict_is_named() -> None:
    stints = [("thick", [200.0, 200.2, 200.1]), ("thin", [201.9, 202.1, 202.0]), ("thick", [200.2, 199.9, 200.1]),
              ("thin", [202.0, 195.0, 202.2]), ("thick", [200.0, 200.1, 199.9]), ("thin", [202.1, 201.9, 202.0]),
              ]  # fmt: skip
    day = table(*stints)
    _, text = judged(day)
    assert line_of(text, "oil thin").startswith("not settled")
    assert "pull in row 12 stands out" in text  # the header is row 1
    assert "with it allowed for, oil thin would read 'real gain' (" in text


def test_nothing_shown_is_never_called_no_difference() -> None:
    day = table(("thick", [198.0, 202.1, 200.4]), ("thin", [201.5, 198.9, 199.6]), ("thick", [202.4, 197.9, 199.9]),
                ("thin", [198.7, 201.2, 200.2]))  # fmt: skip
    found, text = judged(day)
    assert abs(found.changes[0].gain) < 0.5
    assert line_of(text, "oil thin").startswith("not settled")
    assert "no difference" not in text
    assert "would probably settle it" in text or "would not settle it" in text


def test_a_real_difference_that_nobody_would_pay_for_says_both() -> None:
    steady = [("thick", [200.00, 200.02, 199.99]), ("thin", [200.31, 200.29, 200.30])] * 4
    found, text = judged(table(*steady))
    assert found.changes[0].verdict == "no difference that matters"
    assert found.changes[0].low > 0
    assert "a real difference, too small to matter" in text


def test_readings_that_repeat_to_the_last_digit_give_no_interval() -> None:
    day = table(
        ("thick", [200.0, 200.0]), ("thin", [202.0, 202.0]), ("thick", [200.0, 200.0]), ("thin", [202.0, 202.0])
    )
    found, text = judged(day)
    assert found.changes[0].low is None
    assert line_of(text, "oil thin").startswith("not settled")
    assert "repeat to the last digit" in text


def test_a_part_that_went_on_once_stays_open_beside_one_that_returned() -> None:
    stints = [("thick", [200.0, 200.3]), ("thin", [203.0, 203.3]), ("thick", [200.2, 199.9]), ("thin", [203.2, 202.9]),
              ("thick", [200.1, 200.2]), ("thin", [203.1, 203.0]), ("thick", [204.0, 204.3])]  # fmt: skip
    day = table(*stints, plugs=["old"] * 6 + ["new"])
    found, text = judged(day, change=["oil", "plugs"], baseline=["thick", "old"], install=["stints", "stints"])
    oil, plugs = found.changes
    assert (oil.verdict, plugs.verdict) == ("real gain", "not settled")
    assert plugs.route == "none"
    assert line_of(text, "plugs new").startswith("not settled")


def test_a_study_that_promised_too_little_scatter_is_told_off() -> None:
    day = table(("thick", [198.0, 202.0, 200.5]), ("thin", [201.0, 205.0, 202.0]), ("thick", [197.5, 201.5, 200.0]),
                ("thin", [204.5, 200.5, 202.5]))  # fmt: skip
    _, text = judged(day, noise={"pull_sd": 0.4, "pull_df": 12, "install_sd": 0.3, "install_df": 5})
    warning = line_of(text, "Warning: ")
    assert "study" in warning
    assert "narrow" in text or "too small" in text


def test_one_pull_of_each_says_what_would_show_more() -> None:
    day = table(("thick", [200.0]), ("thin", [203.0]))
    with pytest.raises(ConfoundedError, match=r"can't be told from the drift .* one more pull of the baseline"):
        judged(day)
    found, text = judged(day, time=None)
    assert found.changes[0].low is None
    assert line_of(text, "oil thin").startswith("not settled")


@pytest.mark.parametrize(
    ("power", "minute", "fitting", "day", "by_hand"),
    [
        # In each fitting of two the readings step alike, so that a drift explains them whole and nothing is left.
        ([400.5, 400.0, 402.0, 401.5, 400.0, 401.5], [0, 10, 40, 50, 90, 120], [0, 0, 1, 1, 2, 3], None, 1.609),
        (
            [400.1, 400.4, 402.0, 402.3, 400.5, 402.1, 390.1, 390.4, 392.0, 392.3, 390.5, 392.5],
            [0, 10, 40, 50, 90, 120] * 2,
            [0, 0, 1, 1, 2, 3, 4, 4, 5, 5, 6, 7],
            [1] * 6 + [2] * 6,
            1.761,
        ),
    ],
)
def test_readings_that_step_alike_do_not_make_the_drift_known(power, minute, fitting, day, by_hand):
    # By hand: least squares on the means of the fittings, gain, drift and days; numpy's lstsq.
    oil = [("a", "b", "a", "b")[f % 4] for f in fitting]
    table = {"p": power, "t": minute, "fit": fitting, "oil": oil, "day": day or [1] * len(power)}
    judged = doe.judge(
        table, value="p", change="oil", baseline="a", install="fit", time="t", day="day" if day else None
    )
    assert judged.changes[0].gain == pytest.approx(by_hand, abs=5e-4)
    assert judged.noise.pull_sd is None  # rounding hides it
    assert judged.noise.install_sd is None
    assert "not known from these pulls" in judged.to_text(details=True)


def test_readings_that_are_all_alike_want_more_digits_not_to_be_left() -> None:
    alike = table(*[(oil, [400.0, 400.0]) for oil in ("thick", "thin") * 2])
    found, _ = judged(alike)
    short = " ".join(found.to_text().split())
    assert "log more digits" in short
    assert "too small for this noise" not in short
