"""What is fitted, in words."""

from __future__ import annotations

from collections.abc import Mapping


def changed_text(configuration: Mapping[str, str], baseline: Mapping[str, str]) -> str:
    """What differs from the baseline: "baseline", or "oil 5W-30, crankcase vacuum on"."""
    return ", ".join(f"{name} {configuration[name]}" for name in baseline if configuration[name] != baseline[name]) or (
        "baseline"
    )
