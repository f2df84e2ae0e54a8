"""The same screen on a terminal that shows colours: only here rich is loaded."""

from __future__ import annotations

import io

from doe.words.screen import Grid, Screen, Tone, column_widths, filled
from doe.words.visible import visible

_STYLES: dict[Tone, str] = {"good": "bold green", "bad": "bold red", "open": "yellow", "plain": ""}


def first_bold(text: str) -> str:
    """A plain text with its first line as a screen has its first sentence; without rich, which a tester waits for."""
    first, line, rest = visible(text).partition("\n")
    return f"\x1b[1m{first}\x1b[0m{line}{rest}"


def coloured(screen: Screen, width: int, more: str = "") -> str:
    """Lay a screen out for a terminal.

    Parameters
    ----------
    screen : Screen
    width : int
        Columns of the terminal.
    more : str
        Ends it, as in `Screen.plain`.

    Returns
    -------
    str
        With the terminal's own signs for colour around words that are visible already: nothing else in it acts unseen.
    """
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(
        file=io.StringIO(), force_terminal=True, color_system="standard", width=width, highlight=False, emoji=False,
        legacy_windows=False,
    )  # fmt: skip

    def words(text: str, style: str = "") -> Text:
        return Text(visible(text), style=style)

    def table(part: Grid) -> Table:
        laid = Table(box=None, padding=(0, 0, 0, 2), header_style="bold")
        for number, (head, size) in enumerate(zip(part.head, column_widths(part, width), strict=True)):
            laid.add_column(
                words(head), justify="right" if number in part.right else "left", width=size, overflow="fold"
            )
        for row in part.rows:
            laid.add_row(*(words(cell.text, _STYLES[cell.tone]) for cell in row))
        return laid

    parts, below = screen.laid_out(width, more)
    console.print(words(filled(screen.first, width), "bold"))
    for part in parts:
        console.print()
        console.print(table(part) if isinstance(part, Grid) else words(filled(part, width)))
    if below:
        console.print(words(below, "dim"))
    written: str = console.file.getvalue()  # type: ignore[attr-defined]
    return written.rstrip("\n")
