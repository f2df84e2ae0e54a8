"""What must lie ready, and what it costs. Every number by hand."""

from __future__ import annotations

import datetime as dt

import pytest
from day_files import day_file, factor

from doe.day.bring.costs import cost_of
from doe.day.bring.needs import needs_of
from doe.day.bring.parts_moved import moves_of
from doe.day.bring.quantities import Quantity, read_quantity, summed
from doe.day.clock import Position, lay_out
from doe.day.files.dayfile import parse_day
from doe.day.files.seal import seal_of
from doe.day.records import Pull, Stint
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.words.day.bring_words import bring_block, money

OIL = factor("oil", "thick", "thin 20 20 1 2.0", "runny 30 30 0 2.0", refit=True)
VACUUM = factor("vacuum", "off", "on 2 2 0 1.5")


def priced(text: str) -> DayFile:
    """120 EUR an hour, 4.5 l and 30 EUR an oil, 60 EUR and half a litre more of the thin one."""
    return parse_day(
        text.replace("[cell]", 'currency = "EUR"\nper_hour = 120\n[cell]')
        .replace('baseline = "thick"', 'baseline = "thick"\nper_fitting = "4.5 l"\nper_fitting_cost = 30')
        .replace('level = "thin"', 'level = "thin"\nper_fitting = "5 L"\nper_fitting_cost = 60')
    )


@pytest.fixture
def day() -> DayFile:
    return priced(day_file(OIL, VACUUM, warm_up=30.0))


def sets(day: DayFile, *named: tuple[str, str, int, str | None]) -> list[Stint]:
    return [Stint({"oil": oil, "vacuum": vacuum}, pulls, fresh) for oil, vacuum, pulls, fresh in named]


@pytest.mark.parametrize(
    ("text", "amount", "unit"), [("4.5 l", 4.5, "l"), ("4,5 L", 4.5, "L"), ("2 litres of E10", 2.0, "litres of E10")]
)
def test_an_amount_is_a_number_and_a_unit(text, amount, unit):
    assert read_quantity(text) == Quantity(amount, unit)


@pytest.mark.parametrize("text", ["4.5", "l", "-1 l", "0 l", "1,500 ml", "4.5 5", "nan l"])
def test_what_is_no_amount_is_refused(text):
    with pytest.raises(ValueError, match=r'such as "4\.5 l"'):
        read_quantity(text)


def test_amounts_are_summed_by_unit():
    given = [Quantity(4.5, "l"), Quantity(2.0, "kg"), Quantity(5.0, "L")]
    assert summed(given) == (Quantity(9.5, "l"), Quantity(2.0, "kg"))


def test_fittings_material_pulls_and_hours(day):
    named = [("thick", "off", 2, None), ("thin", "off", 2, None), ("thin", "on", 1, "oil"), ("thick", "on", 2, None)]
    runs = lay_out(day, sets(day, *named))
    needs = needs_of(day, runs)
    assert [(one.level, one.times, one.material, one.cost) for one in needs.fittings] == [
        ("thick", 1, Quantity(4.5, "l"), 30.0),
        ("thin", 2, Quantity(10.0, "L"), 120.0),
    ]
    assert needs.material == (Quantity(14.5, "l"),)
    assert (needs.changeovers, needs.parts_moved) == (3, 4)  # the vacuum goes on while the thin oil is fitted afresh
    assert needs.pulls == 7 + 3  # a throw-away pull after each of three fittings
    # 30 warm-up, ten pulls of 4, the oil 20 + 20 + 20, the vacuum 2: 132 minutes
    assert needs.hours == pytest.approx(132 / 60)
    text = "\n".join(bring_block(needs, day.baseline))
    assert "oil thick: for 1 fitting, 4.5 l, besides what is on when the engine arrives" in text
    assert "oil thin: for 2 fittings, 10 L" in text
    assert "14.5 l in all; 10 pulls at full load; 3 changeovers with 4 parts moved; 2.2 hours in the cell" in text


