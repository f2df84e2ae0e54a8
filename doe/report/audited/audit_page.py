"""The page of an audit: one self-contained file for an editor or a reader, on a phone or on paper."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
from markupsafe import Markup

import doe
from doe.claims.evidence.interval import sensitivity
from doe.claims.evidence.noise_map import NoiseMap, noise_map
from doe.claims.evidence.scatter import usual_line
from doe.claims.result import Audit, AuditedClaim, AuditedTest, PooledChange
from doe.day.storage import write_atomically
from doe.errors import InputError
from doe.report.audited.audit_figures import forest_figure, scatter_figure
from doe.report.inline_svg import inline_svg
from doe.report.rendering import render
from doe.report.style import INK, VERDICT_LOOKS, house_style
from doe.words.claims.audit_words import about_test, claim_lines, noise_words
from doe.words.faults import Fault, by_weight
from doe.words.notes import texts
from doe.words.numbers import signed_in_print as signed
from doe.words.phrases import capital, listed

_FINE = 121


def write_audit_page(audit: Audit, path: Path) -> None:
    """Write the page of an audit.

    Raises
    ------
    InputError
        The place is a folder, a claims file, or in no folder at all.
    """
    if path.is_dir() or path.suffix == ".toml" or not path.parent.is_dir():
        raise InputError(
            f"{path}: the page can't be written there; name a file such as audit.html in a folder that exists"
        )
    write_atomically(path, audit_page(audit))


def audit_page(audit: Audit) -> str:
    """Return the page as HTML; same claims files, same page."""
    names = [test.name for test in audit.tests]
    return render(
        "audit.html.j2",
        title=audit.tests[0].title if len(audit.tests) == 1 else f"{len(audit.tests)} published tests",
        paragraphs=audit.paragraphs,
        tests=[_test(test, place) for place, test in enumerate(audit.tests)],
        pooled=[_pooled(change, place) for place, change in enumerate(audit.pooled)],
        files=listed(names),
        version=doe.__version__,
        ink=INK,
    )


def _test(test: AuditedTest, place: int) -> dict[str, Any]:
    return {
        "title": test.title,
        "about": about_test(test),
        "noise": noise_words(test),
        "claims": [_claim(test, claim, f"t{place}c{number}") for number, claim in enumerate(test.claims)],
        "faults": list(_faults(test)),
        "ask": test.ask,
    }


def _claim(test: AuditedTest, claim: AuditedClaim, name: str) -> dict[str, Any]:
    digits, unit = test.digits, test.file.test.unit
    interval = ""
    if claim.evidence is not None:
        low, high = claim.evidence.interval()
        interval = f"({signed(low, digits)} to {signed(high, digits)})"
    fatal = [fault.what for fault in claim.faults if fault.severity == "fatal"]
    return {
        "name": claim.claim.name,
        "headline": claim.headline,
        "verdict": claim.verdict,
        "colour": VERDICT_LOOKS[claim.standing][0],
        "gain": "no readings" if claim.gain is None else signed(claim.gain, digits, unit),
        "interval": interval,
        "remark": "; ".join(capital(what) for what in fatal),
        "lines": [capital(line) for line in claim_lines(claim, test)],
        "svg": _scatter_svg(test, claim, name),
    }


def _scatter_svg(test: AuditedTest, claim: AuditedClaim, name: str) -> Markup | None:
    """The verdict at other scatter; None where no scatter would help."""
    grid = _fine_map(test, claim)
    if grid is None:
        return None
    with house_style():
        figure = scatter_figure(grid, test.noise, test.file.test.unit, _usual(claim))
        return Markup(inline_svg(figure, name, f"The verdict on {claim.claim.name} at other scatter."))


def _fine_map(test: AuditedTest, claim: AuditedClaim) -> NoiseMap | None:
    """The verdicts of the claim's table on a grid fine enough for a picture that also holds the scatter used."""
    table, noise = claim.noise_map, test.noise
    if table is None or claim.gain is None:
        return None
    usual = _usual(claim)[-1] if claim.base else (0.0, 0.0)
    widest = max(table.pull_sds[-1], 1.1 * (noise.pull_sd or 0.0), 1.1 * usual[0])
    others = (0.0,)
    if len(table.other_sds) > 1:
        highest = max(table.other_sds[-1], 1.1 * (noise.install_sd or 0.0), 1.1 * usual[1])
        others = tuple(np.linspace(0.0, highest, _FINE).tolist())
    return noise_map(
        claim.gain,
        sensitivity(test.file, claim.claim),
        claim.claim.smallest_gain,
        np.linspace(widest / _FINE / 10, widest, _FINE).tolist(),
        others,
        claim.noise,
    )


def _usual(claim: AuditedClaim) -> list[tuple[float, float]]:
    """The usual scatters, on the axes of the claim's picture."""
    over_days = claim.noise_map is not None and claim.noise_map.over_days
    return [] if not claim.base else usual_line(claim.base, over_days=over_days)


def _faults(test: AuditedTest) -> Iterator[dict[str, str]]:
    """Each kind of weak point once, with every place where it was found."""
    found = by_weight([fault for claim in test.claims for fault in claim.faults])
    for code, faults in _by_code(found).items():
        places = {what: [f.where for f in same] for what, same in groupby(faults, key=lambda fault: fault.what)}
        where = "; ".join(f"{listed(places[what])}: {what}" for what in places)
        yield {"code": code, "severity": faults[0].severity, "found": where, "why": faults[0].why}


def _by_code(faults: tuple[Fault, ...]) -> dict[str, list[Fault]]:
    codes: dict[str, list[Fault]] = {}
    for fault in sorted(faults, key=lambda fault: fault.what):
        codes.setdefault(fault.code, []).append(fault)
    order = list(dict.fromkeys(fault.code for fault in faults))
    return {code: codes[code] for code in order}


def _pooled(change: PooledChange, place: int) -> dict[str, Any]:
    with house_style():
        svg = inline_svg(forest_figure(change), f"p{place}f", f"Tests of {listed(change.about)} beside each other.")
    return {"count": len(change.rows), "about": listed(change.about), "svg": Markup(svg), "lines": texts(change.notes)}
