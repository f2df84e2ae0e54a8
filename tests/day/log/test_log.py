"""The log as testers write it: what is joined, what follows from the sequence, what is told."""

from __future__ import annotations

import datetime as dt
import itertools
import sys
from pathlib import Path

import pytest

from doe.day.clock import lay_out
from doe.day.files.dayfile import parse_day
from doe.day.files.planfile import PlanFile, read_plan, write_plan
from doe.day.fittings import fittings_of
from doe.day.log.reading import PullLog, read_log
from doe.day.records import Stint
from doe.errors import InputError

HEADER = "pull,run,time,install,oil,crankcase vacuum,mean power,count,trace,note"
THIN = {"oil": "0W-20", "crankcase vacuum": "off"}


@pytest.fixture
def logged(tmp_path, day):
    """A function that writes pulls.csv and reads the log."""

    def read(rows: str, *, header: str = HEADER, plan: PlanFile | None = None, **tables: str) -> PullLog:
        write(tmp_path / "pulls.csv", f"{header}\n{rows}")
        for name, text in tables.items():
            write(tmp_path / f"{name}.csv", text)
        return read_log(tmp_path, day, plan)

    return read


def write(path: Path, text: str, encoding: str = "utf-8") -> None:
    path.write_bytes(text.encode(encoding))


def installs(log: PullLog) -> list[int]:
    return [pull.install for pull in log.pulls]


def test_no_log_is_an_empty_one(tmp_path, day):
    assert read_log(tmp_path, day, None) == PullLog()


def test_a_header_alone_is_an_empty_log(logged):
    assert logged("").pulls == ()


def test_a_row_is_read_whole(logged):
    log = logged("7,,2026-05-16T10:42:07+02:00,3,0w-20 ,ON,201.5,settling,traces/7.csv,smelt odd\n")
    (pull,) = log.pulls
    assert pull.number == 7
    assert pull.run is None
    assert pull.time == dt.datetime(2026, 5, 16, 10, 42, 7)
    assert pull.minute == pytest.approx(162 + 7 / 60)
    assert pull.install == 3
    assert pull.configuration == {"oil": "0W-20", "crankcase vacuum": "on"}
    assert pull.values == {"mean power": 201.5}
    assert (pull.count, pull.void, pull.fresh) == ("settling", None, None)
    assert (pull.trace, pull.note) == ("traces/7.csv", "smelt odd")
    assert log.warnings == ()


def test_a_minimal_table_by_hand_will_do(logged):
    log = logged("15W-50,off,200\n0W-20,off,202\n", header="oil,crankcase vacuum,mean power")
    assert [pull.number for pull in log.pulls] == [1, 2]
    assert installs(log) == [1, 2]
    assert [pull.minute for pull in log.pulls] == [None, None]
    assert log.warnings == ("no pull has a time: a drift can't be taken out",)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_a_spreadsheets_own_dialect_is_read_alike(tmp_path, day, encoding):
    rows = "1,,8:34,,15W-50,off,200.25,yes,,\n2,,8:38,,15W-50,on,201.5,yes,,\n"
    write(tmp_path / "pulls.csv", f"{HEADER}\n{rows}")
    plain = read_log(tmp_path, day, None)
    european = f"{HEADER}\n{rows}".replace(",", ";").replace(".", ",").replace("\n", "\r\n")
    write(tmp_path / "pulls.csv", european, encoding)
    assert read_log(tmp_path, day, None) == plain


def test_unknown_columns_are_ignored(logged):
    log = logged("1,8:34,15W-50,off,200,dull\n", header="pull,time,oil,crankcase vacuum,mean power,weather")
    assert log.pulls[0].values == {"mean power": 200.0}
    assert log.warnings == ()


def test_log_columns_are_values(tmp_path, day_text):
    day = parse_day(day_text + "[log]\ncolumns = ['oil_temp_c', 'baro_kpa']\n[limits]\noil_temp_c = [85, 95]\n")
    header = HEADER.replace(",count", ",oil_temp_c,baro_kpa,count")
    write(
        tmp_path / "pulls.csv", f"{header}\n1,,8:34,1,15W-50,off,200,97,,yes,,\n2,,8:38,1,15W-50,off,200,90,99,yes,,\n"
    )
    log = read_log(tmp_path, day, None)
    assert log.pulls[0].values == {"mean power": 200.0, "oil_temp_c": 97.0}
    assert log.pulls[1].values == {"mean power": 200.0, "oil_temp_c": 90.0, "baro_kpa": 99.0}
    assert log.warnings == ("oil_temp_c outside 85 to 95: pull 1 at 97",)


