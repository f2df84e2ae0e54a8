"""The audit in the terminal: the claims with their numbers, the weak points, what several tests say, plain words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from doe.words.claims.audited import Chance, Claim, Map, Pooled, Test
from doe.words.claims.headlines import CONTRADICTS, PART_OR_DRIFT
from doe.words.faults import Fault, is_fatal
from doe.words.notes import weight
from doe.words.numbers import of_hundred, percent, signed, span, two_figures, with_unit
from doe.words.phrases import WIDTH, wrapped
from doe.words.verdicts import MARKS, NO_DIFFERENCE, REAL_GAIN, REAL_LOSS

_PAID = {"nobody": "nobody paid for it", "seller": "the seller paid for it", "publisher": "the publisher paid for it"}


def audit_text(tests: Sequence[Test], pooled: Sequence[Pooled], paragraphs: Sequence[str]) -> str:
    """The whole text; the paragraphs are those of `plain_words`."""
    blocks = ["\n".join(_test_lines(test)) for test in tests]
    blocks += ["\n".join(_pooled_lines(change)) for change in pooled]
    words = "\n\n".join(textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ") for text in paragraphs)
    return "\n\n\n".join([*blocks, f"In plain words\n{words}"])


def _test_lines(test: Test) -> Iterator[str]:
    yield test.title
    yield from wrapped(about_test(test), 2)
    yield from wrapped(f"noise: {noise_words(test)}", 2)
    for claim in test.claims:
        yield ""
        yield f"  {claim.claim.name}: {claim.headline}"
        for line in claim_lines(claim, test):
            yield from wrapped(line, 4)
        if claim.noise_map is not None and any(f.code in ("noise-assumed", "noise-unknown") for f in claim.faults):
            yield from _map_lines(claim.noise_map, test.about.unit)
    if len(test.claims) > 1 and test.correlations is not None:
        yield ""
        yield from wrapped(
            "Claims that share a step share its errors: what is too much in one is too little in the next,"
            " and a total is better known than its parts.",
            2,
        )
    yield ""
    yield "  Weak points"
    yield from _fault_lines(test)
    if test.ask:
        yield ""
        yield "  Ask the publisher"
        for number, question in enumerate(test.ask, start=1):
            yield from wrapped(f"{number}. {question}", 4, hang=7)


def about_test(test: Test) -> str:
    """What is printed about the test, in one line."""
    about = test.about
    parts = [
        test.name,
        f"published {about.published}" if about.published else "",
        _PAID.get(about.paid_by, "who paid is not known"),
        with_unit(about.metric or "metric not named", f"[{about.unit}]" if about.unit else ""),
        f"correction {about.correction}" if about.correction != "unknown" else "correction not known",
        f"temperatures {about.temperatures}",
    ]
    return "; ".join(part for part in parts if part)


def noise_words(test: Test) -> str:
    """The noise that the test was judged by, and where it comes from."""
    noise, unit = test.noise, test.about.unit
    if noise.pull_sd is None:
        return "not stated: read at the usual scatters, 0.25, 0.5 and 1 % of the reading; figures are at 0.5 %"
    parts = [_scatter("pull-to-pull scatter", noise.pull_sd, noise.pull_df, unit)]
    if noise.install_sd is not None:
        parts.append(_scatter("refit scatter", noise.install_sd, noise.install_df, unit))
    if noise.drift_sd:
        parts.append(f"drift from step to step {with_unit(f'{noise.drift_sd:g}', unit)}")
    return ", ".join(parts) + (f" ({noise.source})" if noise.source else "")


def _scatter(name: str, sd: float, df: float | None, unit: str) -> str:
    known = f"on {df:g} degrees of freedom" if df else "assumed"
    return f"{name} {with_unit(f'{sd:.3g}', unit)} {known}"


def claim_lines(claim: Claim, test: Test) -> Iterator[str]:
    """One claim's numbers, a sentence each."""
    digits, unit = test.digits, test.about.unit
    if claim.gain is None:
        yield "no gain can be had from what is printed"
        return
    if is_fatal(claim.faults):
        yield "no verdict: see the fatal weak points; the readings as they stand:"
        yield _gain_line(claim, digits, unit)
        if claim.verdict_of_the_package is not None:
            yield f"all that was changed together: {package(claim)}"
        return
    if claim.headline == CONTRADICTS:
        yield "what follows takes the printed power at its word, though torque and speed say otherwise"
    yield verdict_line(claim, test)
    yield _gain_line(claim, digits, unit)
    found = claim.evidence
    if found is not None:
        yield (
            f"an engine on which nothing was changed shows this much or more, up or down, in"
            f" {of_hundred(found.p_noise)} such tests"
        )
    if claim.verdict != NO_DIFFERENCE:
        yield _needed_line(claim, test)
    if found is not None and found.drift_to_undo > 0:
        yield f"an uncorrected drift of {two_figures(found.drift_to_undo, unit)} between the steps would undo it"
    yield from _belief_lines(claim, unit, test.chance_of_nothing)


