"""A table as somebody has it, made ready: one row a pull, and only pulls; what was changed for that is said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any, Literal, get_args

from doe.analysis.trials.side_by_side import CHANGE, READING, by_level, by_pull
from doe.analysis.trials.table_columns import TableColumns
from doe.analysis.trials.unnamed import marked_rows
from doe.day.foreign.leftovers import SecondHeaderError, find_leftovers, find_not_counted
from doe.day.foreign.missing import is_missing
from doe.day.header import numbered_places, numbered_title
from doe.day.names import level_key
from doe.errors import InputError
from doe.words.judgements import table_notes
from doe.words.notes import Note
from doe.words.numbers import several
from doe.words.phrases import listed

STINTS, EACH = "stints", "each"
Missing = Literal["refuse", "skip"]


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked of a table.

    Attributes
    ----------
    values : tuple of str
        Columns of readings, or what numbered columns of pulls have in common ("pull" for "pull 1", "pull 2").
    factors, baselines : tuple of str
        Columns of what was fitted, and the level of each that the others are compared with.
    installs : tuple of str or None
        As in `doe.judge`: one for all factors, or one for each.
    day, time : str or None
    beside : tuple of str
        Columns that may go with the readings.
    missing : {"refuse", "skip"}
        What to do with a row that lacks something.
    together : bool
        Whether several columns of readings hold pulls of one kind; else each is studied by itself.
    """

    values: tuple[str, ...]
    factors: tuple[str, ...]
    baselines: tuple[str, ...]
    installs: tuple[str | None, ...] = (None,)
    day: str | None = None
    time: str | None = None
    beside: tuple[str, ...] = ()
    missing: Missing = "refuse"
    together: bool = False

    @classmethod
    def of(
        cls,
        *,
        value: str | Sequence[str],
        change: str | Sequence[str],
        baseline: Any,
        install: str | Sequence[str] | None = None,
        day: str | None = None,
        time: str | None = None,
        beside: str | Sequence[str] = (),
        missing: str = "refuse",
        together: bool = False,
    ) -> Asked:
        """Take one name or several.

        Raises
        ------
        InputError
            A word for what to do with missing cells that is not known.
        """
        known: dict[str, Missing] = {word: word for word in get_args(Missing)}
        if missing not in known:
            raise InputError(f"missing: '{missing}' is not known; expected {' or '.join(known)}")
        baselines = [baseline] if isinstance(baseline, str | int | float) else baseline
        installs = (install,) if install is None or isinstance(install, str) else tuple(install)
        return cls(
            _several(value), _several(change), tuple(map(str, baselines)), installs, day, time, _several(beside),
            known[missing], together,
        )  # fmt: skip

    @property
    def is_by_level(self) -> bool:
        """Whether each level has its readings in a column of its own."""
        return not self.factors and len(self.values) > 1 and bool(self.baselines)

    @property
    def install_columns(self) -> list[str]:
        """The installs that are columns."""
        return [name for name in self.installs if name is not None and name not in (STINTS, EACH)]

    @property
    def keys(self) -> list[str]:
        """Columns that say how each reading was taken."""
        return [*self.factors, *self.install_columns, *(name for name in (self.day, self.time) if name)]


def _several(names: str | Sequence[str]) -> tuple[str, ...]:
    return (names,) if isinstance(names, str) else tuple(dict.fromkeys(names))


@dataclass(frozen=True, slots=True)
class Prepared:
    """A table with one row a pull.

    Attributes
    ----------
    columns : TableColumns
    asked : Asked
        With the columns as they are now.
    given : int
        Rows below the header.
    left_out : tuple of (str, str)
        Rows that are no pulls: their number, and what they are.
    notes : tuple of Note
    """

    columns: TableColumns
    asked: Asked
    given: int
    left_out: tuple[tuple[str, str], ...] = ()
    notes: tuple[Note, ...] = ()