def test_readings_are_joined(logged):
    log = logged(
        "1,,8:34,1,15W-50,off,,yes,,\n2,,8:38,1,15W-50,off,200,yes,,\n",
        readings="pull,name,value\n1,Mean Power,199.5\n2,lambda,0.88\n2,lambda,0.89\n9,lambda,1\n",
    )
    assert log.pulls[0].values == {"mean power": 199.5}
    assert log.pulls[1].values == {"mean power": 200.0, "lambda": 0.89}
    assert log.warnings == ("readings.csv speaks of what is not in the log: pull 9",)


def test_voids_are_joined_and_may_be_undone(logged):
    log = logged(
        "1,,8:34,1,15W-50,off,n/a,yes,,\n2,,8:38,1,15W-50,off,200,yes,,\n",
        voids="pull,time,why,undone\n1,,missed a gear,\n2,,wrong pull,\n2,,,yes\n9,,typo,\n",
    )
    assert [pull.void for pull in log.pulls] == ["missed a gear", None]
    assert log.warnings == ("voids.csv speaks of what is not in the log: pull 9",)


# Installs that were left blank


def test_blank_installs_follow_from_the_parts(logged, day):
    log = logged(
        "1,,8:34,,15W-50,off,200,yes,,\n"
        "2,,8:38,,15W-50,on,200,yes,,\n"  # quick: the same install
        "3,,9:20,,0W-20,off,200,yes,,\n"  # refit and quick together: one install
        "4,,9:24,,0W-20,off,200,yes,,\n"
        "5,,10:00,,15W-50,off,200,yes,,\n"  # the way back is a fitting, too
    )
    assert installs(log) == [1, 1, 2, 2, 3]
    assert fittings_of(day, log.pulls) == {"oil": [1, 1, 2, 2, 3]}


def test_two_refit_factors_changed_in_turn(tmp_path, two_refit_day):
    write(
        tmp_path / "pulls.csv",
        "oil,crankcase vacuum,manifold,mean power\n"
        "15W-50,off,cast,1\n0W-20,off,cast,1\n0W-20,off,sheet,1\n0W-20,on,sheet,1\n",
    )
    log = read_log(tmp_path, two_refit_day, None)
    assert installs(log) == [1, 2, 3, 3]
    assert fittings_of(two_refit_day, log.pulls) == {"oil": [1, 2, 2, 2], "manifold": [1, 1, 2, 2]}


def test_a_fresh_refit_in_the_readings_starts_an_install(logged, day):
    log = logged(
        "1,,8:34,,0W-20,off,200,yes,,\n2,,9:10,,0W-20,off,200,yes,,\n", readings="pull,name,value\n2,fresh,oil\n"
    )
    assert [(pull.install, pull.fresh) for pull in log.pulls] == [(1, None), (2, "oil")]
    assert fittings_of(day, log.pulls) == {"oil": [1, 2]}


def test_a_void_inside_a_stint_keeps_the_install(logged):
    log = logged(
        "1,,8:34,,15W-50,off,200,yes,,\n2,,8:38,,0W-20,off,200,yes,,\n3,,8:42,,0W-20,off,,yes,,\n4,,8:46,,0W-20,off,200,yes,,\n",
        voids="pull,time,why,undone\n3,,misfire,\n",
    )
    assert installs(log) == [1, 2, 2, 2]
    assert log.warnings == ()


def test_a_change_with_voided_pulls_only_still_ends_the_fitting_before(logged):
    log = logged(
        "1,,8:34,,15W-50,off,200,yes,,\n2,,9:10,,0W-20,off,,yes,,\n3,,9:50,,15W-50,off,200,yes,,\n",
        voids="pull,time,why,undone\n2,,leak,\n",
    )
    assert installs(log) == [1, 2, 3]


