"""A noise study in a tester's words: what two pulls differ by, what a refit adds, what n pulls can be trusted to."""

from __future__ import annotations

from doe.analysis.scatter.noise_checks import Consistency
from doe.analysis.scatter.noise_words import several, shown
from doe.analysis.scatter.scatter_text import also_noted, covariate_lines, level_line, steadiest_lines, wander_lines
from doe.analysis.scatter.study import MetricNoise, NoiseStudy
from doe.analysis.scatter.trusted import trusted

_NOTABLE = 0.05
_SHOWN = (1, 2, 3, 4, 6, 8)


def noise_text(study: NoiseStudy) -> str:
    """Write what a tester reads.

    Parameters
    ----------
    study : NoiseStudy

    Returns
    -------
    str
        Lines; rounded to what the pull SD bears.
    """
    blocks = [_metric(metric, study.row_word) for metric in study.metrics]
    blocks += [steadiest_lines(study.steadiest), also_noted(study), [f"Warning: {line}" for line in study.warnings]]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _metric(m: MetricNoise, row_word: str) -> list[str]:
    return [
        _head(m),
        "",
        *_pull(m),
        *_refit(m),
        *_day(m),
        *_drift(m),
        *wander_lines(m),
        *(_beyond(m, row_word) if m.pull_sd else []),
    ]


def _beyond(m: MetricNoise, row_word: str) -> list[str]:
    """What follows from a scatter that was seen."""
    checks = [*_outliers(m, row_word), *_shape(m), *_consistency(m.consistency), *level_line(m)]
    return ["", *_trusted(m), "", *checks, *covariate_lines(m)]


def _head(m: MetricNoise) -> str:
    days = f", {several(m.days, 'day')}" if m.days > 1 else ""
    return f"{m.name}: {several(m.pulls, 'pull')}, {several(m.installs, 'fitting')}{days}, baseline {shown(m, m.mean)}"


def _pull(m: MetricNoise) -> list[str]:
    share = f" ({100 * m.pull_sd / abs(m.mean):.2g} % of the baseline)" if m.mean else ""
    return [
        f"Two pulls with nothing touched between them differ by less than {shown(m, m.repeatability_limit)}, "
        "19 times in 20",
        "  (repeatability limit of ISO 5725-6: takes the SD for known).",
        f"  pull SD {shown(m, m.pull_sd)}{share}, 95 % interval {shown(m, m.pull_sd_low)} to "
        f"{shown(m, m.pull_sd_high)}, {m.pull_df} df",
    ]


def _refit(m: MetricNoise) -> list[str]:
    if m.install is None:
        return ["What fitting the same parts again adds can't be known from these pulls."]
    lines = [
        f"Taking the parts off and fitting the same again adds a scatter of {shown(m, m.install.sd)} (install SD).",
        f"  95 % interval {shown(m, m.install.low)} to {shown(m, m.install.high)} (generalised), {m.install.df:.1f} df",
    ]
    if m.install.variance < m.install.sd**2 * (1 - 1e-9):
        lines.append("  The fittings differ by no more than their pulls explain; 0.3 pull SDs is taken, to be safe.")
    return lines


def _day(m: MetricNoise) -> list[str]:
    if m.day_sd is None or m.days_apart is None:
        return []
    lines = [f"Days differ by a scatter of {shown(m, m.day_sd)} (day SD, {m.days} days)."]
    for label, day in zip(_day_names(m), m.days_apart.days, strict=True):
        spread = "no scatter to be seen" if day.pull_sd is None else f"pull SD {shown(m, day.pull_sd)}, {day.df} df"
        lines.append(f"  {label}: {several(day.pulls, 'pull')}, mean {shown(m, day.mean)}, {spread}")
    return lines


def _day_names(m: MetricNoise) -> list[str]:
    """Folders as they stand before the pulls' numbers; days of a table are counted."""
    folders = list(dict.fromkeys(name.rpartition("/")[0] for name in m.pull_names))
    return folders if len(folders) == m.days else [f"day {i + 1}" for i in range(m.days)]


def _drift(m: MetricNoise) -> list[str]:
    if m.drift is None:
        return ["No times, so nothing is known of the drift."] if m.pull_sd else []
    word = "a real drift" if m.drift.p < _NOTABLE else "not to be told from none"
    low, high = (shown(m, end, sign=True) for end in (m.drift.low, m.drift.high))
    lines = [
        f"Drift {shown(m, m.drift.per_hour, sign=True)} an hour, 95 % interval {low} to {high} (p {m.drift.p:.2g}): "
        f"{word}."
    ]
    if m.lag1 is not None:
        lines.append(f"Neighbouring pulls of one fitting go together with a correlation of {m.lag1:+.2f}.")
    return lines


def _trusted(m: MetricNoise) -> list[str]:
    """What a mean of n pulls can be trusted to, and what two such means must differ by."""
    again = m.install is not None
    lines = [
        "What n pulls can be trusted to, 19 times in 20, with what is known of these SDs:",
        "  pulls   their mean, within a fitting   two means, nothing touched"
        + ("   two means, refitted between" if again else ""),
    ]
    for n in _SHOWN:
        limits = trusted(m.pull_sd, m.pull_df, m.install, n)
        row = f"  {n:>5}   {'+- ' + shown(m, limits.mean):>28}   {shown(m, limits.two_means):>26}"
        lines.append(row + (f"   {shown(m, limits.refitted):>27}" if limits.refitted is not None else ""))
    ranges = ", ".join(f"{n}: {shown(m, size)}" for n, size in m.critical_ranges.items())
    return [*lines, "  Highest minus lowest of n pulls stays below (ISO 5725-6: takes the SD for known)", f"  {ranges}"]


def _outliers(m: MetricNoise, row_word: str) -> list[str]:
    if not m.outliers:
        return ["No pull lies outside the others (Grubbs, 5 %)."]
    lines = []
    for name, outlier in zip(m.outlier_names(), m.outliers, strict=True):
        level = "1 %" if outlier.statistic > outlier.critical_1 else "5 %"
        lines.append(
            f"{row_word.capitalize()} {name} lies {shown(m, outlier.residual, sign=True)} from the rest of its "
            f"fitting: an outlier at {level} (Grubbs)."
        )
    remedy = "doe void FOLDER PULL --why REASON" if row_word == "pull" else "delete the row"
    return [*lines, f"  Still counted. If there is a reason that does not lie in its value: {remedy}."]


def _shape(m: MetricNoise) -> list[str]:
    if m.normal_p is None or m.normal_p >= _NOTABLE:
        return []
    return [
        f"The scatter is not normal (Shapiro-Wilk p {m.normal_p:.2g}): look for outliers, steps or rounding before "
        "trusting the limits above."
    ]


def _consistency(found: Consistency | None) -> list[str]:
    if found is None:
        return []
    lines = []
    if found.cochran is not None and found.cochran_critical is not None and found.cochran > found.cochran_critical:
        lines.append(
            f"One fitting scatters more than the others (Cochran's C {found.cochran:.2f}, limit "
            f"{found.cochran_critical:.2f} at 5 %)."
        )
    for fitting in found.installs:
        for name, value, limit in (("h", fitting.h, found.h_critical), ("k", fitting.k, found.k_critical)):
            if value is not None and limit is not None and abs(value) > limit:
                what = "level" if name == "h" else "scatter"
                lines.append(
                    f"Fitting {fitting.install} stands apart in its {what} (Mandel's {name} {value:.2f}, limit "
                    f"{limit:.2f} at 1 %)."
                )
    return lines or ["The fittings agree in level and scatter (Cochran 5 %, Mandel's h and k 1 %)."]
