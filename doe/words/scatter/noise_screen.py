"""The noise in ten seconds: from which difference on two pulls may be believed, and with a refit between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.notes import Note, texts
from doe.words.numbers import several
from doe.words.phrases import listed
from doe.words.scatter.noise_study_words import outlier_remedy
from doe.words.scatter.noise_words import Figures
from doe.words.screen import Grid, Part, Screen, grid
from doe.words.significance import NOTABLE

OUTLIER, FEW_FITTINGS = "outlier", "few-fittings"
#: notes that are minor by themselves, of things that change what a tester does
_TOLD = frozenset({"wander", "scatter-goes-with-level", OUTLIER, "cells-differ", "creep"})
_ROWS = 4  # numbers of pulls in a mean that the table has


class Limits(Protocol):
    """What means of so many pulls can be trusted to, 19 times in 20."""

    @property
    def pulls(self) -> int: ...
    @property
    def two_means(self) -> float: ...
    @property
    def refitted(self) -> float | None: ...


class Drift(Protocol):
    """How the engine drifts through a day."""

    @property
    def per_hour(self) -> float: ...
    @property
    def p(self) -> float: ...


class Metric(Protocol):
    """The noise of one metric, of a study or an archive."""

    @property
    def name(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def pulls(self) -> int: ...
    @property
    def installs(self) -> int: ...
    @property
    def days(self) -> int: ...
    @property
    def mean(self) -> float: ...
    @property
    def pull_sd(self) -> float: ...
    @property
    def show(self) -> Figures: ...
    @property
    def trusted(self) -> Sequence[Limits]: ...
    @property
    def drift(self) -> Drift | None: ...
    @property
    def steps_like(self) -> str: ...


def noise_screen(
    metrics: Sequence[Metric], notes: Sequence[Note], *, best: str, row_word: str, said: Sequence[str]
) -> Screen:
    """What a study or an archive says first.

    Parameters
    ----------
    metrics : sequence of Metric
    notes : sequence of Note
        All of them; the serious ones are shown, and a few that change what a tester does.
    best : str
        The steadiest metric; "" where there is one only, or nobody knows.
    row_word : str
        "pull" of a day folder, "row" of a table.
    said : sequence of str
        What was read, and what was left out.
    """
    told = [note for note in notes if note.severity != "minor" or note.code in _TOLD]
    outside = any(note.code == OUTLIER for note in told)
    lines = [
        *_scatters(metrics),
        *(f"Warning: {text}" for text in dict.fromkeys(texts(told))),
        *([outlier_remedy(row_word).strip()] if outside else []),
        *said,
    ]
    parts: list[Part] = [_by_metric(metrics)] if len(metrics) > 1 else _by_pulls(metrics[0])
    hardly = any(note.code == FEW_FITTINGS for note in notes)
    return Screen(_what_to_do(metrics, best, hardly=hardly), (*parts, "\n".join(lines)))


def _what_to_do(metrics: Sequence[Metric], best: str, *, hardly: bool) -> str:
    first = next((metric for metric in metrics if metric.name == best), metrics[0])
    of = f" of {first.name}" if len(metrics) > 1 else ""
    if first.steps_like:
        return f"Trust no difference yet: {first.steps_like}{of} can't be told from scatter here."
    if not first.trusted:
        return f"Trust no difference yet: the pulls{of} of each fitting are all alike, rounded or not measured."
    one = first.trusted[0]
    go = f"Go by {best}, the steadiest: trust" if best and len(metrics) > 1 else "Trust"
    limit = f"{go} differences{'' if best else of} above {first.show(one.two_means)} between two pulls"
    if one.refitted is None:
        return f"{limit}, as long as nothing is refitted: what a refit adds is not known."
    known = ", as far as so few fittings can tell" if hardly else ""
    return f"{limit}; with a refit between them, above {first.show(one.refitted)}{known}."


def _by_pulls(metric: Metric) -> list[Part]:
    """What two means of so many pulls must differ by; nothing where nobody knows."""
    if not metric.trusted:
        return []
    show, refits = metric.show, metric.trusted[0].refitted is not None
    head = ["means of", "nothing touched between", *(["refitted between"] if refits else [])]
    rows = [
        [several(one.pulls, "pull"), show(one.two_means), *([show(one.refitted)] if one.refitted is not None else [])]
        for one in metric.trusted[:_ROWS]
    ]
    return [grid(head, rows, right=range(1, len(head)))]


def _by_metric(metrics: Sequence[Metric]) -> Grid:
    """What two pulls must differ by, of each metric."""
    rows = []
    for metric in metrics:
        if not metric.trusted:
            rows.append([metric.name, "-", "-"])
            continue
        one = metric.trusted[0]
        refitted = "not known" if one.refitted is None else metric.show(one.refitted)
        rows.append([metric.name, metric.show(one.two_means), refitted])
    return grid(["two pulls of", "nothing touched between", "refitted between"], rows, right=(1, 2), wraps=(0,))


def _scatters(metrics: Sequence[Metric]) -> list[str]:
    """From how much of what it is known; the drift where it is one."""
    lines = []
    for metric in metrics:
        days = f", {several(metric.days, 'day')}" if metric.days > 1 else ""
        made = f"{several(metric.pulls, 'pull')}, {several(metric.installs, 'fitting')}{days}"
        hold = "; the limits hold 19 times in 20" if metric.trusted else ""
        lines.append(f"{metric.name}: {made}, at {metric.show(metric.mean)}{hold}.")
        if metric.drift is not None and metric.drift.p < NOTABLE:
            drift = metric.show.found(metric.drift.per_hour)
            lines.append(f"{metric.name} drifts by {drift} an hour: keep sets short, and come back to the baseline.")
    return lines


def left_out(reasons: Sequence[tuple[int, str]], broken: int) -> list[str]:
    """The day folders that say nothing, in one line."""
    parts = [f"{several(number, 'day folder')} ({why})" for number, why in reasons]
    parts += [f"{several(broken, 'day folder')} that can't be read"] if broken else []
    return [f"Left out: {listed(parts)}."] if parts else []