def prepare(table: Any, asked: Asked) -> Prepared:
    """Make a table ready.

    Parameters
    ----------
    table : DataFrame, mapping of columns, or Sheet
    asked : Asked

    Raises
    ------
    InputError
        It is no table, a column is missing, or nobody can tell which of its rows are pulls.
    """
    columns = TableColumns(table)
    given = columns.rows
    found = {name: _titles(columns, name) for name in asked.values}
    if asked.together and asked.factors and len(found) > 1:
        asked, found = replace(asked, values=(READING,)), {READING: list(chain(*found.values()))}
    columns.need(asked.keys)
    check_words(columns, asked)
    columns.stop()
    left_out, doubts = _drop_leftovers(columns, asked, list(chain(*found.values())))
    notes = [table_notes.may_be_means(columns.labels[row]) for row in doubts] + list(_siblings(columns, asked, found))
    notes += marked_rows(columns, [*chain(*found.values()), *asked.keys])
    if asked.is_by_level:
        if len(asked.baselines) > 1 or len(asked.installs) > 1:
            raise InputError("one column a level: one baseline and one word or column of installs")
        titles = [columns.title(name) for name in asked.values]
        base = by_level(columns, titles, asked.baselines[0], asked.installs[0], timed=asked.time is not None)
        asked = replace(asked, values=(READING,), factors=(CHANGE,), baselines=(base,))
    elif any(len(titles) > 1 for titles in found.values()):
        by_pull(columns, found)
    return Prepared(columns, asked, given, tuple(left_out), tuple(notes))


def _titles(columns: TableColumns, name: str) -> list[str]:
    """The columns of one reading: one, or those that number its pulls; none where that is noted as a fault."""
    title = columns.find(name)
    if title is not None:
        return [title]
    titles = list(columns.columns)
    numbered = [titles[at] for at in numbered_places(name, titles)]
    if not numbered:
        columns.faults.append(columns.missing(name))
    return numbered


def check_words(columns: TableColumns, asked: Asked) -> None:
    """Note words that don't fit each other."""
    factors, baselines, installs = asked.factors, asked.baselines, asked.installs
    if asked.is_by_level:
        return
    if len(baselines) != len(factors):
        columns.faults.append(
            f"{several(len(factors), 'change column')} but {several(len(baselines), 'baseline')}:"
            " one for each is needed"
        )
    if len(set(factors)) != len(factors):
        columns.faults.append("a change column is named twice")
    if len(installs) not in (1, len(factors)):
        columns.faults.append(f"{len(installs)} install columns for {len(factors)} factors: one, or one for each")


def _drop_leftovers(
    columns: TableColumns, asked: Asked, values: Sequence[str]
) -> tuple[list[tuple[str, str]], Sequence[int]]:
    """Take the rows that are no pulls out; they are told, and the places of those that may be none as well."""
    keys = [columns.title(name) for name in asked.keys]
    words = {title: columns.words(title) for title in columns.columns}
    try:
        found = find_leftovers(
            words,
            values=values,
            keys=keys,
            levels=asked.baselines,
            gaps=columns.gaps,
        )
    except SecondHeaderError as fault:
        raise InputError(
            f"row {columns.labels[fault.at]} is a header once more, with its columns in another order: below it they"
            " mean something else; part the table there"
        ) from None
    out = found.rows | find_not_counted(words, [*values, *keys])
    told = [(columns.labels[row], what) for row, what in sorted(out.items())]
    if len(told) == columns.rows:
        raise InputError("no row of the table is a pull: each is a header, a remark or worked out from others")
    columns.units |= found.units
    kept = [row for row in range(columns.rows) if row not in out]
    if told:
        columns.keep(kept)
    return told, [kept.index(row) for row in found.doubts if row not in out]


def _siblings(columns: TableColumns, asked: Asked, found: dict[str, list[str]]) -> Iterator[Note]:
    """Say that one of several numbered columns was named: the others hold pulls too."""
    for name, titles in found.items():
        numbered = numbered_title(titles[0])
        if len(titles) > 1 or numbered is None or asked.is_by_level:
            continue
        all_of_them = list(columns.columns)
        others = [all_of_them[at] for at in numbered_places(numbered[0], all_of_them)]
        unnamed = [title for title in others if title not in chain(*found.values()) and title not in asked.keys]
        if unnamed:
            yield table_notes.numbered_columns_left_out(name, unnamed, numbered[0])


def drop_unplaced(prepared: Prepared) -> list[str]:
    """Leave out the rows of which nobody says how they were taken; they are told, in words.

    Only where the rows that lack something are to be skipped.
    """
    columns, asked = prepared.columns, prepared.asked
    if asked.missing != "skip":
        return []
    levels = {level_key(base) for base in asked.baselines}
    lacking: dict[int, list[str]] = {}
    for name in asked.keys:
        for row, text in enumerate(columns.words(name)):
            if is_missing(text) and level_key(text) not in levels:
                lacking.setdefault(row, []).append(columns.title(name))
    if not lacking:
        return []
    told = [f"row {columns.labels[row]} (no {listed(names)})" for row, names in lacking.items()]
    if len(lacking) == columns.rows:
        raise InputError(f"every row lacks something: {'; '.join(told[:3])}")
    columns.keep([row for row in range(columns.rows) if row not in lacking])
    return told
