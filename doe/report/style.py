"""Our look, for the moment of drawing only: colour-blind safe colours, and shapes that say the same in greyscale."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import matplotlib as mpl
import seaborn as sns

from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS

BLUE, ORANGE, GREEN, RED, PURPLE, BROWN, PINK, GREY, YELLOW, SKY = sns.color_palette("colorblind").as_hex()
INK = "#222222"
NOT_COUNTED = "#767676"
SHADE = "#e2e2e2"
CHANGE_COLOURS = (ORANGE, BLUE, GREEN, PURPLE, RED, SKY, BROWN, PINK, YELLOW, GREY)

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
    style = {
        **sns.axes_style("ticks"),
        "font.size": 10,
        "axes.edgecolor": "#777777",
        "legend.frameon": False,
        "svg.hashsalt": "doe",  # same day, same file
        # A name is text, whatever is in it: a dollar is a dollar, in every figure.
        "text.parse_math": False,
        "text.usetex": False,
        "axes.formatter.use_mathtext": False,
    }
    with mpl.rc_context(style):
        yield