def test_an_install_that_stays_while_a_part_changed_is_told(logged, day):
    log = logged("1,,8:34,1,15W-50,off,200,yes,,\n2,,9:10,1,0W-20,off,200,yes,,\n")
    assert log.warnings == ("pull 2: oil changed, but install stays 1; the parts are taken as fitted anew",)
    assert fittings_of(day, log.pulls) == {"oil": [1, 2]}


def test_an_install_that_goes_down_is_told(logged):
    log = logged("1,,8:34,2,15W-50,off,200,yes,,\n2,,9:10,1,15W-50,off,200,yes,,\n")
    assert log.warnings == ("pull 2: install goes down from 2 to 1",)


def test_with_two_refit_factors_an_unnamed_fresh_refit_is_asked_for(tmp_path, two_refit_day):
    write(
        tmp_path / "pulls.csv",
        "pull,time,install,oil,crankcase vacuum,manifold,mean power\n"
        "1,8:34,1,15W-50,off,cast,1\n2,9:10,2,15W-50,off,cast,1\n",
    )
    (warning,) = read_log(tmp_path, two_refit_day, None).warnings
    assert warning.endswith("name the part that was fitted afresh in readings.csv: 2,fresh,oil")
    # The remedy works.
    write(tmp_path / "readings.csv", "pull,name,value\n2,fresh,oil\n")
    log = read_log(tmp_path, two_refit_day, None)
    assert log.warnings == ()
    assert fittings_of(two_refit_day, log.pulls) == {"oil": [1, 2], "manifold": [1, 1]}


# With a plan


@pytest.fixture
def fresh_plan(tmp_path, day) -> PlanFile:
    """Runs 1, 2: baseline; 3, 4 settling and 5, 6: the same baseline fitted afresh; 7, 8 settling and 9: thin oil."""
    stints = [Stint(day.baseline, 2), Stint(day.baseline, 2, fresh="oil"), Stint(THIN, 1)]
    write_plan(tmp_path, lay_out(day, stints), {})
    return read_plan(tmp_path, day)


def by_runs(*runs: int, install: str = "") -> str:
    rows = []
    for number, run in enumerate(runs, start=1):
        oil, count = "0W-20" if run > 6 else "15W-50", "settling" if run in (3, 4, 7, 8) else "yes"
        rows.append(f"{number},{run},9:{number:02d},{install},{oil},off,200,{count},,\n")
    return "".join(rows)


def test_a_planned_fresh_refit_is_taken_as_done_where_install_is_blank(logged, day, fresh_plan):
    log = logged(by_runs(1, 2, 3, 4, 5, 6, 7, 8, 9), plan=fresh_plan)
    assert installs(log) == [1, 1, 2, 2, 2, 2, 3, 3, 3]
    assert [pull.fresh for pull in log.pulls] == [None, None, "oil", None, None, None, None, None, None]
    assert fittings_of(day, log.pulls) == {"oil": [1, 1, 2, 2, 2, 2, 3, 3, 3]}


def test_it_counts_once_also_when_settling_pulls_were_not_logged_or_a_run_is_repeated(logged, fresh_plan):
    log = logged(by_runs(1, 2, 5, 5, 6), plan=fresh_plan, voids="pull,why\n3,misfire\n")
    assert installs(log) == [1, 1, 2, 2, 2]
    assert log.warnings == ()


def test_a_planned_fresh_refit_that_was_not_done_is_not_counted(logged, day, fresh_plan):
    # Recorded as kept: the install number stands in the file and did not go up.
    log = logged(by_runs(1, 2, 5, 6, install="1"), plan=fresh_plan)
    assert installs(log) == [1, 1, 1, 1]
    assert {pull.fresh for pull in log.pulls} == {None}
    assert fittings_of(day, log.pulls) == {"oil": [1, 1, 1, 1]}


def test_blank_levels_and_counts_are_those_of_the_run(logged, fresh_plan):
    log = logged("1,1,8:34,,,,200,,,\n2,7,9:34,,,,200,,,\n", plan=fresh_plan)
    assert [(pull.configuration["oil"], pull.count) for pull in log.pulls] == [("15W-50", "yes"), ("0W-20", "settling")]


