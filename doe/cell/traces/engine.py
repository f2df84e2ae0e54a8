"""What is known of the engine, for the plausibility of its torque. Light: the day file is read with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Engine:
    """What an engine's plausibility is read from."""

    displacement_l: float | None = None
    strokes: Literal[2, 4] = 4
    breathing: str = "natural"
    fuel: str = ""

    @property
    def limited(self) -> bool:
        """Whether the ceilings are meant for it: petrol without boost."""
        return self.displacement_l is not None and self.breathing == "natural" and self.fuel in ("", "petrol")
