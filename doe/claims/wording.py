"""What an audit says of a test's readings and noise."""

from __future__ import annotations

from doe.claims.reading.printed import decimals
from doe.claims.result import AuditedTest
from doe.words.numbers import with_unit


def digits_of(test: AuditedTest) -> int:
    """Digits after the point that the test prints its readings with, at most three."""
    return min(max(decimals(*(step.value for step in test.file.step)), 0), 3)


def noise_words(test: AuditedTest) -> str:
    """The noise that the test was judged by, and where it comes from."""
    noise, unit = test.noise, test.file.test.unit
    if noise.pull_sd is None:
        return "not stated: the verdict is shown for a range of scatter, not for one convenient value"
    parts = [_scatter("pull-to-pull scatter", noise.pull_sd, noise.pull_df, unit)]
    if noise.install_sd is not None:
        parts.append(_scatter("refit scatter", noise.install_sd, noise.install_df, unit))
    if noise.drift_sd:
        parts.append(f"drift from step to step {with_unit(f'{noise.drift_sd:g}', unit)}")
    return ", ".join(parts) + (f" ({noise.source})" if noise.source else "")


def _scatter(name: str, sd: float, df: float | None, unit: str) -> str:
    known = f"on {df:g} degrees of freedom" if df else "assumed"
    return f"{name} {with_unit(f'{sd:.3g}', unit)} {known}"
