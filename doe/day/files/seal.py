"""The seal: what may not change after the first pull, in one number."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from doe.day.schema import DayFile, Factor


def seal_of(day: DayFile) -> str:
    """SHA-256 of metric, noise, analysis, corrections and questions; not of hours, minutes or limits.

    A default that is written out seals like one that is left out, and 2 like 2.0.
    """
    text = json.dumps(sealed_content(day), sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def sealed_content(day: DayFile) -> dict[str, Any]:
    """What the seal covers."""
    return {
        "metric": day.metric.model_dump(mode="json"),
        "noise": day.noise.model_dump(mode="json"),
        "analysis": day.analysis.model_dump(mode="json"),
        "correction": day.cell.correction,
        "correct_to": day.cell.correct_to,
        "factors": [_sealed_factor(factor) for factor in day.factor],
    }


def _sealed_factor(factor: Factor) -> dict[str, Any]:
    """One factor with its questions."""
    return {
        "name": factor.name,
        "baseline": factor.baseline,
        "refit": factor.refit,
        "alone": factor.alone,
        "changes": [
            {"level": change.level, "one_way": change.one_way, "smallest_gain": change.smallest_gain}
            for change in factor.change
        ],
    }