def verdict_line(claim: Claim, test: Test) -> str:
    """The verdict, and at which scatter it is one."""
    if test.noise.pull_sd is not None:
        return f"verdict at the scatter that is known: {claim.verdict}"
    return f"verdict, if it is the same at every usual scatter: {claim.verdict}"


def package(claim: Claim) -> str:
    """What all that was changed together is; without a return to the start no part and no package is more."""
    drifting = any(fault.code == "no-return" for fault in claim.faults)
    if claim.verdict_of_the_package in (REAL_GAIN, REAL_LOSS) and drifting:
        return PART_OR_DRIFT.replace("part", "the parts", 1)
    return str(claim.verdict_of_the_package)


def _gain_line(claim: Claim, digits: int, unit: str) -> str:
    share = "" if claim.gain_percent is None else f" ({signed(claim.gain_percent, 2, '%')})"
    assert claim.gain is not None
    printed = ", as printed; not to be checked," if any(f.code == "no-numbers" for f in claim.faults) else ""
    line = f"gain {signed(claim.gain, digits, unit)}{share}{printed}"
    found = claim.evidence
    if found is None:
        return line.rstrip(",")
    if abs(found.bias) > 1e-9:
        line += f"; picking the best pulls is worth {signed(found.bias, digits, unit)} of it,"
        line += f" which leaves {signed(found.adjusted, digits, unit)}"
    return f"{line}; 95 % interval {span(*found.interval(), digits, unit)}"


def _needed_line(claim: Claim, test: Test) -> str:
    """The repeatability at which the claim would stand."""
    unit, noise = test.about.unit, test.noise
    alone = _within(claim.standing_pull_sd_alone, unit)
    if noise.pull_sd is None:
        taken = with_unit(f"{claim.noise.pull_sd or 0:.3g}", unit)
        return f"it would stand if pulls repeated within {alone} (SD; taken here {taken}) and nothing else scattered"
    if claim.standing_pull_sd is None:
        return f"it stands at no repeatability, with the refit scatter and drift taken here; without them, {alone} (SD)"
    needed, used = _within(claim.standing_pull_sd, unit), with_unit(f"{noise.pull_sd:.3g}", unit)
    more = "" if needed == alone else f"; {alone} if nothing but the pulls scattered"
    return f"it stands if pulls repeat within {needed} (SD; here {used}){more}"


def _within(size: float | None, unit: str) -> str:
    return "any scatter" if size == float("inf") else two_figures(size or 0.0, unit)


def _belief_lines(claim: Claim, unit: str, nothing: float) -> Iterator[str]:
    """What such a test would find of a typical part, and how likely the gain is real."""
    if claim.design is None or claim.typical_gain is None or claim.chance is None:
        return
    typical, design = two_figures(claim.typical_gain, unit), claim.design
    wrong = f", with the wrong sign in {of_hundred(design.wrong_sign)} of these" if design.wrong_sign >= 0.005 else ""
    yield (
        f"a true gain of {typical}, taken as usual for such parts, would be found by such a test in"
        f" {of_hundred(design.power)} tries, and then shown {design.exaggeration:.1f} times its size on average{wrong}"
    )
    yield _chance_line(claim.chance, nothing)
    if claim.with_drift is not None and percent(claim.with_drift[0]) != percent(claim.with_drift[1]):
        low, high = map(percent, claim.with_drift)
        yield f"with an engine that wanders by up to 0.5 % from step to step: {low} to {high}"


