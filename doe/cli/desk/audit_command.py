"""``doe audit``: published claims, read soberly."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from doe.cli.figures import FiguresOption, draw
from doe.cli.options import DetailsFlag, JsonFlag, emit
from doe.cli.patience import working
from doe.errors import InputError


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("audit")(audit)


def audit(
    files: Annotated[list[Path], typer.Argument(metavar="FILE", help="Claims files, one a published test.")],
    new: Annotated[bool, typer.Option("--new", help="Write a new claims file, to type the test into.")] = False,
    noise: Annotated[
        Path | None,
        typer.Option(metavar="DAYFOLDER", help="The scatter that the test does not state, from your own day."),
    ] = None,
    protocol: Annotated[
        bool, typer.Option("--protocol", help="What an honest test of each claim would have taken.")
    ] = False,
    html: Annotated[Path | None, typer.Option(metavar="PAGE", help="Write a page to send or to print as well.")] = None,
    figures: FiguresOption = None,
    details: DetailsFlag = False,
    as_json: JsonFlag = False,
) -> None:
    """What a published claim is worth: noise, faults, what it would have taken; several tests of one change together.

    Example: doe audit --new oil-test.toml

    Example: doe audit oil-test.toml --html oil-test.html

    Example: doe audit one.toml two.toml three.toml
    """
    if new or protocol:
        _alone("--new" if new else "--protocol", files, page=html or figures, other=protocol if new else False)
        if details:
            raise InputError(f"{'--new' if new else '--protocol'} can't be combined with --details")
    if new:
        _start(files[0], noise, as_json)
    elif protocol:
        _protocol(files[0], noise, as_json)
    else:
        _audit(files, noise, html, figures, as_json, details=details)


def _alone(option: str, files: list[Path], *, page: Path | None, other: bool) -> None:
    """Refuse what would be ignored in silence."""
    if len(files) > 1:
        raise InputError(f"{option} takes one FILE, {len(files)} are named")
    if page is not None or other:
        raise InputError(f"{option} can't be combined with {'--protocol' if other else '--html or --figures'}")


def _start(file: Path, noise: Path | None, as_json: bool) -> None:
    from doe.claims.reading.template import start_claims

    if noise is not None:
        raise InputError("--new can't be combined with --noise; give --noise when the file is audited")
    emit(start_claims(file), as_json=as_json)


def _protocol(file: Path, noise: Path | None, as_json: bool) -> None:
    from doe.claims.protocol import protocol_of

    found = protocol_of(file, noise_from=noise, progress=lambda line: typer.echo(line, err=True))
    emit(found, as_json=as_json)


def _audit(
    files: list[Path], noise: Path | None, html: Path | None, figures: Path | None, as_json: bool, *, details: bool
) -> None:
    working("auditing")
    from doe.claims.auditing import audit as audit_files

    found = audit_files(files, noise_from=noise)
    if html is not None:
        from doe.report.audited.audit_page import write_audit_page

        write_audit_page(found, html)
        typer.echo(f"wrote {html}: open it in any browser; it is one file and needs no network", err=True)
    draw(found, figures, found.tests[0].title if len(found.tests) == 1 else f"{len(found.tests)} tests")
    emit(found, as_json=as_json, details=details)
