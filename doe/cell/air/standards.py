"""Correction standards: each is one small function of pressure and temperature, and one row of what is known of it.

A factor multiplies observed power: corrected = factor x observed. Atmospheric factors of spark-ignition engines,
naturally aspirated, at full throttle; nothing else is meant by them.

References
----------
The formulas were read in transcriptions, not in the standards' own text; each row says where. What is written "from
memory" was not read anywhere for this program.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from doe.cell.air.moist_air import SEA_LEVEL_KPA, Number
from doe.errors import InputError


def sae_j1349(pressure_kpa: Number, temperature_c: Number) -> Number:
    """(99/p_d) sqrt((t + 273)/298): what indicated power is multiplied with."""
    return 99 / pressure_kpa * ((temperature_c + 273) / 298) ** 0.5


def sae_j607(pressure_kpa: Number, temperature_c: Number) -> Number:
    """(101.325/p_d) sqrt(T/288.706), T in kelvin: 29.92 inHg dry and 60 degF."""
    return SEA_LEVEL_KPA / pressure_kpa * ((temperature_c + 273.15) / 288.706) ** 0.5


def din_70020(pressure_kpa: Number, temperature_c: Number) -> Number:
    """(1013/p) sqrt((t + 273)/293), p in mbar."""
    return 101.3 / pressure_kpa * ((temperature_c + 273) / 293) ** 0.5


def iso_1585(pressure_kpa: Number, temperature_c: Number) -> Number:
    """(99/p_d)^1.2 ((t + 273)/298)^0.6."""
    return (99 / pressure_kpa) ** 1.2 * ((temperature_c + 273) / 298) ** 0.6


@dataclass(frozen=True, slots=True)
class Limit:
    """A range that a standard is used in, and how it is known."""

    what: str  #: "factor", "temperature_c" or "dry_pressure_kpa"
    low: float
    high: float
    evidence: str


@dataclass(frozen=True, slots=True)
class Standard:
    """What is known of one standard."""

    name: str
    edition: str
    ratio: Callable[[Number, Number], Number]  #: of pressure [kPa] and inlet air temperature [degC]
    reference: str  #: the air at which the factor is 1
    source: str  #: where the formula was read
    total_pressure: bool = False  #: the barometer's pressure goes in as it is; else the dry pressure
    either_pressure: bool = False  #: both conventions are in use
    friction: bool = False  #: friction may be left out of the correction
    efficiency: float | None = None  #: assumed where nothing else is declared
    rounded: tuple[float, float] | None = None  #: (a, b) as printed for that efficiency: a x ratio - b
    limits: tuple[Limit, ...] = ()
    remark: str = ""


_MEMORY = "from memory; not read in the standard's text"

STANDARDS: Mapping[str, Standard] = {
    standard.name: standard
    for standard in (
        Standard(
            "SAE J1349",
            "June 1990",
            sae_j1349,
            "99 kPa dry, 25 °C",
            "a public transcription of the June 1990 text",
            friction=True,
            efficiency=0.85,
            rounded=(1.18, 0.18),
            limits=(Limit("temperature_c", 15, 35, _MEMORY), Limit("dry_pressure_kpa", 90, 105, _MEMORY)),
        ),
        Standard(
            "SAE J607",
            "withdrawn",
            sae_j607,
            "101.325 kPa dry, 15.6 °C",
            "a mailing list article of 1 March 1995",
            friction=True,
            remark="withdrawn standard; it reads about 4 % above SAE J1349 near 99 kPa and 25 °C",
        ),
        Standard(
            "DIN 70020",
            "edition not known",
            din_70020,
            "101.3 kPa, 20 °C",
            "a forum transcription, which uses the total pressure",
            total_pressure=True,
            either_pressure=True,
        ),
        Standard(
            "ISO 1585",
            "as in 80/1269/EEC and UN R85",
            iso_1585,
            "99 kPa dry, 25 °C",
            "a public code listing; the annex was not readable",
            limits=(Limit("factor", 0.93, 1.07, _MEMORY),),
        ),
    )
}


def find_standard(name: str) -> Standard:
    """A standard by its name, whatever its capitals, spaces and hyphens; "J1349" will do.

    Raises
    ------
    InputError
        No such standard is known here.
    """
    wanted = _plain(name)
    for standard in STANDARDS.values():
        if wanted in (_plain(standard.name), _plain(standard.name.split()[-1])):
            return standard
    raise InputError(f"standard '{name}' is not known here; known are {', '.join(STANDARDS)}")


def _plain(name: str) -> str:
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def factor_of(
    standard: Standard,
    pressure_kpa: Number,
    temperature_c: Number,
    *,
    efficiency: float | None = None,
    friction_share: Number | None = None,
) -> Number:
    """The factor that observed brake power is multiplied with.

    Parameters
    ----------
    pressure_kpa : float or ndarray
        Dry pressure; total where the standard is used so [kPa].
    temperature_c : float or ndarray
        Inlet air [degC].
    efficiency : float, optional
        Declared mechanical efficiency, 0 to 1: factor = 1 + (ratio - 1)/efficiency.
    friction_share : float or ndarray, optional
        Measured friction power by observed power: (ratio (P + F) - F)/P = ratio + (ratio - 1) F/P.

    References
    ----------
    SAE J1349 (June 1990): friction doesn't change with the air, indicated power does. 1.180 and 0.18 are 1/0.85 and
    1/0.85 - 1 as that text rounds them.
    """
    ratio = standard.ratio(pressure_kpa, temperature_c)
    if friction_share is not None:
        return ratio + (ratio - 1) * friction_share
    if efficiency is not None:
        return 1 + (ratio - 1) / efficiency
    if standard.rounded is not None:
        return standard.rounded[0] * ratio - standard.rounded[1]
    return ratio
