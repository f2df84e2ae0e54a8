"""The verdicts of an archive: each day judged for itself, nothing written into it, one row a change."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, fields
from functools import partial
from pathlib import Path
from typing import Literal

from doe.analysis.archive.day_folders import day_folders
from doe.analysis.judging.folders import judge_day
from doe.analysis.judging.judgement import Gain, Judgement
from doe.day.files.dayfile import read_day_file
from doe.errors import DoeError, InputError
from doe.words.judgements import judge_notes
from doe.words.notes import texts
from doe.words.verdicts import Better, Verdict
from doe.workers.spread import spread


@dataclass(frozen=True, slots=True)
class VerdictRow:
    """One change of one day; a day without verdicts has one row, which says why."""

    folder: str
    date: str = ""
    metric: str = ""
    unit: str = ""  #: of the gain
    factor: str = ""
    level: str = ""
    gain: float | None = None
    se: float | None = None
    df: float | None = None
    low: float | None = None
    high: float | None = None
    family_low: float | None = None
    family_high: float | None = None
    inner_low: float | None = None
    inner_high: float | None = None
    smallest_gain: float | None = None
    verdict: Verdict | Literal[""] = ""
    verdict_number: int | None = None  #: which verdict on the question it would be, by the day's own ledger
    risk: float | None = None  #: at which it was judged, for the whole family
    route: str = ""
    fault: str = ""  #: why there is no verdict

    def to_dict(self) -> dict[str, float | str | None]:
        """Return the row under its column titles, at full precision."""
        return asdict(self)


COLUMNS = tuple(field.name for field in fields(VerdictRow))
_OF_GAIN = tuple(name for name in COLUMNS if name in {field.name for field in fields(Gain)})


@dataclass(frozen=True, slots=True)
class JudgedDay:
    """The rows of one day."""

    rows: tuple[VerdictRow, ...]
    broken: bool = False  #: a file of it is wrong


def judge_archive(
    places: Sequence[Path],
    *,
    metric: str | None = None,
    method: str = "auto",
    better: Better | None = None,
    jobs: int = 1,
    cluster: str | None = None,
) -> Iterator[JudgedDay]:
    """Judge each day folder for itself. Nothing is written, and no early look is spent.

    Parameters
    ----------
    places : sequence of Path
        Day folders, or parents of day folders at any depth.
    metric, method, better
        As in `judge_day`.
    jobs, cluster
        Who does the work (`spread`); the numbers are the same to the last bit.

    Yields
    ------
    JudgedDay
        In the order of the folders; memory does not grow with their number.

    Raises
    ------
    InputError
        No day folder in or below the places.
    DoeError
        The cluster can't do the work.
    """
    work = partial(judged_day, metric=metric, method=method, better=better)
    return spread(work, day_folders(places), jobs=jobs, cluster=cluster, sees=places[0].resolve())


def judged_day(
    folder: Path, metric: str | None = None, method: str = "auto", better: Better | None = None
) -> JudgedDay:
    """Judge one day; what is wrong stands in its row, so that an archive goes on without it."""
    try:
        date = read_day_file(folder).day.date.isoformat()
        judgement = judge_day(folder, metric=metric, method=method, better=better, checks=False)
    except InputError as error:
        return JudgedDay((VerdictRow(str(folder), fault=error.in_short),), broken=True)
    except OSError as error:
        return JudgedDay((VerdictRow(str(folder), fault=str(error)),), broken=True)
    except DoeError as error:
        return JudgedDay((VerdictRow(str(folder), date, fault=str(error).replace("\n", " ")),))
    return JudgedDay(_rows(str(folder), date, judgement))


def _rows(folder: str, date: str, judgement: Judgement) -> tuple[VerdictRow, ...]:
    whole = partial(VerdictRow, folder, date, judgement.metric, judgement.gain_unit)
    if not judgement.changes:
        return (whole(fault="no change to judge: a noise study"),)
    if judgement.withheld:
        withheld = judge_notes.NOT_FINISHED, judge_notes.NOT_NAMED
        progress = next(note.where for note in judgement.notes if note.code in withheld)
        return tuple(
            whole(factor=g.factor, level=g.level, smallest_gain=g.smallest_gain, fault=progress)
            for g in judgement.changes
        )
    return tuple(
        whole(**{name: getattr(gain, name) for name in _OF_GAIN}, fault=_why_not(gain)) for gain in judgement.changes
    )


def _why_not(gain: Gain) -> str:
    return "" if gain.low is not None else "; ".join(texts(gain.notes))


def counting(days: Iterator[JudgedDay], progress: Callable[[int], None]) -> Iterator[JudgedDay]:
    """Pass the days on, telling how many have come."""
    for done, day in enumerate(days, start=1):
        progress(done)
        yield day