def test_without_times_the_planned_minutes_are_taken(logged, fresh_plan):
    log = logged("1,1,,,,,200,,,\n2,2,,,,,200,,,\n", plan=fresh_plan)
    assert [pull.minute for pull in log.pulls] == [34.0, 38.0]
    assert log.warnings == ("no pull has a time: the planned minutes are taken",)


def test_what_the_plan_does_not_have_is_told(logged, fresh_plan):
    log = logged(
        "1,1,9:01,,15W-50,off,200,,,\n2,1,9:05,,15W-50,off,200,,,\n3,99,9:09,,15W-50,off,200,,,\n"
        "4,,9:13,,15W-50,off,200,,,\n5,2,9:40,,0W-20,off,200,,,\n",
        plan=fresh_plan,
    )
    assert log.warnings == (
        "the plan has no such run: run 99 of pull 3",
        "fulfilled twice: run 1 by pulls 1 and 2",
        "something else was fitted than the plan has for their run: pull 5",
        "not in the plan, but counted: pull 3; pull 4",
    )
    assert [pull.run for pull in log.pulls] == [1, 1, None, None, 2]


def test_runs_of_a_replaced_plan_are_known(logged, tmp_path, day, fresh_plan):
    (tmp_path / "plan.csv").rename(tmp_path / "plan.1.csv")
    later = lay_out(day, [Stint(day.baseline, 12)])[9:]
    write_plan(tmp_path, later, {})
    log = logged("1,1,9:01,,15W-50,off,200,,,\n2,10,9:05,,15W-50,off,200,,,\n", plan=read_plan(tmp_path, day))
    assert log.warnings == ()
    assert [pull.run for pull in log.pulls] == [1, 10]


def test_without_a_plan_runs_are_ignored(logged):
    log = logged("1,1,9:01,,15W-50,off,200,,,\n")
    assert log.warnings == ("there is no plan: the run of pull 1 is ignored",)
    assert log.pulls[0].run is None


# Times


def timed(*times: str) -> str:
    return "".join(f"{number},,{at},1,15W-50,off,200,yes,,\n" for number, at in enumerate(times, start=1))


def test_times_by_hand_and_with_offset_are_local_times(logged):
    log = logged(timed("8:34", "08:38:30", "2026-05-16 08:42", "2026-05-16T08:46:00+02:00"))
    assert [pull.minute for pull in log.pulls] == [34.0, 38.5, 42.0, 46.0]
    assert log.warnings == ()


def test_different_offsets_are_brought_together_and_told(logged):
    log = logged(timed("2026-05-16T08:34:00+02:00", "2026-05-16T08:38:00+02:00", "2026-05-16T06:42:00Z"))
    assert [pull.minute for pull in log.pulls] == [34.0, 38.0, 42.0]
    assert log.warnings == ("times are written with 2 different offsets; all are taken as local time in UTC+02:00",)


def test_equal_times_and_times_out_of_order_are_told(logged):
    assert logged(timed("8:34", "8:34", "8:30")).warnings == (
        "equal times: pulls 1 and 2 at 08:34:00",
        "times out of order: pull 3 before pull 2",
    )


def test_a_pull_logged_again_in_a_voided_ones_place_is_no_oddity(logged):
    log = logged(timed("8:34", "8:38", "8:34"), voids="pull,why\n1,typing error\n")
    assert log.warnings == ()


def test_another_date_and_times_before_the_day_are_told(logged):
    assert logged(timed("7:58", "2026-05-17T08:34:00")).warnings == (
        "not on the day's date, 2026-05-16: pull 2 on 2026-05-17",
        "before the day's start, 08:00: pull 1 at 07:58",
    )


def test_a_missing_time_lies_evenly_between_its_neighbours(logged):
    log = logged(timed("", "8:34", "", "", "8:46", ""))
    assert [pull.minute for pull in log.pulls] == [30.0, 34.0, 38.0, 42.0, 46.0, 50.0]
    assert log.warnings == ("no time for pull 1; pull 3; pull 4; pull 6; put evenly between the pulls around",)
    assert [pull.time is None for pull in log.pulls] == [True, False, True, True, False, True]


# Faults


