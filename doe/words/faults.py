"""The weak points of a published test: what they are called, how much they weigh, and why they matter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from doe.words.notes import Note, Severity, weight

#: code -> (severity, why it matters)
CATALOGUE: Mapping[str, tuple[Severity, str]] = {
    "mixed-corrections": (
        "fatal",
        "Two standards can differ by 4 % on one and the same pull, more than most parts give; the figures can't be"
        " compared until all are corrected in the same way.",
    ),
    "confounded": (
        "fatal",
        "Whatever the gain is, it belongs to everything that was changed together; nothing in the test can divide it.",
    ),
    "different-engine": (
        "fatal",
        "Two engines of one kind can differ by more than a part gives, so the difference can't be laid to the part.",
    ),
    "no-numbers": ("fatal", "Without the readings there is nothing to check the claim against."),
    "no-return": (
        "serious",
        "An engine that warms up, wears or wanders through the day moves the figures in the same way as the part"
        " would; only a return to the start tells the two apart.",
    ),
    "one-pull": (
        "serious",
        "A single pull can't show how far pulls of this engine differ, so the test itself gives no idea of its noise.",
    ),
    "pulls-unknown": (
        "serious",
        "How far a figure scatters depends on how many pulls are behind it; it is taken here as a single pull.",
    ),
    "best-shown": (
        "serious",
        "The best of several pulls is above what the engine usually gives, and the more pulls, the further.",
    ),
    "unequal-selection": (
        "serious",
        "The two sides are not picked in the same way, so picking alone moves the difference between them.",
    ),
    "last-shown": (
        "serious",
        "The last pull is made on the hottest engine, and it leaves the others out; their mean would say more.",
    ),
    "selection-unknown": (
        "serious",
        "A mean, a best and a last pull differ by about as much as a small part gives.",
    ),
    "difference-wrong": ("serious", "The printed gain and the printed readings can't both be right."),
    "sum-wrong": ("serious", "The total and its parts can't all be right."),
    "percent-wrong": ("serious", "The printed percentage and the printed readings can't both be right."),
    "per-litre-wrong": ("serious", "The reading, the displacement and the figure per litre can't all be right."),
    "torque-power-mismatch": (
        "serious",
        "Power is torque times speed, so one of the three figures is not what it is said to be.",
    ),
    "unit-suspect": ("serious", "A figure in another unit than the one named is wrong by that factor everywhere."),
    "bmep-implausible": (
        "serious",
        "Petrol engines without a charger seldom get there; a unit, the displacement or the correction may be wrong.",
    ),
    "within-noise": (
        "serious",
        "An engine on which nothing was changed could have shown the same difference.",
    ),
    "boosted-corrected": (
        "serious",
        "Correction standards for the air are made for engines that breathe by themselves; a boost control that"
        " already makes up for the air is then corrected twice.",
    ),
    "temperature-differs": (
        "serious",
        "A warmer oil or cooler air moves the power as well; part of the difference may be theirs.",
    ),
    "different-day": (
        "serious",
        "Another day brings other air, another fuel batch and a dyno set up anew, all of which move the figures.",
    ),
    "correction-unknown-over-weeks": (
        "serious",
        "From one week to another the air alone moves the power of an engine by some percent; only a correction that is"
        " known takes it out.",
    ),
    "not-changed": ("serious", "A gain can only be laid to a part that was changed on the way."),
    "noise-assumed": ("minor", "The verdict stands or falls with it: see the verdicts at other scatter."),
    "noise-unknown": (
        "serious",
        "Nobody can say without it whether the difference is more than noise: see the verdicts at other scatter.",
    ),
    "correction-unknown": ("minor", "Readings without their correction can't be compared with other tests."),
    "temperatures-not-stated": ("minor", "Nobody can tell whether each side was equally warm."),
    "paid-by-seller": ("minor", "No reason to doubt a reading, but a reason to look for a test by somebody else."),
    "payer-unknown": ("minor", "A reader would want to know who paid for the test."),
}


@dataclass(frozen=True, slots=True)
class Fault(Note):
    """One weak point of a published test."""

    what: str  #: the finding alone, a sentence without its full stop

    @classmethod
    def of(cls, code: str, where: str, what: str) -> Fault:
        """The fault of a kind in `CATALOGUE`, found at some steps or figures."""
        severity, why = CATALOGUE[code]
        return cls(code, where, f"{where}: {what}. {why}", severity, what)

    @property
    def why(self) -> str:
        """Why it matters."""
        return CATALOGUE[self.code][1]


def by_weight(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """The faults, fatal ones first, each once."""
    return tuple(sorted(dict.fromkeys(faults), key=weight))


def is_fatal(faults: Iterable[Fault]) -> bool:
    """Whether any of them forbids a verdict."""
    return any(fault.severity == "fatal" for fault in faults)
