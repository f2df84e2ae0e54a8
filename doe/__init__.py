"""doe: plans a day on the dyno, keeps its log and judges the gains.

``import doe`` is light. Each name below loads what it needs on first use.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_HOMES = {
    "audit": "doe.claims.auditing",
    "judge": "doe.analysis.judging.verdicts",
    "judge_day": "doe.analysis.judging.folders",
    "judge_many": "doe.analysis.judging.many_outcomes",
    "noise": "doe.analysis.scatter.repeatability",
    "plan_day": "doe.planning.drawn.plan",
}

__all__ = sorted(_HOMES)


def __getattr__(name: str) -> Any:
    """Load a public name from its room on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module 'doe' has no attribute {name!r}")
    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
