"""The demo day in words: what came out, what is true, and where everything is."""

from __future__ import annotations

from collections.abc import Mapping


def demo_text(
    judged: str,
    *,
    true_gains: Mapping[tuple[str, str], float],
    shown_hp: float,
    shows: float,
    tests: int,
    seed: int,
    story_seed: int,
    report: str,
    folder: str,
) -> str:
    """The verdicts, the truth, the punch line, and where everything is.

    Parameters
    ----------
    judged : str
        The judgement, as ``doe judge`` prints it.
    true_gains : mapping of (factor, level) to float
        What is true in the simulated cell [hp].
    shown_hp : float
        What a worthless change has to show.
    shows : float
        The share in which it does.
    tests : int
        With one pull before and one after, that were simulated.
    seed, story_seed : int
        The demo's, and the one that was chosen.
    report, folder : str
        Where the page and the rest are; the folder with the sign that divides it from a file.
    """
    truths = [f"  {factor} {level}: {gain:+g} hp" for (factor, level), gain in true_gains.items()]
    return "\n".join(
        [
            "INVENTED DATA: a simulated engine in a simulated cell.",
            "",
            judged,
            "",
            "What is true in this cell, as only a simulation can know:",
            *truths,
            "",
            "And with one pull before and one after? There a change that is worth nothing shows",
            f"{shown_hp:g} hp or more, up or down, in {shows:.0%} of all tests ({tests:,} simulated just now).",
            "",
            "Where everything is:",
            f"  {report}  the page for a customer: open it in a browser",
            f"  {folder}day.toml  the day: hours, parts, what would be worth having",
            f"  {folder}plan.csv  the run order on the clock",
            f"  {folder}pulls.csv  every pull",
            f"  {folder}traces  the sweep of each; doe judge --curve shows where in the range a gain lies",
            _about(seed, story_seed),
        ]
    )


def _about(seed: int, story_seed: int) -> str:
    if seed != story_seed:
        return f"Seed {seed}: a plan and a day of its own, verdicts as they fell."
    return f"Seed {seed}, chosen so that each verdict occurs; --seed N makes another day, with verdicts as they fall."
