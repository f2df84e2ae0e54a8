"""doe: plans a day on the dyno, keeps its log and judges the gains.

``import doe`` is light. Each name below loads what it needs on first use; tools see them all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from doe.errors import ConfoundedError, DoeError, InputError

if TYPE_CHECKING:
    from doe.analysis.judging.folders import judge_day
    from doe.analysis.judging.judgement import Judgement
    from doe.analysis.judging.many_outcomes import Judgements, judge_many
    from doe.analysis.judging.verdicts import judge
    from doe.analysis.scatter.repeatability import noise
    from doe.analysis.scatter.study_result import NoiseStudy
    from doe.cell.air.correction import Correction, correct
    from doe.claims.auditing import audit
    from doe.claims.result import Audit
    from doe.planning.drawn.plan import plan_day
    from doe.planning.drawn.result import Plan
    from doe.report.any_result import plot
    from doe.simulation.rehearsal import Rehearsal, rehearse

__version__ = "0.1.0"

__all__ = [
    "Audit",
    "ConfoundedError",
    "Correction",
    "DoeError",
    "InputError",
    "Judgement",
    "Judgements",
    "NoiseStudy",
    "Plan",
    "Rehearsal",
    "audit",
    "correct",
    "judge",
    "judge_day",
    "judge_many",
    "noise",
    "plan_day",
    "plot",
    "rehearse",
]

if not TYPE_CHECKING:  # for tools the names stand above: this would tell them that every name exists
    _HOMES = {
        "Audit": "doe.claims.result",
        "Correction": "doe.cell.air.correction",
        "Judgement": "doe.analysis.judging.judgement",
        "Judgements": "doe.analysis.judging.many_outcomes",
        "NoiseStudy": "doe.analysis.scatter.study_result",
        "Plan": "doe.planning.drawn.result",
        "Rehearsal": "doe.simulation.rehearsal",
        "audit": "doe.claims.auditing",
        "correct": "doe.cell.air.correction",
        "judge": "doe.analysis.judging.verdicts",
        "judge_day": "doe.analysis.judging.folders",
        "judge_many": "doe.analysis.judging.many_outcomes",
        "noise": "doe.analysis.scatter.repeatability",
        "plan_day": "doe.planning.drawn.plan",
        "plot": "doe.report.any_result",
        "rehearse": "doe.simulation.rehearsal",
    }

    def __getattr__(name: str) -> object:
        """Load a public name from its room on first use (PEP 562)."""
        from importlib import import_module

        if name not in _HOMES:
            raise AttributeError(f"module 'doe' has no attribute {name!r}")
        value = getattr(import_module(_HOMES[name]), name)
        globals()[name] = value
        return value

    def __dir__() -> list[str]:
        return sorted({*globals(), *__all__})
