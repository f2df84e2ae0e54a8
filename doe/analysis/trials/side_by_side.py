"""Tables that are wider than one row a pull: pulls side by side in a row, or one column a level."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from doe.analysis.trials.table_columns import TableColumns
from doe.day.cell_units import unit_key
from doe.day.foreign.missing import is_missing
from doe.day.header import title_and_unit
from doe.day.names import name_key
from doe.errors import InputError

CHANGE = "change"  #: what the factor is called whose levels are titles
READING = "reading"  #: what readings are called that stand in several columns


def by_pull(columns: TableColumns, readings: Mapping[str, Sequence[str]]) -> None:
    """Put pulls that stand side by side in a row into rows of their own.

    Parameters
    ----------
    columns : TableColumns
        Changed in place. What else stands in a row holds for each of its pulls; a blank cell beside others is no pull.
    readings : mapping of str to sequence of str
        Each reading with its columns; all have equally many.

    Raises
    ------
    InputError
        One reading has several columns and another one has not.
    """
    counts = {name: len(titles) for name, titles in readings.items()}
    if len(set(counts.values())) > 1:
        told = ", ".join(f"'{name}' {count}" for name, count in counts.items())
        raise InputError(f"the readings don't have equally many columns: {told}; study them one by one")
    blocks = list(zip(*readings.values(), strict=True))
    words = {title: columns.words(title) for block in blocks for title in block}
    made = [
        [block for block in blocks if not all(is_missing(words[title][row]) for title in block)] or blocks[:1]
        for row in range(columns.rows)
    ]
    fewer = [columns.labels[row] for row in range(columns.rows) if len(made[row]) < len(blocks)]
    if fewer:
        columns.said.append(f"fewer than {len(blocks)} pulls in row{'s' * (len(fewer) > 1)} {', '.join(fewer[:8])}")
    pairs = [(row, block) for row in range(columns.rows) for block in made[row]]
    cells = {title: columns.cells(title) for title in words}
    units = {name: _one_unit(columns, titles) for name, titles in readings.items()}
    _unfold(columns, pairs, {name: [cells[block[at]][row] for row, block in pairs] for at, name in enumerate(readings)})
    columns.titles = {name: [block[at] for _, block in pairs] for at, name in enumerate(readings)}
    columns.units |= units


def by_level(columns: TableColumns, titles: Sequence[str], baseline: str, install: str | None, *, timed: bool) -> str:
    """Put the readings of levels that have a column each below each other: columns `CHANGE` and `READING`.

    Parameters
    ----------
    columns : TableColumns
        Changed in place; a blank cell is no pull: columns need not be equally long.
    titles : sequence of str
        A column each level, named as the level, with a unit or without.
    baseline : str
    install : str or None
        "stints", "each", or a column.
    timed : bool
        Whether a column says when: then the times order the pulls.

    Returns
    -------
    str
        The baseline as its level is called.

    Raises
    ------
    InputError
        The baseline is none of the columns, or nobody says whether a level stayed fitted through its column.
    """
    levels = {_level(title): title for title in titles}
    known = {name_key(level): level for level in levels}
    if name_key(_level(baseline)) not in known:
        raise InputError(f"one column a level: the baseline '{baseline}' must be one of them ({', '.join(levels)})")
    if install is None:
        raise InputError(
            "one column a level: the table doesn't say how often each was fitted. --install stints: each column is one"
            " fitting, its pulls made after one another; --install each: every reading was fitted anew, row by row"
        )
    names = {title: level for level, title in levels.items()}
    pairs = [(row, (title,)) for row in range(columns.rows) for title in names]
    if install == "stints" and not timed:
        pairs.sort(key=lambda pair: list(names).index(pair[1][0]))
    words = {title: columns.words(title) for title in names}
    pairs = [(row, block) for row, block in pairs if not is_missing(words[block[0]][row])]
    if not pairs:
        raise InputError(f"no readings stand below {', '.join(levels)}")
    cells = {title: columns.cells(title) for title in names}
    unit = _one_unit(columns, list(names))
    readings = [cells[block[0]][row] for row, block in pairs]
    _unfold(columns, pairs, {READING: readings, CHANGE: [names[block[0]] for _, block in pairs]})
    columns.titles = {READING: [block[0] for _, block in pairs]}
    columns.units[READING] = unit
    columns.each = [f"{label} {title}" for label, title in zip(columns.labels, columns.titles[READING], strict=True)]
    return known[name_key(_level(baseline))]


def _one_unit(columns: TableColumns, titles: Sequence[str]) -> str:
    """The unit of columns that hold one kind of reading.

    Raises
    ------
    InputError
        They have several.
    """
    units = {unit for title in titles if (unit := columns.units.get(title, "") or title_and_unit(title)[1])}
    if len({unit_key(unit) for unit in units}) > 1:
        raise InputError(f"{', '.join(titles)}: one reading in several units ({', '.join(sorted(units))})")
    return next(iter(units), "")


def _level(title: str) -> str:
    return title_and_unit(title)[0]


def _unfold(
    columns: TableColumns, pairs: Sequence[tuple[int, tuple[str, ...]]], new: Mapping[str, Sequence[Any]]
) -> None:
    """One row for each pair of a row and its columns; the columns that were named are replaced by the new ones."""
    gone = {title for _, block in pairs for title in block}
    columns.keep([row for row, _ in pairs])
    columns.columns = {title: cells for title, cells in columns.columns.items() if title not in gone} | dict(new)
