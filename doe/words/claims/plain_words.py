"""What an editor could print: what can be concluded from a test and what can't, without accusing anyone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from doe.words.claims import headlines as h
from doe.words.claims.audit_words import package
from doe.words.claims.audited import Claim, Pooled, Test
from doe.words.faults import is_fatal
from doe.words.numbers import of_hundred, signed, span, two_figures, with_unit
from doe.words.phrases import capital, listed, number_word
from doe.words.verdicts import NOT_SETTLED, REAL_GAIN, REAL_LOSS, Verdict

_FATAL_WORDS = {
    "mixed-corrections": "its readings are corrected to different standards and can't be compared as they stand",
    "different-engine": "its readings are from different engines",
    "no-numbers": "its readings are not printed",
}
_NEEDED = {
    "no-numbers": "the readings themselves",
    "mixed-corrections": "all readings to one standard",
    "different-engine": "both sides on one engine",
    "confounded": "a test that changes one thing at a time",
}


def paragraphs(tests: Sequence[Test], pooled: Sequence[Pooled]) -> tuple[str, ...]:
    """One paragraph a test, and one for each change that several tests are about."""
    return (*map(_test_paragraph, tests), *map(_pooled_paragraph, pooled))


def _test_paragraph(test: Test) -> str:
    """What the test reports, what can be said of it and what can't, what stands in the way, what would settle it."""
    return " ".join([_opening(test), *_conclusions(test), *_caveats(test), *_remedy(test)])


def _opening(test: Test) -> str:
    noise = test.noise
    title = f'The test "{test.title}" makes {number_word(len(test.claims))} claim{"s" * (len(test.claims) != 1)}'
    if noise.pull_sd is None:
        return (
            f"{title} and does not state how far its pulls scatter; it is read at the usual scatters (standard"
            " deviation 0.25, 0.5 and 1 % of the reading, re-fitting 0.6 times that)."
        )
    scatter = [f"{_sd(noise.pull_sd, noise.pull_df, test)} from pull to pull"]
    if noise.install_sd is not None:
        scatter.append(f"{_sd(noise.install_sd, noise.install_df, test)} from re-fitting parts")
    return f"{title}, read here with a scatter (standard deviation) of {listed(scatter)}."


def _sd(sd: float, df: float | None, test: Test) -> str:
    """A scatter and where it comes from."""
    known = "stated" if df else "assumed"
    if test.measured_there and sd == test.noise.pull_sd:
        known = "from the single pulls in print"
    elif test.noise_from_elsewhere:
        known = "measured elsewhere" if df else "assumed elsewhere"
    return f"{with_unit(f'{sd:.3g}', test.about.unit)} ({known})"


def _conclusions(test: Test) -> Iterator[str]:
    """What can be said of the claims, those of one kind together."""
    fit = [claim for claim in test.claims if not is_fatal(claim.faults)]
    of = {word: [claim for claim in fit if claim.headline == word] for word in h.HEADLINES}
    yield from _contradicts(of[h.CONTRADICTS])
    yield from _beyond_noise([*of[h.MORE], *of[h.MORE_AT_EVERY]], test)
    yield from _part_or_drift(of[h.PART_OR_DRIFT], test)
    yield from _too_small(of[h.NO_MATTER], test)
    yield from _depends(of[h.DEPENDS], test)
    yield from _within_noise([claim for claim in of[h.WITHIN] if claim.evidence is not None], test)
    for claim in test.claims:
        if is_fatal(claim.faults):
            yield from _no_verdict(claim, test)


def _with_interval(claim: Claim, test: Test) -> str:
    digits, unit = test.digits, test.about.unit
    assert claim.gain is not None and claim.evidence is not None
    size = signed(claim.gain, digits, unit)
    if abs(claim.evidence.bias) > 1e-9:
        size += f", once the picking of pulls is taken out {signed(claim.evidence.adjusted, digits, unit)}"
    return f"{claim.claim.name} ({size}; 95 % interval {span(*claim.evidence.interval(), digits, unit)})"


def _beyond_noise(claims: list[Claim], test: Test) -> Iterator[str]:
    if claims:
        them = listed([_with_interval(claim, test) for claim in claims])
        subject = "This is" if len(claims) == 1 else "These are"
        yield f"{subject} more than {'such' if test.noise.pull_sd else 'any usual'} scatter explains: {them}."


def _contradicts(claims: list[Claim]) -> Iterator[str]:
    if claims:
        names = listed([claim.claim.name for claim in claims])
        yield f"The figures of {names} contradict each other: torque, speed and power as printed don't go together."


def _part_or_drift(claims: list[Claim], test: Test) -> Iterator[str]:
    if claims:
        them = listed([_with_interval(claim, test) for claim in claims])
        yield (
            f"Pull-to-pull scatter alone does not explain this: {them}. Whether the part gave it or the engine drifted,"
            " the test can't tell, for it never went back to where it started."
        )


def _depends(claims: list[Claim], test: Test) -> Iterator[str]:
    """Claims whose verdict turns within the usual scatter, and where."""
    if not claims:
        return
    them = listed([_with_interval(claim, test) for claim in claims])
    yield f"Whether this is more than noise depends on a scatter that nobody states: {them}."
    yield from _unknown_noise(claims, test)


