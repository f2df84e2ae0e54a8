"""day.toml of invented days, for the tests of every room: only what a test is about need be said there."""

from __future__ import annotations

from collections.abc import Sequence

Break = tuple[str, int]
"""When it begins, as 12:00, and its minutes."""


def factor(name: str, baseline: str, *changes: str, refit: bool = False, alone: bool = False, **more: float) -> str:
    """One [[factor]].

    Parameters
    ----------
    name, baseline : str
    changes : str
        "level minutes_on minutes_off settling_pulls smallest_gain one_way"; the last three may be left out, and a "-"
        leaves one out that others follow.
    refit, alone : bool
    more : float
        Other keys of the factor: refit_minutes, settling_pulls.
    """
    lines = ["[[factor]]", f'name = "{name}"', f'baseline = "{baseline}"']
    lines += [f"{key} = true" for key, said in (("refit", refit), ("alone", alone)) if said]
    lines += [f"{key} = {value}" for key, value in more.items()]
    for change in changes:
        level, *numbers = change.split()
        one_way = numbers[-1] == "one_way"
        lines += ["[[factor.change]]", f'level = "{level}"']
        keys = ("minutes_on", "minutes_off", "settling_pulls", "smallest_gain")
        lines += [
            f"{key} = {value}" for key, value in zip(keys, numbers, strict=False) if value not in ("-", "one_way")
        ]
        lines += ["one_way = true"] * one_way
    return "\n".join(lines) + "\n"


def day_file(
    *factors: str,
    title: str | None = None,
    date: str = "2026-05-16",
    start: str = "08:00",
    finish: str = "18:00",
    breaks: Sequence[Break] = (),
    warm_up: float | None = None,
    pull: float = 4.0,
    metric: str = "mean power",
    unit: str | None = "hp",
    scale: str | None = None,
    window_rpm: tuple[int, int] | None = None,
    noise: str = "",
    more: str = "",
) -> str:
    """A day.toml.

    Parameters
    ----------
    factors : str
        Each from `factor`.
    title, date, start, finish : str
        Of [day]; clock times as 08:30.
    breaks : sequence of (str, int)
        When each begins, and its minutes.
    warm_up, pull : float
        Minutes, of [cell].
    metric, unit, scale : str
        Of [metric].
    window_rpm : (int, int)
        Of [metric], where the number comes from a trace.
    noise : str
        The lines of [noise]; without any there is no such table.
    more : str
        Further tables, before the factors.
    """
    pauses = ", ".join(f"{{ from = {begin}:00, minutes = {minutes} }}" for begin, minutes in breaks)
    lines = [
        "[day]",
        *([f'title = "{title}"'] if title else []),
        f"date = {date}",
        f"start = {start}:00",
        f"finish = {finish}:00",
        *([f"breaks = [{pauses}]"] if pauses else []),
        "[cell]",
        *([f"warm_up_minutes = {warm_up}"] if warm_up is not None else []),
        f"pull_minutes = {pull}",
        "[metric]",
        f'name = "{metric}"',
        *([f'unit = "{unit}"'] if unit else []),
        *([f'scale = "{scale}"'] if scale else []),
        *([f"window_rpm = {list(window_rpm)}"] if window_rpm else []),
        *(["[noise]", noise.strip()] if noise else []),
        *([more.strip()] if more else []),
    ]
    return "\n".join(lines) + "\n" + "".join(factors)
