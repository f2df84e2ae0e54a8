"""Cautions for the work that a day asks for. The test cell's own rules and local codes come first, always."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from doe.day.schema import DayFile

FIRST = (
    "The rules of this test cell and the local codes come first. Where they and these lines differ, follow them. "
    "These lines are reminders, not a risk assessment."
)


@dataclass(frozen=True, slots=True)
class Caution:
    """One reminder, for the parts whose names hold one of its words; without words it is for every day."""

    topic: str
    text: str
    source: str
    words: frozenset[str] = frozenset()


CAUTIONS = (
    Caution(
        "Hot oil",
        "Let the oil cool before the drain plug comes out; wear gloves and eye protection. Used oil harms the skin: "
        "wash it off at once. It goes into closed, marked containers.",
        "HSE, motor vehicle repair, skin; 40 CFR 279 (used oil)",
        frozenset({"oil", "sump"}),
    ),
    Caution(
        "Fuel change",
        "Engine cold, nothing that can ignite in the way of the vapour, containers covered and bonded. Fuel never goes "
        "into the waste oil. Blends with ethanol attack some seals and hoses and take up water: check the mixture at "
        "part load before the first full-throttle pull.",
        "29 CFR 1910.106(e); DOE/GO-102016-4854 (ethanol blends)",
        frozenset({"fuel", "petrol", "gasoline", "ethanol", "methanol", "octane", "blend"}),
    ),
    Caution(
        "Crankcase vacuum",
        "Never open a crankcase or breather soon after the engine has run hot: air can reach hot oil mist. Fit a catch "
        "tank and a flame arrestor and watch the oil pressure. A vacuum source whose motor sparks in the stream of "
        "vapour is a source of ignition.",
        "IACS UR M10 (marine engines; named as the reason for care, not as a limit)",
        frozenset({"crankcase", "vacuum", "breather", "pcv"}),
    ),
    Caution(
        "Intake, carburettor and throttle",
        "Before starting, work the throttle by hand: it must return fully. Count loose nuts, clips and rags out of the "
        "intake. Test every fuel joint that was opened for leaks, with an extinguisher at hand.",
        "common practice, no published source",
        frozenset(
            {"intake", "inlet", "trumpet", "trumpets", "carburettor", "carburetor", "throttle", "manifold", "injector",
             "injectors", "filter", "spacer"}
        ),
    ),
    Caution(
        "Hot metal",
        "A short touch is enough for a burn. Wear gloves, or let it cool: the minutes for a changeover in day.toml "
        "must leave time for that.",
        "ISO 13732-1 (contact burns)",
    ),
    Caution(
        "Rotating shafts",
        "Shafts and couplings stay guarded, and nobody stands in their plane during a pull. Isolate the starter and "
        "the dyno before hands go in.",
        "29 CFR 1910.219 (guards); 29 CFR 1910.147 (isolation)",
    ),
    Caution(
        "Exhaust gas",
        "Extraction on before the engine starts. Open doors or a fan are no guarantee: carbon monoxide builds up "
        "within minutes. Set the alarm from 35 ppm (time-weighted mean), with 200 ppm as the ceiling.",
        "NIOSH 96-118; NIOSH recommended exposure limits for carbon monoxide",
    ),
    Caution(
        "Noise",
        "Recommended at most: 85 dBA over 8 hours, and half the time for every 3 dB more. From 100 dBA wear plugs and "
        "muffs together.",
        "NIOSH 98-126",
    ),
)  # fmt: skip


def cautions_for(day: DayFile) -> tuple[Caution, ...]:
    """Return the cautions for every day and those for the parts that this day changes, found by their names."""
    return cautions_of(name for factor in day.factor for name in (factor.name, *factor.levels))


def cautions_of(names: Iterable[str]) -> tuple[Caution, ...]:
    """Return the cautions for every day and those for work on parts and fluids of these names."""
    words = set(re.findall(r"[a-z]+", " ".join(names).lower()))
    return tuple(caution for caution in CAUTIONS if not caution.words or caution.words & words)