def _chance_line(chance: Chance, nothing: float) -> str:
    """How likely the gain is real; the ceiling only where it is one: with few degrees of freedom it may not be."""
    low, middle, high = map(percent, (chance.real_min, chance.real, chance.real_max))
    if low == high:
        return f"chance that it is real, with the sign claimed: {middle}, whatever one fairly assumes of such parts"
    line = f"chance that it is real, with the sign claimed: {middle}, or {low} to {high} as other fair assumptions go"
    if chance.ceiling is not None and chance.real < chance.ceiling < 0.995:
        most = percent(chance.ceiling)
        line += f"; if {percent(nothing)} of such parts do nothing, at most {most}, whatever the rest give"
    return line


def _map_lines(grid: Map, unit: str) -> Iterator[str]:
    """The verdicts at other scatter, as a small table."""
    yield ""
    yield f"    The verdict at other scatter{f', in {unit}' if unit else ''} (SD)"
    columns = [f"{sd:g}" for sd in grid.other_sds]
    refit = len(columns) > 1
    yield "    pull-to-pull |" + ((" from day to day" if grid.over_days else " refit") if refit else "")
    if refit:
        yield "    " + " " * 13 + "|" + "".join(f"{text:>7}" for text in columns)
    for sd, row in zip(grid.pull_sds, grid.verdicts, strict=True):
        yield f"    {sd:>12g} |" + "".join(f"{MARKS[word]:>7}" for word in row)
    shown = sorted({word for row in grid.verdicts for word in row}, key=list(MARKS).index)
    yield "    " + ", ".join(f"{MARKS[word]} = {word}" for word in shown)


def _fault_lines(test: Test) -> Iterator[str]:
    """Each kind of weak point once, with the places where it was found."""
    kinds: dict[str, list[Fault]] = {}
    for fault in sorted(
        dict.fromkeys(fault for claim in test.claims for fault in claim.faults),
        key=weight,
    ):
        kinds.setdefault(fault.code, []).append(fault)
    for code, faults in kinds.items():
        found: dict[str, list[str]] = {}
        for fault in faults:
            found.setdefault(fault.what, []).append(fault.where)
        places = ". ".join(f"{'; '.join(wheres)}: {what}" for what, wheres in found.items())
        yield from wrapped(f"{faults[0].severity:<8}{code}: {places}. {faults[0].why}", 4, hang=12)
    if not kinds:
        yield "    none found"


def tests_together(change: Pooled) -> list[str]:
    """What several tests of one change say, in a line; nothing where they are too few."""
    if change.pooled is None:
        return []
    of = f"{change.pooled.tests} tests of {' and '.join(change.about)} together"
    return [f"{of}, in percent of the baseline: {_pooled_gain(change)}."]


def _pooled_gain(change: Pooled) -> str:
    p = change.pooled
    assert p is not None
    return f"{signed(p.estimate, 2, '%')}, 95 % interval {span(p.low, p.high, 2, '%')}; {change.verdict}"


def _pooled_lines(change: Pooled) -> Iterator[str]:
    yield f"What {len(change.rows)} tests say of {' and '.join(change.about)} (percent of the baseline)"
    for row in change.rows:
        numbers = "no gain" if row.gain_percent is None else signed(row.gain_percent, 2)
        numbers += "" if row.se_percent is None else f" (SE {row.se_percent:.2f})"
        yield f"  {row.name}: {numbers}" + (f"; left out: {row.note}" if row.note else "")
    if change.pooled is not None:
        p = change.pooled
        yield f"  together: {_pooled_gain(change)}"
        ahead = span(p.prediction_low, p.prediction_high, 2, "%")
        yield f"  the true gain in a further test like these: {ahead} (95 % prediction interval)"
    for note in change.notes:
        yield from wrapped(note.text, 2)
