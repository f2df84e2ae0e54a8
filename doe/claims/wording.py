"""How numbers are written in an audit's text: rounded here and nowhere earlier."""

from __future__ import annotations

from doe.claims.reading.printed import decimals
from doe.claims.result import AuditedTest


def digits_of(test: AuditedTest) -> int:
    """Digits after the point that the test prints its readings with, at most three."""
    return min(max(decimals(*(step.value for step in test.file.step)), 0), 3)


def with_unit(text: str, unit: str) -> str:
    """The number with its unit, if it has one."""
    return f"{text} {unit}" if unit else text


def signed(value: float, digits: int, unit: str = "") -> str:
    """``+7.4 hp``; what rounds to nothing has no sign."""
    text = f"{value:+.{digits}f}"
    return with_unit(f"{0:.{digits}f}" if float(text) == 0 else text, unit)


def span(low: float, high: float, digits: int, unit: str = "") -> str:
    """``-1.9 to +16.7 hp``."""
    return f"{signed(low, digits)} to {signed(high, digits, unit)}"


def two_figures(size: float, unit: str = "") -> str:
    """A size with two figures: ``2.2 hp``, ``17 hp``."""
    return with_unit(f"{size:.0f}" if size >= 10 else f"{size:.2g}", unit)


def of_hundred(chance: float) -> str:
    """``12 of 100``; what is neither impossible nor certain is never called so."""
    count = round(100 * chance)
    if count == 0:
        return "fewer than 1 of 100"
    return "more than 99 of 100" if count == 100 else f"{count} of 100"


def percent(chance: float) -> str:
    """``49 %``; what is neither impossible nor certain is never called so."""
    count = round(100 * chance)
    if count == 0:
        return "under 1 %"
    return "over 99 %" if count == 100 else f"{count} %"


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
