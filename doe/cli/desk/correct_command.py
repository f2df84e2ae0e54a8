"""``doe correct``: the factor of a correction standard, and a published figure under another one."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from doe.cli.options import JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("correct")(correct)


def correct(
    standard: Annotated[
        str, typer.Option(help="SAE J1349, SAE J607, DIN 70020 or ISO 1585.", show_default=True)
    ] = "SAE J1349",
    pressure_kpa: Annotated[float | None, typer.Option(help="Barometer at the station, total pressure, kPa.")] = None,
    pressure_mbar: Annotated[float | None, typer.Option(help="The same in mbar (hPa).")] = None,
    pressure_inhg: Annotated[float | None, typer.Option(help="The same in inches of mercury.")] = None,
    altitude_m: Annotated[float | None, typer.Option(help="Altitude: in place of a barometer, or to check it.")] = None,
    reduced_to_sea_level: Annotated[
        bool, typer.Option("--reduced-to-sea-level", help="The pressure is a weather report's; wants --altitude-m.")
    ] = False,
    pressure_kind: Annotated[
        str | None, typer.Option(metavar="dry|total", help="Where both are in use (DIN 70020; total is the default).")
    ] = None,
    temperature_c: Annotated[float | None, typer.Option(help="Inlet air, °C.")] = None,
    temperature_f: Annotated[float | None, typer.Option(help="Inlet air, °F.")] = None,
    humidity_percent: Annotated[float | None, typer.Option(help="Relative humidity, %.")] = None,
    wet_bulb_c: Annotated[float | None, typer.Option(help="Wet bulb, °C.")] = None,
    dew_point_c: Annotated[float | None, typer.Option(help="Dew point, °C.")] = None,
    vapour_pressure_kpa: Annotated[float | None, typer.Option(help="Vapour pressure of the water, kPa.")] = None,
    efficiency: Annotated[
        float | None, typer.Option(help="Declared mechanical efficiency, such as 0.85 (SAE).")
    ] = None,
    friction_power: Annotated[
        float | None, typer.Option(help="Measured friction power, in the unit of --power (SAE).")
    ] = None,
    power: Annotated[float | None, typer.Option(help="Observed power, or the published figure.")] = None,
    unit: Annotated[str, typer.Option(help="Its unit, for the print.")] = "",
    tolerance_kpa: Annotated[float, typer.Option(help="The barometer may be off by so much, kPa.")] = 0.0,
    tolerance_c: Annotated[float, typer.Option(help="The thermometer may be off by so much, K.")] = 0.0,
    tolerance_humidity: Annotated[
        float, typer.Option(help="The humidity may be off by so much, in the unit given.")
    ] = 0.0,
    boosted: Annotated[bool, typer.Option("--boosted", help="The engine is boosted; its control compensates.")] = False,
    from_standard: Annotated[str | None, typer.Option(help="A published figure's standard.")] = None,
    to_standard: Annotated[str | None, typer.Option(help="The standard that it is wanted in.")] = None,
    as_json: JsonFlag = False,
) -> None:
    """The factor that observed power is multiplied with, its parts, its uncertainty, and what is doubtful.

    Example: doe correct --standard "SAE J1349" --pressure-kpa 98.2 --temperature-c 31 --humidity-percent 40

    Example: doe correct --pressure-inhg 29.4 --temperature-f 88 --wet-bulb-c 21 --power 431.2 --unit hp

    Example: doe correct --from-standard "SAE J607" --to-standard "SAE J1349" --power 450 --unit hp
    """
    from doe.cell.air.between_standards import between
    from doe.cell.air.correction import correct as correction_of
    from doe.cell.units import said_once

    weather: dict[str, Any] = {
        "pressure_kpa": said_once("pressure", {"kPa": pressure_kpa, "mbar": pressure_mbar, "inHg": pressure_inhg}),
        "temperature_c": said_once("temperature", {"°C": temperature_c, "°F": temperature_f}),
        "humidity_percent": humidity_percent,
        "wet_bulb_c": wet_bulb_c,
        "dew_point_c": dew_point_c,
        "vapour_pressure_kpa": vapour_pressure_kpa,
        "altitude_m": altitude_m,
        "reduced_to_sea_level": reduced_to_sea_level,
    }
    declared: dict[str, Any] = {
        "pressure_kind": pressure_kind,
        "efficiency": efficiency,
        "friction_power": friction_power,
        "boosted": boosted,
    }
    tolerances: dict[str, Any] = {
        "tolerance_kpa": tolerance_kpa,
        "tolerance_c": tolerance_c,
        "tolerance_humidity": tolerance_humidity,
    }
    if from_standard is not None or to_standard is not None:
        turned = between(from_standard, to_standard, power, unit=unit, **declared, **tolerances, **weather)
        emit(turned, as_json=as_json)
    else:
        result = correction_of(power, standard=standard, unit=unit, **declared, **tolerances, **weather)
        emit(result, as_json=as_json)
