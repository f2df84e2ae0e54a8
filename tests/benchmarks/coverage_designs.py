"""Designs of the coverage study: small, unbalanced, drifting days such as testers really have."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np


def _slots(
    levels: Sequence[str], pulls: Sequence[int] | int, changeover: float = 20.0, pull: float = 4.0
) -> dict[str, Any]:
    """One slot a level, in order: labels, fittings and minutes."""
    counts = [pulls] * len(levels) if isinstance(pulls, int) else list(pulls)
    slot = np.repeat(np.arange(len(levels)), counts)
    return {
        "level": np.array(levels)[slot],
        "slot": slot,
        "minute": (1 + np.arange(len(slot))) * pull + slot * changeover,
    }


def _one_refit(levels: str, pulls: Sequence[int] | int, drift: str = "linear") -> dict[str, Any]:
    s = _slots(list(levels), pulls)
    return {"change": {"oil": s["level"]}, "baseline": {"oil": "a"}, "install": {"oil": s["slot"]},
            "minute": s["minute"], "drift": drift}  # fmt: skip


def _within() -> dict[str, Any]:
    s = _slots(list("aaaaa"), 4)
    quick = np.tile(["off", "on"], 10)
    return {"change": {"oil": s["level"], "vacuum": quick}, "baseline": {"oil": "a", "vacuum": "off"},
            "install": {"oil": s["slot"]}, "minute": s["minute"], "drift": "linear"}  # fmt: skip


def _one_refit_five_quick() -> dict[str, Any]:
    s = _slots(list("abababa"), 6)
    n = len(s["slot"])
    change = {"oil": s["level"]}
    for k in range(5):  # each trim on for one pull of a fitting, another pull in each
        change[f"trim {k + 1}"] = np.where((np.arange(n) + s["slot"]) % 6 == k + 1, "on", "off")
    return {"change": change, "baseline": {"oil": "a", **{f: "off" for f in change if f != "oil"}},
            "install": {"oil": s["slot"]}, "minute": s["minute"], "drift": "linear"}  # fmt: skip


def _three_refit() -> dict[str, Any]:
    """Oil, fuel and headers changed in turn; what is left alone keeps its fitting."""
    order = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 1, 1), (1, 1, 1), (1, 0, 1), (0, 0, 1), (0, 0, 0),
             (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 0)]  # fmt: skip
    s = _slots([str(i) for i in range(len(order))], 3, changeover=15)
    configuration = np.array(order)[s["slot"]]
    change, install = {}, {}
    for k, factor in enumerate(("oil", "fuel", "headers")):
        column = configuration[:, k]
        change[factor] = np.where(column == 1, "new", "old")
        install[factor] = np.cumsum(np.diff(column, prepend=column[0]) != 0)
    return {"change": change, "baseline": dict.fromkeys(change, "old"), "install": install, "minute": s["minute"],
            "drift": "linear"}  # fmt: skip


def _two_days() -> dict[str, Any]:
    s = _slots(list("abab") + list("baba"), [3, 4, 3, 3, 3, 3, 4, 3], changeover=20)
    day = (s["slot"] >= 4).astype(int)
    minute = s["minute"] - np.where(day == 1, s["minute"][s["slot"] == 4][0] - 4.0, 0.0)
    return {"change": {"oil": s["level"]}, "baseline": {"oil": "a"}, "install": {"oil": s["slot"]}, "minute": minute,
            "day": day, "drift": "linear"}  # fmt: skip


DESIGNS: dict[str, dict[str, Any]] = {
    "balanced, 8 fittings x 4": _one_refit("abababab", 4),
    "unbalanced, 7 fittings": _one_refit("abababa", [5, 2, 4, 3, 6, 2, 3]),
    "tiny, 5 fittings x 2": _one_refit("ababa", 2),
    "long, 12 fittings x 4": _one_refit("abbaabbaabba", 4),
    "three oils, 9 fittings x 3": _one_refit("abcdabcda", 3),
    "quadratic drift, 9 fittings x 3": _one_refit("abababaab", 3, "quadratic"),
    "quick change inside 5 fittings": _within(),
    "one refit, five quick": _one_refit_five_quick(),
    "three refit parts in turn": _three_refit(),
    "two days, unbalanced": _two_days(),
    "one pull per install": _one_refit("abababababab", 1),
}
