"""``doe watch``: the dyno's next file is shown, and one key logs it. The looks and the keys are the test's own."""

from __future__ import annotations

import json
import os
import pty
import select
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from day_files import day_file, factor
from typed import typed

from doe.cli.cell.watch_command import watch_with
from doe.cli.keys import ENTER
from doe.cli.terminal import doors
from doe.day.files.dayfile import read_day_file
from doe.day.log.reading import read_log
from doe.day.pilot.traced.arrivals import LOOKS_AT_REST, Arrivals, kept_exports

DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 30", refit=True),
    window_rpm=(4000, 6800),
    more='[traces]\nfolder = "exports"\ncolumns = { time = "t", rpm = "n", torque = "T", oil_temp_c = "oil" }\n'
    'units = { time = "s", torque = "N m", oil_temp_c = "°C" }\n[limits]\noil_temp_c = [80, 95]\n',
)
REST = [None] * LOOKS_AT_REST


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day.toml").write_text(DAY, encoding="utf-8")
    (tmp_path / "exports").mkdir()
    return tmp_path


def sweep(torque: float = 300.0, oil: float = 90.0, top: int = 7000) -> str:
    rows = [f"{at / 6:.4f},{3000 + 50 * at},{torque},{oil}" for at in range(1 + (top - 3000) // 50)]
    return "\n".join(["t,n,T,oil", *rows, ""])


class Script:
    """Keys, and what the dyno does between them: a text is a key, a function is called, None is a second gone by."""

    def __init__(self, *steps: str | Callable[[], object] | None, lines: tuple[str, ...] = ()):
        self.steps, self.lines, self.forgotten = list(steps), list(lines), 0

    def within(self, seconds: float) -> str | None:
        assert seconds >= 1.0, "no busy loop"
        step = self.steps.pop(0) if self.steps else ""
        if callable(step):
            step()
            return None
        return step

    def line(self) -> str:
        return self.lines.pop(0)

    def forget(self) -> None:
        self.forgotten += 1


def watched(folder: Path, script: Script, *, as_json: bool = False) -> None:
    kept = kept_exports(folder, pulls(folder))
    with doors():
        watch_with(folder, Arrivals(folder / "exports", kept, 10_000_000), script, as_json=as_json)


def pulls(folder: Path):
    return read_log(folder, read_day_file(folder), None).pulls


def dyno(folder: Path, name: str, text: str) -> Callable[[], object]:
    return lambda: (folder / "exports" / name).write_text(text)


def test_a_new_file_is_shown_and_enter_logs_it(folder, capsys):
    watched(folder, Script(None, dyno(folder, "1.csv", sweep(oil=97)), *REST, ENTER))
    said = capsys.readouterr()
    assert "1.csv: 3,000 to 7,000 rpm at 300 rpm/s, 81 of 81 samples" in said.err
    assert "oil_temp_c: 97 °C at the start" in said.err
    assert "wait: oil 97 °C, begin below 95" in said.err
    assert "log it? [Enter w s x q]" in said.err
    assert said.out.startswith("logged pull 1: ")
    (pull,) = pulls(folder)
    # by hand: 300 N m at the mean of 4,000 to 6,800 rpm is 300 x 5,400 / 7,120.91 = 227.498 hp (1 hp = 745.6999 W)
    assert pull.values["mean power"] == pytest.approx(300 * 5400 * 3.141592653589793 / 30 / 745.69987158227, rel=1e-9)
    assert (pull.count, pull.trace, pull.values["oil_temp_c"]) == ("yes", "traces/1.csv", 97)
    assert (folder / "traces" / "1.csv").read_text() == sweep(oil=97)


def test_no_file_is_logged_twice_by_whatever_name_nor_after_a_restart(folder):
    again = dyno(folder, "copy of 1.csv", sweep())
    watched(folder, Script(dyno(folder, "1.csv", sweep()), *REST, ENTER, again, *REST, ENTER))
    watched(folder, Script(*REST, ENTER, dyno(folder, "2.csv", sweep()), *REST, ENTER))
    assert len(pulls(folder)) == 1


def test_warm_up_spoiled_and_left_alone(folder, capsys):
    watched(
        folder,
        Script(
            *(dyno(folder, "1.csv", sweep(301)), *REST, "w"),
            *(dyno(folder, "2.csv", sweep(302)), *REST, "s", "s"),
            *(dyno(folder, "3.csv", sweep(303)), *REST, "?", "x"),
            *(dyno(folder, "4.csv", sweep(304)), *REST, ENTER),
            lines=("  ", "missed  the gear"),
        ),
    )
    assert [(pull.count, pull.void, pull.trace) for pull in pulls(folder)] == [
        ("warm-up", None, "traces/1.csv"),
        ("yes", "spoiled: missed the gear", "traces/2.csv"),
        ("yes", None, "traces/4.csv"),
    ]
    said = capsys.readouterr().err
    assert "no reason, so nothing was logged" in said
    assert "? does nothing here; Enter, w, s, x and q do" in said
    assert "3.csv is left alone" in said
    watched(folder, Script(*REST, ENTER))
    assert len(pulls(folder)) == 3, "what was spoiled and what was left is older than what was logged last"


def test_a_file_that_gives_no_number_says_why_and_can_be_logged_as_spoiled_only(folder, capsys):
    watched(
        folder,
        Script(
            *(dyno(folder, "short.csv", sweep(top=6000)), *REST, ENTER, "w", "x"),
            *(dyno(folder, "text.csv", sweep().replace("300.0", "n/a", 1)), *REST, "s"),
            lines=("the cable came off",),
        ),
    )
    said = capsys.readouterr().err
    assert "short.csv: " in said
    assert "no mean power: " in said
    assert "log it? [s x q]" in said
    assert said.count("does nothing here; s, x and q do") == 2
    assert "nothing was logged" not in said
    assert "text.csv" in said
    assert [pull.void for pull in pulls(folder)] == ["spoiled: the cable came off"]


def test_of_a_file_with_two_sweeps_a_number_shows_one_and_each_is_logged_once(folder, capsys):
    rows = [row.split(",") for row in sweep(320).splitlines()[1:]]
    second = "\n".join(",".join([f"{float(time) + 60:.4f}", *rest]) for time, *rest in rows)
    script = Script(dyno(folder, "1.csv", sweep() + second + "\n"), *REST, ENTER, "2", ENTER, "2", "1", "w")
    watched(folder, script)
    said = capsys.readouterr()
    assert "1.csv: 2 sweeps in one file; its number shows one of them" in said.err
    assert "--sweep" not in said.err
    assert "log it? [1 2 s x q]" in said.err
    assert "log it? [1 2 Enter w s x q]" in said.err
    assert said.err.count("does nothing here; 1, 2, s, x and q do") == 1, "nothing was chosen yet"
    assert said.err.count("2 does nothing here; 1, s, x and q do") == 1, "it is logged"
    first, other = pulls(folder)
    assert (first.count, other.count) == ("yes", "warm-up")
    assert first.values["mean power"] / other.values["mean power"] == pytest.approx(320 / 300, rel=1e-9)


def test_a_key_that_was_pressed_before_logs_nothing(folder):
    script = Script(ENTER, ENTER, dyno(folder, "1.csv", sweep()), ENTER, *REST)
    watched(folder, script)
    assert pulls(folder) == ()
    assert script.forgotten == 1, "what the terminal still holds is dropped before it is asked"


def test_what_changed_since_it_was_shown_is_shown_again_before_it_is_logged(folder, capsys):
    first, second = (dyno(folder, "last.csv", sweep(torque)) for torque in (300, 310.5))
    watched(folder, Script(first, *REST, second, ENTER, *REST, ENTER))
    assert "last.csv has changed since it was shown: nothing was logged" in capsys.readouterr().err
    (pull,) = pulls(folder)
    assert (folder / pull.trace).read_text() == sweep(310.5)
    assert pull.values["mean power"] == pytest.approx(227.498 * 310.5 / 300, rel=1e-4)


def test_files_that_come_while_one_waits_are_shown_after_it(folder, capsys):
    both = [dyno(folder, f"{number}.csv", sweep(300 + number)) for number in (1, 2)]
    watched(folder, Script(both[0], *REST, both[1], *REST, ENTER, None, ENTER), as_json=True)
    assert [pull.trace for pull in pulls(folder)] == ["traces/1.csv", "traces/2.csv"]
    decoder, text = json.JSONDecoder(), capsys.readouterr().out
    first, end = decoder.raw_decode(text)
    second, _ = decoder.raw_decode(text[end:].lstrip())
    assert [one["pulls"][0]["pull"] for one in (first, second)] == [1, 2]


def test_a_day_file_that_breaks_meanwhile_is_said_and_the_file_waits(folder, capsys):
    def broken():
        (folder / "day.toml").write_text(DAY.replace("[day]", "[day"))

    def mended():
        (folder / "day.toml").write_text(DAY)

    watched(folder, Script(dyno(folder, "1.csv", sweep()), *REST, broken, ENTER, mended, ENTER))
    assert "day.toml" in capsys.readouterr().err
    assert len(pulls(folder)) == 1


def test_a_share_that_goes_is_said_once_and_when_it_is_back(folder, capsys):
    place, away = folder / "exports", folder / "away"
    watched(folder, Script(lambda: place.rename(away), *REST, lambda: away.rename(place), *REST))
    said = capsys.readouterr().err
    assert said.count("can't be read") == said.count("can be read again") == 1


def test_without_a_folder_or_a_traced_metric_it_says_what_is_missing(folder):
    said = typed("watch", cwd=folder)
    assert (said.returncode, "no file there yet" in said.stderr) == (0, True), "the end of the input ends it"
    (folder / "day.toml").write_text(DAY.replace('folder = "exports"\n', ""))
    assert 'expected folder = "…" in [traces]' in typed("watch", cwd=folder).stderr
    (folder / "day.toml").write_text(DAY.replace('"exports"', '"elsewhere"'))
    assert "is the share mounted?" in typed("watch", cwd=folder).stderr
    (folder / "day.toml").write_text(DAY.replace('"mean power"', '"fuel"'))
    assert "no trace gives 'fuel'" in typed("watch", cwd=folder).stderr


@pytest.mark.slow
def test_on_a_real_terminal_one_key_without_enter_does_it(folder):
    tester, terminal = pty.openpty()
    command = [sys.executable, "-m", "doe", "watch", str(folder)]
    with subprocess.Popen(command, stdin=terminal, stdout=terminal, stderr=terminal) as program:
        os.close(terminal)

        def until(words: str) -> None:
            seen = ""
            while words not in seen:
                select.select([tester], [], [])
                seen += os.read(tester, 4096).decode("utf-8", "replace")

        until("q ends")
        dyno(folder, "1.csv", sweep())()
        until("log it?")
        os.write(tester, b"\r")
        until("logged pull 1")
        dyno(folder, "2.csv", sweep(310))()
        until("log it?")
        os.write(tester, b"s")
        until("what spoiled it?")
        os.write(tester, b"missed the gear\n")
        until("logged pull 2")
        os.write(tester, b"q")
        assert program.wait() == 0
    os.close(tester)
    assert [pull.void for pull in pulls(folder)] == [None, "spoiled: missed the gear"]
