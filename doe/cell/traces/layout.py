"""How an export is written: what it calls things, in which units, and how its text is parted."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from doe.cell.units import kind_of, known_temperature, known_unit
from doe.errors import InputError

#: What a metric is made from; any other column is a guard channel.
CORE = ("time", "rpm", "torque", "power")
_KIND = {"time": "time", "rpm": "speed", "torque": "torque", "power": "power"}
_EXAMPLE = {"time": "s", "rpm": "rpm", "torque": "N m", "power": "kW"}
_IN_BRACKETS = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]\s*$")


@dataclass(frozen=True, slots=True)
class Layout:
    """The mapping of one dyno's exports.

    Raises
    ------
    InputError
        No rpm, neither torque nor power, or a unit that measures something else.
    """

    columns: Mapping[str, str]  #: our name -> the export's
    units: Mapping[str, str] = field(default_factory=dict)  #: our name -> unit
    delimiter: str | None = None  #: None: what parts the header into most columns
    decimal: str | None = None  #: None: a comma where numbers have one and none has a point
    unit_row: bool = False  #: the row under the header holds units
    title_lines: int = 0  #: lines above the header
    inertia_kg_m2: float | None = None

    def __post_init__(self) -> None:
        faults = list(layout_faults(self.columns, self.units))
        if faults:
            raise InputError(f"[traces] {fault}" for fault in faults)


def layout_faults(columns: Mapping[str, str], units: Mapping[str, str]) -> Iterator[str]:
    """What is wrong with a mapping by itself, one line each."""
    if "rpm" not in columns or not {"torque", "power"} & set(columns):
        yield "columns: expected rpm, and torque or power (or both), each with the export's name of it"
    for name, unit in units.items():
        if name not in columns:
            yield f'units: {name} = "{unit}": expected one of the columns {", ".join(columns)}'
        elif name in CORE and kind_of(unit) != _KIND[name]:
            yield f'units: {name} = "{unit}": expected a unit of {_KIND[name]}, such as "{_EXAMPLE[name]}"'


def units_of(layout: Layout, header: Mapping[str, str], unit_row: Mapping[str, str], file: str) -> dict[str, str]:
    """The unit of every column: as declared, else as the unit row or the header's brackets say; never guessed.

    Parameters
    ----------
    header, unit_row : mapping
        Our name -> the export's title, and the cell under it ("" or missing where there is none).
    file : str
        For the messages.

    Raises
    ------
    InputError
        A column that a metric needs has no unit, or two that contradict.
    """
    faults, units = [], {}
    for name, title in header.items():
        bracket = _IN_BRACKETS.search(title)
        told = [("the unit row", unit_row.get(name, "")), ("its title", bracket[1] if bracket else "")]
        seen = [(where, text) for where, text in told if _unit(name, text)]
        declared = layout.units.get(name)
        for where, text in seen:
            if declared and _unit(name, declared) not in (None, _unit(name, text)):
                faults.append(
                    f"{file}, column '{title}': {where} says {text}, [traces] units says {name} = \"{declared}\";"
                    " correct the one that is wrong"
                )
        unit = declared or (seen[0][1] if seen else "rpm" if name == "rpm" else None)
        if unit:
            units[name] = _unit(name, unit) or unit
        elif name in CORE:
            faults.append(
                f"{file}, column '{title}': no unit is told; add units = {{ {name} = \"{_EXAMPLE[name]}\" }}, or"
                " what it is, to [traces]"
            )
    if faults:
        raise InputError(faults)
    return units


def _unit(name: str, text: str) -> str | None:
    """A unit in our spelling where it is one that this column can have."""
    if name in CORE:
        return known_unit(text) if kind_of(text) == _KIND[name] else None
    return known_temperature(text) or known_unit(text)
