"""What is asked of a trial: metric and scale, how sure, what would be worth having, what a pair costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from doe.analysis.judging.settle import Costs

Question = tuple[str, str]  # factor, level


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked of a trial, beside the pulls themselves."""

    metric: str
    unit: str = ""
    scale: Literal["absolute", "percent"] = "absolute"
    confidence: float = 0.95
    risk: float | None = None  #: of the family, where an early look may not spend all of 1 - confidence
    look: tuple[int, float] | None = None
    method: str = "auto"
    smallest_gain: Mapping[Question, float] = field(default_factory=dict)
    costs: Callable[[str, str], Costs | None] = lambda factor, level: None
    warnings: tuple[str, ...] = ()
    read_as: tuple[str, ...] = ()  #: what was read, in words
    final: bool | None = True
    sealed: bool | None = None
    pull_names: tuple[str, ...] | None = None
    checks: bool = True

    @property
    def gain_unit(self) -> str:
        """Unit of the gains."""
        return "%" if self.scale == "percent" else self.unit

    @property
    def family_level(self) -> float:
        """Confidence of the outer simultaneous intervals."""
        return self.confidence if self.risk is None else 1 - self.risk