def test_the_day_and_each_question_cost_what_they_take(day):
    named = [("thick", "off", 2, None), ("thin", "off", 2, None), ("thick", "off", 1, None), ("thick", "on", 3, None)]
    runs = lay_out(day, sets(day, *named))
    cost = cost_of(day, runs)
    # 30 + 2*4 + 20 + 3*4 + 20 + 2*4 + 2 + 3*4 = 112 minutes of 2 EUR; one thin of 60, one thick of 30
    assert (cost.cell, cost.material, cost.total) == (pytest.approx(224), pytest.approx(90), pytest.approx(314))
    # own: thin 20 + 3*4 + 20 = 52 minutes, vacuum 2 + 3*4 = 14; the other 46 by halves
    assert {one.level: one.cost for one in cost.questions} == {
        "thin": pytest.approx(90 + 2 * (52 + 23)),
        "on": pytest.approx(2 * (14 + 23)),
    }


def test_the_costs_of_questions_add_up_whatever_is_fitted(day):
    named = [("runny", "on", 2, None), ("thin", "on", 2, None), ("thin", "on", 2, "oil"), ("thick", "off", 1, None)]
    cost = cost_of(day, lay_out(day, sets(day, *named)))
    assert sum(one.cost for one in cost.questions) == pytest.approx(cost.total)
    quick = [Pull(1, None, None, minute, 1, {"oil": "runny", "vacuum": "off"}, {}, "yes") for minute in (1.0, 2.0)]
    hurried = cost_of(day, quick)  # made in less time than day.toml has it
    assert [one.level for one in hurried.questions] == ["runny"]
    assert sum(one.cost for one in hurried.questions) == pytest.approx(hurried.total)


def test_what_was_made_is_counted_from_the_baseline(day):
    thin = {"oil": "thin", "vacuum": "off"}
    pulls = [Pull(1, None, dt.datetime(2026, 5, 16, 9), 60.0, 1, thin, {}, "yes")]
    assert [(move.left, move.entered) for move in moves_of(day, pulls)[0]] == [("thick", "thin")]
    assert cost_of(day, [Pull(1, None, None, None, 1, thin, {}, "yes")]) is None  # no time, no hours
    assert cost_of(day, []) is None


def test_the_rest_of_a_day_begins_with_what_is_fitted(day):
    thin = {"oil": "thin", "vacuum": "off"}
    at = Position(100.0, thin, install=2, stint=2, run=4)
    goes_on = lay_out(day, sets(day, ("thin", "off", 2, None), ("thick", "off", 1, None)), at)
    assert [move.entered for moves in moves_of(day, goes_on) for move in moves] == ["thick"]
    again = lay_out(day, sets(day, ("thin", "off", 2, "oil")), at)
    assert [(move.left, move.entered) for move in moves_of(day, again)[0]] == [("thin", "thin")]
    back = lay_out(day, sets(day, ("thick", "off", 2, None)), at)
    assert [move.entered for move in moves_of(day, back)[0]] == ["thick"]
    assert needs_of(day, back, begin=100.0).hours == pytest.approx((20 + 3 * 4) / 60)


def test_without_prices_nothing_is_said_of_money():
    plain = parse_day(day_file(OIL, VACUUM))
    needs = needs_of(plain, lay_out(plain, sets(plain, ("thin", "off", 2, None))))
    assert needs.cost is None
    assert "costs" not in "".join(bring_block(needs, plain.baseline))


def test_prices_are_not_sealed_and_need_a_currency(day):
    text = day_file(OIL, VACUUM, warm_up=30.0)
    assert seal_of(day) == seal_of(parse_day(text))
    dear = text.replace('level = "on"', 'level = "on"\nprice = 400')
    with pytest.raises(InputError, match=r'change 1: price = 400: expected currency = "EUR"'):
        parse_day(dear)
    parse_day(dear.replace("[cell]", 'currency = "USD"\n[cell]'))  # the advice works
    with pytest.raises(InputError, match=r'per_fitting = "much": expected a number and a unit'):
        parse_day(text.replace('level = "on"', 'level = "on"\nper_fitting = "much"'))


def test_money_has_cents_only_where_they_count():
    assert [money(size, "EUR") for size in (3.5, 1240.2)] == ["3.50 EUR", "1240 EUR"]