def _too_small(claims: list[Claim], test: Test) -> Iterator[str]:
    for claim in claims:
        worth = with_unit(f"{claim.claim.smallest_gain or 0:g}", test.about.unit)
        yield f"This makes no difference of {worth} or more, the size that would matter: {_with_interval(claim, test)}."


def _within_noise(claims: list[Claim], test: Test) -> Iterator[str]:
    if not claims:
        return
    them = listed([_with_interval(claim, test) for claim in claims])
    chances = listed([of_hundred(claim.evidence.p_noise) for claim in claims if claim.evidence])
    this = "This" if len(claims) == 1 else "These"
    respectively = ", in this order" if len(claims) > 1 else ""
    yield (
        f"{this} can't be told from noise: {them}. An engine on which nothing was changed would show as much, up or"
        f" down, in {chances} such tests{respectively}. That does not say that the part does nothing, only that this"
        " test can't show it."
    )


def _unknown_noise(claims: list[Claim], test: Test) -> Iterator[str]:
    """At which repeatability the claims would stand."""
    digits, unit = test.digits, test.about.unit
    needs = [
        f"within {two_figures(c.standing_pull_sd, unit)} for {c.claim.name} ({signed(c.gain, digits, unit)})"
        for c in claims
        if c.gain is not None and c.standing_pull_sd
    ]
    if needs:
        this = "This stands" if len(needs) == 1 else "These stand"
        yield (
            f"{this} only if pulls of this engine repeat (standard deviation) {listed(needs)}, even where re-fitting"
            " adds nothing; the print does not tell whether they do."
        )


def _no_verdict(claim: Claim, test: Test) -> Iterator[str]:
    """Why nothing can be concluded, one reason after the other."""
    codes = {fault.code for fault in claim.faults}
    reasons = [words for code, words in _FATAL_WORDS.items() if code in codes]
    if claim.confounded_with:
        others, about = listed(claim.confounded_with), listed(claim.claim.about)
        reasons.append(f"{others} changed together with {about}, and nothing in the test can divide them")
    yield f"No verdict on {claim.claim.name}: {'; '.join(reasons)}."
    if claim.verdict_of_the_package in (REAL_GAIN, REAL_LOSS) and claim.evidence is not None:
        interval = span(*claim.evidence.interval(), test.digits, test.about.unit)
        yield f"What all that was changed with it gave together ({interval}): {package(claim)}."


def _caveats(test: Test) -> Iterator[str]:
    """The weak points that a reader should know, once for the test."""
    codes = {fault.code for claim in test.claims for fault in claim.faults}
    bias = max((abs(claim.evidence.bias) for claim in test.claims if claim.evidence), default=0.0)
    if "unequal-selection" in codes and bias > 0:
        yield f"Picking the pulls unequally is by itself worth about {two_figures(bias, test.about.unit)}."
    if "no-return" in codes:
        which = "No" if all("no-return" in _codes(claim) for claim in test.claims) else "Not every"
        yield f"{which} claim is checked by a return to the start, so a drift of the engine can have helped or hurt it."
    if codes & {"difference-wrong", "sum-wrong", "percent-wrong"}:
        yield "Some printed figures do not add up; where they differ, the readings are used here."
    if codes & {"unit-suspect", "torque-power-mismatch", "bmep-implausible", "per-litre-wrong"}:
        yield "Some figures do not go together; one of them may be in another unit than the one printed."


def _codes(claim: Claim) -> set[str]:
    return {fault.code for fault in claim.faults}


def _remedy(test: Test) -> Iterator[str]:
    """What would settle what is open."""
    left = [claim for claim in test.claims if claim.verdict == NOT_SETTLED]
    if any(not is_fatal(claim.faults) for claim in left):
        rest = "it" if len(left) == len(test.claims) else "the rest"
        yield f"Several pulls on each side, with returns to the start and nothing else changed, would settle {rest}."
        return
    codes = {code for claim in left for code in _codes(claim)}
    needed = [words for code, words in _NEEDED.items() if code in codes]
    if needed:
        yield f"Needed to judge: {listed(needed)}."


def _pooled_paragraph(change: Pooled) -> str:
    """What several tests say of one change."""
    pooled = change.pooled
    start = f"{capital(number_word(len(change.rows)))} tests are about {listed(change.about)}."
    if pooled is None:
        return f"{start} {change.notes[0].text}"
    found: dict[Verdict, str] = {REAL_GAIN: "together they show a gain", REAL_LOSS: "together they show a loss"}
    words = found.get(change.verdict or NOT_SETTLED, "together they settle nothing")
    size = f"{signed(pooled.estimate, 2, '%')}, 95 % interval {span(pooled.low, pooled.high, 2, '%')}"
    some = "" if pooled.tests == len(change.rows) else f" over the {number_word(pooled.tests)} that can be"
    ahead = f"{signed(pooled.prediction_low, 2, '%')} and {signed(pooled.prediction_high, 2, '%')}"
    return (
        f"{start} Pooled{some}, {words}: {size}. The true gain in a further test like"
        f" these is expected between {ahead}. {_INDEPENDENCE}"
    )


_INDEPENDENCE = "That takes the tests as independent of each other, which the print can't show."
