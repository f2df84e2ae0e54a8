"""Our look, for the moment of drawing only: colour-blind safe colours, and shapes that say the same in greyscale."""

from __future__ import annotations

import textwrap
import unicodedata
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import accumulate
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS

# seaborn's palette "colorblind", and below what of its style "ticks" shows: to load it takes longer than to draw a day.
BLUE, ORANGE, GREEN, RED, PURPLE, BROWN, PINK, GREY, YELLOW, SKY = (
    "#0173b2", "#de8f05", "#029e73", "#d55e00", "#cc78bc", "#ca9161", "#fbafe4", "#949494", "#ece133", "#56b4e9"
)  # fmt: skip
INK = "#222222"
NOT_COUNTED = "#767676"
SHADE = "#e2e2e2"
CHANGE_COLOURS = (ORANGE, BLUE, GREEN, PURPLE, RED, SKY, BROWN, PINK, YELLOW, GREY)

# A picture for a phone is drawn narrow, one for a desk or paper wide: each is shown at about the size it is drawn in,
# so that its letters are as large as those beside it.
PHONE, DESK = 4.3, 7.2  #: width [inch]
SMALL, TEXT = 10.5, 11.0  #: letters [point]; on a screen of 360 px the small ones are 11 px high
_LETTERS = 0.62  # width of a letter beside its height, DejaVu Sans

# Red and green darker than the palette's, so that words in them can be read on white (contrast above 4.5 to 1).
#: verdict -> colour and marker; the page takes its colours from here too
VERDICT_LOOKS: Mapping[str, tuple[str, str]] = {
    REAL_GAIN: (BLUE, ">"),
    REAL_LOSS: ("#b84c00", "<"),
    NO_DIFFERENCE: ("#007a58", "s"),
    NOT_SETTLED: (NOT_COUNTED, "o"),
}


@contextmanager
def house_style() -> Iterator[None]:
    """Draw and save inside this: the reader's own settings stay as they are."""
    style: dict[Any, Any] = {
        "font.size": TEXT,
        "font.family": "sans-serif",
        "font.sans-serif": ["DejaVu Sans"],  # comes with matplotlib: the same letters on every machine
        "axes.edgecolor": "#777777",
        "axes.labelcolor": INK,
        "axes.axisbelow": True,
        "xtick.color": INK,
        "ytick.color": INK,
        "xtick.labelsize": SMALL,
        "ytick.labelsize": SMALL,
        "text.color": INK,
        "legend.frameon": False,
        "svg.hashsalt": "doe",  # same day, same file
        # A name is text, whatever is in it: a dollar is a dollar, in every figure.
        "text.parse_math": False,
        "text.usetex": False,
        "axes.formatter.use_mathtext": False,
    }
    with mpl.rc_context(style):
        yield


def despine(ax: Axes, *, left: bool = False) -> None:
    """Take away the lines above and on the right, and with `left` that on the left."""
    for side in ("top", "right", *(["left"] * left)):
        ax.spines[side].set_visible(False)


def letters_in(inches: float) -> int:
    """How many small letters fit side by side."""
    return int(inches * 72 / (SMALL * _LETTERS))


def shortened(text: str, letters: int) -> str:
    """A text that is no longer than so many letters, cut with an ellipsis; a wide letter counts as two."""
    widths = list(accumulate(2 if unicodedata.east_asian_width(letter) in "WF" else 1 for letter in text))
    if not widths or widths[-1] <= letters:
        return text
    return f"{text[: bisect_right(widths, letters - 1)].rstrip()}…"


def width_of(ax: Axes) -> float:
    """The width of the whole picture that an Axes stands in [in]."""
    return float(ax.figure.figure.get_figwidth())  # of a part of a figure: the figure


def write_title(figure: Figure, words: str) -> None:
    """Write above a picture, on two lines at most and no wider than it; what is too long ends in an ellipsis."""
    room = figure.bbox.width - figure.dpi / 10
    title = figure.suptitle(words, fontsize=TEXT)
    letters = len(words)
    while letters > 1 and (width := title.get_window_extent().width) > room:
        letters = min(letters - 1, int(letters * room / width))
        title.set_text("\n".join(textwrap.wrap(words, letters, max_lines=2, placeholder="…")))