def test_every_fault_of_the_tables_is_told_at_once(logged):
    with pytest.raises(InputError) as caught:
        logged(
            "1,x,9.14,0,15W-51,,200 bad,maybe,,\n1,,,,15W-50,off,inf,,,\n3,,,,15W-50,off,-200,,,\n",
            readings="pull,name,value\nx,lambda,1\n1,lambda,rich\n1,fresh,turbo\n",
            voids="pull,time\n1,\n",
        )
    assert caught.value.faults == (
        "voids.csv, row 1: column 'why' is missing",
        "pulls.csv, row 2, column 'run': 'x': expected a whole number of 1 or more",
        "pulls.csv, row 2, column 'time': '9.14': expected a time such as 10:42, or 2026-05-16T10:42:07+02:00",
        "pulls.csv, row 2, column 'install': '0': expected a whole number of 1 or more",
        "pulls.csv, row 2, column 'oil': '15W-51' is no level of oil; expected 15W-50 or 0W-20 or 5W-30;"
        " did you mean '15W-50'?",
        "pulls.csv, row 2, column 'crankcase vacuum': the cell is blank; expected off or on",
        "pulls.csv, row 2, column 'mean power': '200 bad': expected a number, such as 431.2",
        "pulls.csv, row 2, column 'count': 'maybe': expected yes, settling or warm-up",
        "pulls.csv, row 3, column 'pull': 1 stands in row 2 already; expected a number once",
        "pulls.csv, row 3, column 'mean power': 'inf': expected a finite number, such as 431.2",
        "pulls.csv, row 4, column 'mean power': -200: expected a number above 0",
        "readings.csv, row 2, column 'pull': 'x': expected a whole number of 1 or more",
        "readings.csv, row 3, column 'value': 'rich': expected a number, such as 431.2",
        "readings.csv, row 4, column 'value': 'turbo' is not a part in day.toml; known are oil, crankcase vacuum",
    )


def test_a_column_missing_or_twice_is_told(logged):
    with pytest.raises(InputError, match="column 'mean power' is missing; is 'mean pwr' meant"):
        logged("1,15W-50,off,200\n", header="pull,oil,crankcase vacuum,mean pwr")
    with pytest.raises(InputError, match="column 'oil' stands there twice"):
        logged("1,15W-50,off,200,x\n", header="pull,oil,crankcase vacuum,mean power,Oil")


def test_an_empty_file_is_told(tmp_path, day):
    write(tmp_path / "pulls.csv", "")
    with pytest.raises(InputError, match=r"pulls\.csv: the file is empty"):
        read_log(tmp_path, day, None)


def test_a_number_of_the_testers_own_may_be_negative(tmp_path, day_text):
    day = parse_day(day_text.replace('name = "mean power"', 'name = "knock margin"'))
    write(tmp_path / "pulls.csv", "oil,crankcase vacuum,knock margin\n15W-50,off,-1.5\n")
    assert read_log(tmp_path, day, None).pulls[0].values == {"knock margin": -1.5}


def test_a_counted_pull_without_its_number_is_told(logged):
    log = logged("1,,8:34,1,15W-50,off,,yes,,\n2,,8:38,1,15W-50,off,,settling,,\n")
    assert log.warnings == ("no mean power, so not counted: pull 1",)


def calls_of(work) -> tuple[int, object]:
    """How many functions the work calls, ours and the libraries', and what it gives: work that no machine hurries."""
    count = itertools.count()
    sys.setprofile(lambda frame, event, what: next(count) if event.endswith("call") else None)
    try:
        result = work()
    finally:
        sys.setprofile(None)
    return next(count), result


def test_the_work_of_reading_pulls_grows_with_their_number(logged):
    def line(n: int) -> str:
        at, oil = f"{8 + n // 1500:02d}:{n // 25 % 60:02d}:{n % 25 * 2:02d}", "15W-50" if n // 5 % 2 else "0W-20"
        return f"{n},,{at},,{oil},off,{200 + n % 7 / 10},yes,,\n"

    rows = [line(n) for n in range(1, 5_001)]
    few, _ = calls_of(lambda: logged("".join(rows[:500])))
    many, log = calls_of(lambda: logged("".join(rows)))
    assert many < 11 * few
    assert len(log.pulls) == 5_000
    assert log.pulls[-1].install == 1001
