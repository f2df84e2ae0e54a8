"""An audit in ten seconds: which claims to go by, what each is worth, and the weak points that change that."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from doe.words.claims.audit_words import tests_together
from doe.words.claims.audited import Claim, Pooled, Test
from doe.words.claims.headlines import MORE, MORE_AT_EVERY, NO_MATTER, Headline
from doe.words.faults import Fault, is_fatal
from doe.words.notes import weight
from doe.words.numbers import of_hundred, several, signed, span
from doe.words.phrases import listed_first, sentence
from doe.words.screen import Cell, Part, Screen, Tone, grid

_NAMED = 4  # claims of a kind that the sentence names; all of them stand in the table
_POINTS = 4  # kinds of weak points that are shown
WITHIN_NOISE = "within-noise"  # the headline says it already
_STANDS = (MORE, MORE_AT_EVERY)


def audit_screen(tests: Sequence[Test], pooled: Sequence[Pooled]) -> Screen:
    """What an audit says first.

    Parameters
    ----------
    tests : sequence of Test
    pooled : sequence of Pooled

    Returns
    -------
    Screen
        Its first sentence names every claim under its headline.
    """
    claims = [(test, claim) for test in tests for claim in test.claims]
    many = len(tests) > 1
    parts: list[Part] = [
        grid(
            ("claim", "gain", "95 % interval", "as much by chance", "what it is"),
            [_row(test, claim, many=many) for test, claim in claims],
            right=(1,),
        )
    ]
    lines = [*(line for change in pooled for line in tests_together(change)), *_points(claims)]
    if lines:
        parts.append("\n".join(lines))
    return Screen(_what_to_go_by(claims, many=many), tuple(parts))


def _name(test: Test, claim: Claim, *, many: bool) -> str:
    return f"{claim.claim.name} ({test.name})" if many else claim.claim.name


def _what_to_go_by(claims: Sequence[tuple[Test, Claim]], *, many: bool) -> str:
    """Every claim by its headline: those that stand, those of no matter, and the others."""
    groups: dict[Headline, list[str]] = {}
    for test, claim in claims:
        groups.setdefault(claim.headline, []).append(_name(test, claim, many=many))
    clauses = [f"go by {listed_first(names, _NAMED)}: {head}" for head, names in groups.items() if head in _STANDS]
    clauses += [f"{head}: {listed_first(names, _NAMED)}" for head, names in groups.items() if head == NO_MATTER]
    clauses += [
        f"don't go by {listed_first(names, _NAMED)}: {head}"
        for head, names in groups.items()
        if head not in _STANDS and head != NO_MATTER
    ]
    return sentence("; ".join(clauses) or "nothing is claimed")


def _row(test: Test, claim: Claim, *, many: bool) -> tuple[str | Cell, ...]:
    tone: Tone = "good" if claim.headline in _STANDS else "plain" if claim.headline == NO_MATTER else "open"
    name, head = _name(test, claim, many=many), Cell(claim.headline, tone)
    if claim.gain is None:
        return name, "-", "-", "-", head
    gain, found = signed(claim.gain, test.digits, test.about.unit), claim.evidence
    if found is None or is_fatal(claim.faults):
        return name, gain, "-", "-", head
    bounds = span(*found.interval(), test.digits)
    return name, gain, bounds, of_hundred(found.p_noise), head


def _points(claims: Iterable[tuple[Test, Claim]]) -> list[str]:
    """The weak points that can change an answer, the gravest first; each kind once, with the first place found."""
    kinds: dict[str, list[Fault]] = {}
    faults = dict.fromkeys(fault for _, claim in claims for fault in claim.faults if fault.severity != "minor")
    for fault in sorted(faults, key=weight):
        if fault.code != WITHIN_NOISE:
            kinds.setdefault(fault.code, []).append(fault)
    codes = list(kinds)
    lines = [_point(kinds[code]) for code in codes[:_POINTS]]
    return [*lines, *([f"And {', '.join(codes[_POINTS:])}."] if codes[_POINTS:] else [])]


def _point(faults: Sequence[Fault]) -> str:
    first, more = faults[0], len(faults) - 1
    also = f" (and at {several(more, 'more place')})" if more else ""
    return f"{first.severity.capitalize()}: {first.where}: {first.what}{also}."
