"""What is noted of a noise study or an archive: each note with its code, what it is about and its sentence."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.notes import Note
from doe.words.numbers import several
from doe.words.phrases import capital
from doe.words.scatter import noise_archive_words, noise_words
from doe.words.scatter.noise_words import Figures


def no_scatter(name: str) -> Note:
    """The pulls are all alike."""
    text = f"{name}: the pulls of each fitting agree to the last digit: rounded, or not measured"
    return Note("no-scatter", name, text, "serious")


def steps_alike(name: str, what: str) -> Note:
    """The pulls of a fitting differ, and all fittings in the same way."""
    return Note("no-scatter", name, f"{name}: {noise_words.steps_alike(what)}", "serious")


def refit_unknown(name: str, why: str) -> Note:
    """Nothing was fitted again."""
    return Note("refit-unknown", name, f"{name}: nothing is known of the refit scatter: {why}", "serious")


def few_fittings(name: str, fittings: int, wanted: int) -> Note:
    """So few fittings that the refit scatter is a guess."""
    text = (
        f"{name}: only {fittings} fittings; the refit scatter from fewer than {wanted} is hardly known, and intervals "
        "that rest on it may miss more often than they say"
    )
    return Note("few-fittings", name, text, "serious")


def days_scatter_unequally(name: str, p: float, df: float) -> Note:
    """The days of one study don't agree in their pull scatter."""
    text = (
        f"{name}: the days differ in their pull scatter (Bartlett's p {p:.2g}); the pooled pull SD is known less well "
        f"than its {df} df say, and a coming day may scatter more"
    )
    return Note("unequal-scatter", name, text, "serious")


def archive_scatters_unequally(name: str, p: float, coming_df: float, pooled_df: float) -> Note:
    """The days of an archive don't agree in their pull scatter."""
    text = (
        f"{name}: the days differ in their pull scatter (p {p:.2g}); a coming day can count on {coming_df:.3g} df of "
        f"it, not on all {pooled_df:.0f}"
    )
    return Note("unequal-scatter", name, text, "serious")


def copies(name: str, folders: Sequence[str]) -> Note:
    """Folders that count twice."""
    text = (
        f"{name}: {several(len(folders), 'folder')} with the very readings of another, counted twice: "
        f"{', '.join(folders[:3])}; copies belong elsewhere"
    )
    return Note("copies", name, text, "serious")


def outlier(show: Figures, row_word: str, pull: str | int, distance: float, *, surely: bool) -> Note:
    """A pull outside the others of its fitting; `surely` where it is at 1 %."""
    where = f"{row_word} {pull}"
    text = (
        f"{capital(where)} lies {show(distance, sign=True)} from the rest of its fitting: an outlier at "
        f"{'1' if surely else '5'} % (Grubbs)."
    )
    return Note("outlier", where, text, "minor")


def not_normal(name: str, p: float) -> Note:
    """The scatter has not the shape that the limits take for granted."""
    text = (
        f"The scatter is not normal (Shapiro-Wilk p {p:.2g}): look for outliers, steps or rounding before trusting the "
        "limits above."
    )
    return Note("not-normal", name, text, "minor")


def unequal_fittings(name: str, cochran: float, limit: float) -> Note:
    """One fitting scatters more than the others."""
    text = f"One fitting scatters more than the others (Cochran's C {cochran:.2f}, limit {limit:.2f} at 5 %)."
    return Note("unequal-fittings", name, text, "minor")


def fitting_apart(fitting: int, statistic: str, value: float, limit: float) -> Note:
    """A fitting that stands apart by Mandel's `statistic`, h of its level or k of its scatter."""
    text = (
        f"Fitting {fitting} stands apart in its {'level' if statistic == 'h' else 'scatter'} "
        f"(Mandel's {statistic} {value:.2f}, limit {limit:.2f} at 1 %)."
    )
    return Note("fitting-apart", f"fitting {fitting}", text, "minor")


def scatter_goes_with_level(name: str, exponent: float, figures: str) -> Note:
    """One SD for all levels misleads."""
    text = (
        f"The scatter falls with the level ({figures}): one SD for all levels misleads."
        if exponent < 0
        else f'The scatter grows with the level ({figures}): compare in percent (scale = "percent").'
    )
    return Note("scatter-goes-with-level", name, text, "minor")


def wander(name: str, lines: Sequence[str]) -> Note:
    """The engine or the cell wanders, in the lines of the text."""
    return Note("wander", name, " ".join(line.strip() for line in lines), "minor")


def driven_by(name: str, line: str) -> Note:
    """Days or a cell that drive an answer."""
    return Note("driven-by", name, line, "serious")


def archive_outliers(pulls: Sequence[str]) -> Note:
    """Pulls outside the others of their day."""
    return Note("outlier", ", ".join(pulls), noise_archive_words.outlier_line(pulls), "minor")


def outside_limits(what: str, days: Sequence[str]) -> Note:
    """Days outside the limits of the chart of `what`."""
    return Note("outside-limits", what, noise_archive_words.chart_line(what, days), "minor")


def creeps(name: str, line: str) -> Note:
    """The baseline creeps over the months."""
    return Note("creep", name, line, "minor")


def cells_differ(name: str, p: float) -> Note:
    """The cells of an archive don't agree in their pull scatter."""
    return Note("cells-differ", name, noise_archive_words.cells_differ(p).strip(), "minor")
