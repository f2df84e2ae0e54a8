"""What to ask the publisher of a test, a sentence each: plain questions that a person can answer from a notebook."""

from __future__ import annotations


def readings(where: str) -> str:
    """Figures that are not printed."""
    return f"What did the engine read at {where}?"


def alone(parts: str) -> str:
    """Parts that were changed together."""
    return f"Was one of {parts} ever changed by itself, and what did the engine read then?"


def corrections(where: str) -> str:
    """Different or unknown corrections."""
    return (
        f"How were the readings of {where} corrected, and in which air (pressure, temperature, humidity) was each made?"
    )


def engines(where: str) -> str:
    """Different engines."""
    return f"What did each engine read before the change ({where})?"


def units(where: str) -> str:
    """Power and torque that don't go together."""
    return f"In which units are power and torque at {where} printed, and at which speed was each read?"


def single_pulls(where: str) -> str:
    """Scatter, number of pulls and how they were picked: one answer to all."""
    return f"How many pulls are behind {where}, and what did each one read?"


def back_again(start: str) -> str:
    """A test without a return."""
    return f"What did the engine read when it was put back as at {start}, after the last part?"


def between_days(where: str) -> str:
    """Readings of different days."""
    return f"What did the unchanged engine read on each of the days of {where}?"


def temperatures(where: str) -> str:
    """Temperatures that differ, or that nobody states."""
    return f"How warm were oil, water and air at each pull of {where}?"


def which_figure(where: str) -> str:
    """Printed figures that disagree."""
    return f"Which of the printed figures of {where} is right?"
