"""Colours and patterns of every picture.

Colours are those of M. Okabe and K. Ito, "Color Universal Design" (2002, revised 2008), told apart with any common
form of colour blindness; from memory. Where two neighbours must also be told apart in black and white, a pattern helps.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lifetime.results.view import SourceKind

BLACK: Final = "#000000"
ORANGE: Final = "#E69F00"
SKY_BLUE: Final = "#56B4E9"
GREEN: Final = "#009E73"
YELLOW: Final = "#F0E442"
BLUE: Final = "#0072B2"
VERMILION: Final = "#D55E00"
PURPLE: Final = "#CC79A7"
GREY: Final = "#6B6B6B"
LIGHT_GREY: Final = "#D9D9D9"

BATTERY: Final = BLUE
ULTRACAPACITOR: Final = ORANGE
SOURCES: Final[Mapping[SourceKind, str]] = {"battery": BATTERY, "ultracapacitor": ULTRACAPACITOR}
CALENDAR: Final = SKY_BLUE
CYCLIC: Final = VERMILION

SERIES: Final = (BLUE, VERMILION, GREEN, ORANGE, PURPLE, SKY_BLUE, BLACK, GREY)
"""For several strategies in one picture, in this order; further ones start again with another dash."""

MAP_COLOURS: Final = "cividis"
"""A scale of even steps for any eye; both drawing libraries know it by this name. Dark means much."""


@dataclass(frozen=True, slots=True)
class Fill:
    """How a cost item is filled.

    Args:
        colour: Its colour.
        hatch: Pattern over it, in the letters both drawing libraries share; empty for none.
    """

    colour: str
    hatch: str = ""


ITEM_FILLS: Final = {
    "battery purchase": Fill(BLUE),
    "battery replacement": Fill(SKY_BLUE),
    "battery labour": Fill(SKY_BLUE, "x"),
    "battery residual": Fill(BLUE, "/"),
    "ultracapacitor purchase": Fill(ORANGE),
    "ultracapacitor replacement": Fill(YELLOW),
    "ultracapacitor labour": Fill(YELLOW, "x"),
    "ultracapacitor residual": Fill(ORANGE, "/"),
    "battery downtime": Fill(SKY_BLUE, "."),
    "battery second life": Fill(BLUE, "\\"),
    "ultracapacitor downtime": Fill(YELLOW, "."),
    "ultracapacitor second life": Fill(ORANGE, "\\"),
    "energy bought": Fill(GREEN),
    "energy losses": Fill(GREEN, "-"),
}
