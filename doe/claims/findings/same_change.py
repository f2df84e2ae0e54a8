"""Which tests are about the same change, and what they say together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from doe.analysis.judging.verdict_rule import verdict
from doe.claims.evidence.pooling import FEWEST, pool
from doe.claims.result import AuditedClaim, AuditedTest, PooledChange, PooledRow
from doe.day.names import name_key
from doe.words.claims import pooled_notes
from doe.words.faults import is_fatal
from doe.words.notes import Note
from doe.words.phrases import listed


def same_changes(tests: Sequence[AuditedTest]) -> tuple[PooledChange, ...]:
    """Return every change that two tests or more are about, the most tested first."""
    groups: dict[frozenset[str], list[tuple[AuditedTest, AuditedClaim]]] = {}
    for test in tests:
        for about, claim in _first_claims(test):
            groups.setdefault(about, []).append((test, claim))
    shared = [group for group in groups.values() if len(group) > 1]
    return tuple(_together(group) for group in sorted(shared, key=len, reverse=True))


def _first_claims(test: AuditedTest) -> Iterator[tuple[frozenset[str], AuditedClaim]]:
    """Per change the first claim: a test's claims share its readings, so it counts once."""
    seen: set[frozenset[str]] = set()
    for claim in test.claims:
        about = frozenset(map(name_key, claim.claim.about))
        if about not in seen:
            seen.add(about)
            yield about, claim


def _together(group: Sequence[tuple[AuditedTest, AuditedClaim]]) -> PooledChange:
    rows = tuple(_row(test, claim) for test, claim in group)
    usable = [row for row in rows if not row.note]
    pooled = None
    if len(usable) >= FEWEST:
        pooled = pool([row.gain_percent or 0.0 for row in usable], [row.se_percent or 0.0 for row in usable])
    word = None if pooled is None else verdict(pooled.low, pooled.high, pooled.low, pooled.high)
    return PooledChange(group[0][1].claim.about, rows, pooled, word, tuple(_notes(group, len(usable))))


def _row(test: AuditedTest, claim: AuditedClaim) -> PooledRow:
    """One test in percent of its baseline; the baseline's own scatter is far below that of the gain."""
    found, base = claim.evidence, claim.base
    gain, se = claim.gain_percent, None
    if found is not None and base and test.noise.pull_sd is not None:
        gain, se = 100 * found.adjusted / base, 100 * found.se / base
    note = "" if se is not None else "its scatter or its readings are not known"
    if is_fatal(claim.faults):
        note = listed([fault.code for fault in claim.faults if fault.severity == "fatal"])
    return PooledRow(test.title, gain, se, note)


def _notes(group: Sequence[tuple[AuditedTest, AuditedClaim]], usable: int) -> Iterator[Note]:
    if usable < FEWEST:
        yield pooled_notes.not_pooled()
    yield pooled_notes.taken_as_independent()
    cells: dict[str, str] = {}
    for test, _ in group:
        cell = test.file.test.cell
        if cell and name_key(cell) in cells:
            yield pooled_notes.from_one_cell(cells[name_key(cell)], test.title, cell)
        cells.setdefault(name_key(cell), test.title)
    yield pooled_notes.printed_is_chosen()
